"""Wear and journal in a dossier: what was chosen, and nothing that was only noted."""

import io
from datetime import date, timedelta

import pytest
from page_words import plain
from PIL import Image

from beadworth.demo import PLA, STOCK
from beadworth.report.render.html import dossier_html
from beadworth.report.sections.order import SECTIONS
from beadworth.store import open_bench
from beadworth.store.photos import clean_photo
from beadworth.trial import TrialSpec, plan
from beadworth.workflow.journal import add_journal_page, show_journal_page, void_journal_page
from beadworth.workflow.report import report_data
from beadworth.workflow.wear import add_wear

RIG = STOCK.name
DAY = "2026-03-01"


@pytest.fixture(scope="module")
def published(tmp_path_factory):
    """The dossier of a trial whose rig has a log and a journal, and the bench's photo."""
    with open_bench(tmp_path_factory.mktemp("b") / "b.bench") as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        spec = TrialSpec(
            question="How far?", baseline=RIG, material=PLA.name, temperatures_c=(210.0,),
            flows_mm3_s=(8.0, 10.0, 12.0), replicates=2, references_per_block=2,
            filament_mm=600.0, collect="catch",
        )  # fmt: skip
        trial = bench.create_trial(spec, plan(spec, {RIG: STOCK}, PLA)).id
        for n in range(8):
            day = str(date.fromisoformat(DAY) + timedelta(days=7 * n))
            add_wear(bench, RIG, {"on": day, "kind": "hours", "hours_h": 40.0,
                                  "note": "at my sister's"})  # fmt: skip
            add_wear(bench, RIG, {"on": day, "kind": "check", "what": "belt tension", "place": "y",
                                  "value": 30.0 + 0.2 * (n % 3), "unit": "N"})  # fmt: skip
        add_wear(bench, RIG, {"on": DAY, "kind": "adjustment", "what": "y belt"})
        out = io.BytesIO()
        Image.new("RGB", (50, 40), "red").save(out, "JPEG")
        photo = [("a.jpg", out.getvalue(), "the bracket beside the fan")]
        page = {"on": DAY, "stage": "fit", "title": "It touched the fan", "problem": "2 mm",
                "solved": "filed", "lost_h": 1.5, "shown": True}  # fmt: skip
        add_journal_page(bench, RIG, page, photo)
        add_journal_page(
            bench, RIG, {**page, "title": "My kitchen, not for others", "shown": False}
        )
        gone = add_journal_page(bench, RIG, {**page, "title": "Withdrawn"})
        void_journal_page(bench, RIG, gone.id, "another rig")
        hidden = add_journal_page(bench, trial, {**page, "title": "Hidden again", "stage": "trial"})
        show_journal_page(bench, trial, hidden.id, False)
        return dossier_html(report_data(bench, trial)), clean_photo(photo[0][1], "x").data


def test_only_pages_chosen_to_be_shown_are_published(published):
    text = plain(published[0])
    assert "It touched the fan" in text
    assert "2 mm" in text
    assert "filed It cost 1.5 h." in text
    for absent in ("My kitchen", "Withdrawn", "Hidden again", "another rig"):
        assert absent not in text


def test_the_photo_stands_in_the_page_with_its_words(published):
    from base64 import b64encode

    html, kept = published
    assert b64encode(kept).decode() in html
    assert 'alt="the bracket beside the fan"' in html


def test_the_log_is_told_with_its_bound_and_without_private_notes(published):
    text = plain(published[0])
    assert "No failure in 320 h" in text
    assert "does not say that it cannot fail" in text
    assert "y belt" in text
    assert "e-Handbook" in text
    assert "my sister" not in text


def test_figures_of_two_rigs_are_told_apart():
    from types import SimpleNamespace

    from beadworth.report.blocks import Figure
    from beadworth.report.sections.wear import SECTION
    from beadworth.wear.entry import WearEntry
    from beadworth.wear.summary import wear_summary

    log = [WearEntry(on=date(2026, 3, n), kind="hours", hours_h=5.0) for n in (1, 2)]
    found = wear_summary(log, date(2026, 4, 1))
    data = SimpleNamespace(section_data={"wear": {"Tern, old": found, "Tern, new": found}})
    figures = [block for block in SECTION.blocks(data) if isinstance(block, Figure)]
    names = [figure.chart.name for figure in figures]
    assert names == ["wear-hours-tern-old", "wear-hours-tern-new"]


def test_a_trial_without_log_or_journal_has_neither_section(tmp_path):
    keys = {section.key for section in SECTIONS}
    assert {"wear", "journal"} <= keys
    with open_bench(tmp_path / "d.bench") as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        spec = TrialSpec(
            question="How far?", baseline=RIG, material=PLA.name, temperatures_c=(210.0,),
            flows_mm3_s=(8.0, 10.0), replicates=1, references_per_block=2, filament_mm=600.0,
            collect="catch",
        )  # fmt: skip
        trial = bench.create_trial(spec, plan(spec, {RIG: STOCK}, PLA)).id
        data = report_data(bench, trial)
    assert "wear" not in data.section_data
    assert "Over months" not in dossier_html(data)
