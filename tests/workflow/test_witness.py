"""Witness prints on a bench: stored whole, graded blind, opened once all is in, read, compared."""

import functools
import io
import json
import re
from dataclasses import replace

import pytest
from PIL import Image
from witness_rigs import MATERIAL, RIG

from beadworth.core import BeadworthError, ConflictError, InputError, NotFoundError
from beadworth.datapackage.contents import contents_of
from beadworth.report import dossier_html
from beadworth.report.sections.order import SECTIONS
from beadworth.store import open_bench, photo
from beadworth.trial import TrialSpec, plan
from beadworth.workflow import (
    add_look,
    comparable_witnesses,
    compare_witnesses,
    grading_forecast,
    journal_of_witness,
    open_codes,
    plan_witness,
    store_witness,
    stored_witness,
    stored_witnesses,
    witness_view,
)
from beadworth.workflow.report import report_data
from beadworth.workflow.witness_read import witness_answer

LOOP = {"kind": "melt or motion", "temperature_c": 215, "ceiling_mm3_s": 12.0}


@pytest.fixture
def bench(tmp_path):
    with open_bench(tmp_path / "own.bench") as opened:
        opened.save_rig(RIG)
        opened.save_material(MATERIAL)
        yield opened


def planned(**more):
    """A witness print, made once for all who ask for the same one."""
    return _planned(json.dumps(LOOP | more))


@functools.cache
def _planned(asked):
    return plan_witness(RIG, MATERIAL, json.loads(asked))


def stored(bench, graders=1, looks=2, **more):
    return store_witness(bench, planned(**more), RIG, MATERIAL, graders, looks)


def sheet(witness, grader="AB", look=1, melt=True):
    """What somebody sees at a loop whose melt falls short from 11 mm³/s on, or at a good one."""
    grades = {}
    for band in witness.bands:
        over = band.settings["flow_mm3_s"] - 11.0
        grade = min(4, max(0, 2 + int(over // 0.8))) if melt else 0
        grades |= {f"{band.code} front": grade, f"{band.code} folded": grade}
    return {"grader": grader, "look": look, "grades": grades}


def test_a_stored_witness_holds_all_that_was_printed(bench):
    made = planned()
    kept = store_witness(bench, made, RIG, MATERIAL)
    again = stored_witness(bench, kept.number)
    assert again.program == made.text
    assert [dict(b.settings) for b in again.bands] == [dict(b.settings) for b in made.bands]
    assert stored_witnesses(bench, "another") == []
    assert bench.check().sound


def test_nothing_of_the_settings_is_told_before_the_codes_are_open(bench):
    kept = stored(bench)
    view = witness_view(kept)
    assert (view.bands, view.answer, view.opened) == ((), None, None)
    assert view.missing == ("1 more grader",)
    assert "mm/s" not in kept.map_svg
    assert "mm³/s" not in kept.map_svg


def test_codes_open_once_every_planned_look_is_in(bench):
    kept = stored(bench, graders=2, looks=2)
    for grader, look in (("AB", 1), ("AB", 2), ("cd", 1)):
        add_look(bench, kept.number, sheet(kept, grader, look))
        with pytest.raises(ConflictError, match="stay closed"):
            open_codes(bench, kept.number)
    assert stored_witness(bench, kept.number).missing == ["cd: look 2"]
    add_look(bench, kept.number, sheet(kept, "CD", 2))
    opened = open_codes(bench, kept.number)
    assert opened.opened
    assert "mm³/s" in opened.map_svg
    answer = witness_answer(opened)
    assert answer.separation.cause == "melt"
    assert answer.sentences[0].startswith("The hot end: walls worsen with flow")
    assert [row.who for row in answer.agreement] == [
        "AB, look 1 and 2", "cd, look 1 and 2", "AB and cd"
    ], "initials in capitals or not are one person's"  # fmt: skip
    front = next(one for one in answer.ladders if one.name.startswith("front, bands that climb in"))
    assert front.quantity == "flow_mm3_s"
    assert front.threshold.low < 11.2 < front.threshold.high
    with pytest.raises(ConflictError, match="would not be blind"):
        add_look(bench, kept.number, sheet(kept, "EF"))


def test_a_look_entered_again_takes_the_first_ones_place(bench):
    kept = stored(bench, looks=1)
    add_look(bench, kept.number, sheet(kept, melt=False))
    add_look(bench, kept.number, sheet(kept))
    again = stored_witness(bench, kept.number)
    assert [one.state for one in again.sheets] == ["superseded", "current"]
    assert len(again.counted) == 1


def test_a_sheet_that_is_not_whole_is_refused_with_all_that_is_missing(bench):
    kept = stored(bench)
    half = sheet(kept)
    gone = [half["grades"].popitem()[0] for _ in range(3)]
    with pytest.raises(InputError) as refused:
        add_look(bench, kept.number, half)
    assert {p.what.split(" has ")[0] for p in refused.value.problems} == set(gone)
    for wrong in ({"grader": ""}, {"grades": {"K front": 9}}, {"look": 0}):
        with pytest.raises(BeadworthError):
            add_look(bench, kept.number, sheet(kept) | wrong)
    assert stored_witness(bench, kept.number).sheets == ()


def test_photos_are_stored_without_what_a_camera_adds(bench):
    kept = stored(bench, looks=1)
    picture = Image.new("RGB", (40, 30), "red")
    exif = Image.Exif()
    exif[0x010E] = "at home"
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    code = kept.bands[0].code
    made = add_look(bench, kept.number, sheet(kept), [(code, out.getvalue(), "front, matt")])
    (found,) = made.record.photos
    assert (found.code, found.alt) == (code, "front, matt")
    assert b"at home" not in photo(bench, found.sha256).data
    with pytest.raises(InputError, match="no band of this witness"):
        add_look(bench, kept.number, sheet(kept), [("Z", out.getvalue(), "")])


def test_a_weighed_pair_is_read_from_its_masses(bench):
    pair = planned(kind="weighed pair")
    kept = store_witness(bench, pair, RIG, MATERIAL)
    slow, fast = sorted(kept.walls, key=lambda code: kept.walls[code].flow_mm3_s)
    masses = {slow: kept.walls[slow].mass_g, fast: 0.95 * kept.walls[fast].mass_g}
    add_look(bench, kept.number, {"grader": "AB", "masses_g": masses})
    answer = witness_answer(open_codes(bench, kept.number))
    assert answer.pair.cause == "melt"
    assert answer.ladders == ()


def test_what_it_says_goes_into_the_journal(bench):
    kept = stored(bench, looks=1)
    with pytest.raises(ConflictError, match="has said nothing yet"):
        journal_of_witness(bench, kept)
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(out, "JPEG")
    code = kept.bands[0].code
    add_look(bench, kept.number, sheet(kept), [(code, out.getvalue(), "matt")])
    page = journal_of_witness(bench, open_codes(bench, kept.number)).record
    assert page.title == f"Witness {kept.number}, melt or motion: melt"
    assert page.stage == "print check"
    assert [photo.alt for photo in page.photos] == [f"Band {code}: matt"]
    assert not page.shown


def test_a_dossier_and_open_data_take_up_what_is_open_and_nothing_else(bench):
    spec = TrialSpec(
        question="How far?", baseline=RIG.name, material=MATERIAL.name, temperatures_c=(210.0,),
        flows_mm3_s=(8.0, 10.0, 12.0), replicates=2, references_per_block=2,
        filament_mm=600.0, collect="catch",
    )  # fmt: skip
    trial = bench.create_trial(spec, plan(spec, {RIG.name: RIG}, MATERIAL)).id
    closed, opened = stored(bench, looks=1, seed=4), stored(bench, looks=1, seed=5)
    for one in (closed, opened):
        add_look(bench, one.number, sheet(one))
    assert "witness" not in report_data(bench, trial).section_data
    open_codes(bench, opened.number)
    data = report_data(bench, trial)
    (found,) = data.section_data["witness"]
    assert (found.number, found.graders, found.sheets) == (opened.number, 1, 1)
    text = dossier_html(data, [one for one in SECTIONS if one.key == "witness"])
    assert "Witness prints" in text
    assert "The hot end: walls worsen with flow" in text
    assert len(contents_of(data).grades) == 32


def test_two_prints_are_compared_ladder_by_ladder(bench):
    numbers = []
    for melt in (True, False):
        kept = stored(bench, looks=1, seed=7)
        add_look(bench, kept.number, sheet(kept, melt=melt))
        numbers.append(open_codes(bench, kept.number))
    found = {one.name: one for one in compare_witnesses(*numbers)}
    front = found["front, bands that climb in flow"]
    assert front.difference.low > 0
    assert front.sentence.endswith("mm³/s; they differ.")
    span = replace(front.difference, value=1.0, low=-0.5, high=2.5)
    for change, words in (
        ({}, "flow −0.5 to +2.5 mm³/s; no difference shown"),
        ({"low": 0.5}, "flow +0.5 to +2.5 mm³/s; they differ"),
        ({"value": None, "low": None}, "flow at most +2.5 mm³/s; no difference shown"),
        ({"value": None, "low": None, "high": None}, "flow cannot tell"),
    ):
        one = replace(front, difference=replace(span, **change))
        assert one.sentence == f"Front, bands that climb in flow: {words}."
    closed = stored(bench)
    with pytest.raises(InputError, match="once the codes of both are open"):
        compare_witnesses(numbers[0], closed)


def test_a_forecast_is_of_one_ladder_of_the_print():
    """A loop of 16 bands holds two ladders of 8; 1 grader, then 3."""
    said = grading_forecast(planned())
    one, three = map(float, re.fullmatch(
        r"One grader, one look: a threshold within about (\S+) bands of 8; three graders: (\S+)\. "
        r"More graders narrow it, more bands hardly\.", said,
    ).groups())  # fmt: skip
    assert 1.3 * three < one < 8
    assert grading_forecast(planned(kind="weighed pair")) == ""


def test_only_open_prints_of_one_kind_with_ladders_are_comparable(bench):
    closed, first, second = (stored(bench, looks=1, seed=n) for n in (4, 5, 7))
    pair = stored(bench, looks=1, kind="weighed pair")
    for one in (first, second):
        add_look(bench, one.number, sheet(one))
        open_codes(bench, one.number)
    add_look(bench, pair.number, {"grader": "AB", "masses_g": {
        code: wall.mass_g for code, wall in pair.walls.items()
    }})  # fmt: skip
    opened = stored_witness(bench, first.number)
    assert [one.number for one in comparable_witnesses(bench, opened)] == [second.number]
    assert comparable_witnesses(bench, closed) == []
    assert comparable_witnesses(bench, open_codes(bench, pair.number)) == []


def test_what_is_not_there_is_said(bench):
    with pytest.raises(NotFoundError, match="there is no witness 99"):
        stored_witness(bench, 99)
    with pytest.raises(InputError, match="0 graders"):
        stored(bench, graders=0)
