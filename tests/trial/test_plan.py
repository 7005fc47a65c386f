"""Plans: the target met or said not to be, order, references, plates, power, hours, refusals."""

import dataclasses
import itertools
import json
import math
import re
from collections import Counter
from itertools import groupby

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import some

from beadworth.core import from_json, to_json
from beadworth.core.errors import LimitError, Place, RecordError
from beadworth.material import Material
from beadworth.rig import BuildVolume, Extruder, HotEnd, Rig
from beadworth.text import number
from beadworth.trial import (
    Balance,
    Coupon,
    Plan,
    Spool,
    TrialSpec,
    add_to_plan,
    plan,
    plan_digest,
)
from beadworth.trial.planning.forecast import ceiling_width, smallest_difference
from beadworth.trial.planning.order import on_plates, plates_of
from beadworth.trial.planning.sizing import best_size, ladder, lengths_that_can_be, sizes
from beadworth.trial.planning.timing import describe_time, hands_s, run_s
from beadworth.trial.programs.layout import cells_per_plate
from beadworth.trial.programs.program import coupon_programs

PLA = Material(name="PLA", density_g_cm3=1.24, min_temperature_c=190.0, max_temperature_c=260.0,
               bed_c=55.0)  # fmt: skip


def rig(name="Stilt", **more):
    given = {
        "name": name,
        "hot_end": HotEnd(temperature_limit_c=280.0, ptfe_in_melt_zone=False, melt_zone_mm=20.0,
                          bore_mm=2.0),
        "extruder": Extruder(max_feed_mm_s=40.0, max_acceleration_mm_s2=2000.0),
        "build_volume": BuildVolume(x_mm=220.0, y_mm=220.0, z_mm=240.0),
    }  # fmt: skip
    return Rig(**given | more)


RIGS = {"Stilt": rig(), "Stilt, long zone": rig("Stilt, long zone")}
GOOD = {"spool": Spool(diameter_u_mm=0.004),
        "balance": Balance(readability_g=0.001, repeatability_g=0.001)}  # fmt: skip


def spec(**more):
    given = {
        "question": "Does the long zone deliver more?",
        "baseline": "Stilt",
        "candidate": "Stilt, long zone",
        "material": "PLA",
        "temperatures_c": (210.0, 220.0),
        "flows_mm3_s": (6.0, 9.0, 12.0, 15.0, 18.0),
        **GOOD,
    }
    return TrialSpec(**given | more)


@st.composite
def specs(draw):
    flows = draw(st.lists(st.integers(3, 30), min_size=2, max_size=9, unique=True))
    temperatures = draw(st.lists(st.integers(19, 26), min_size=1, max_size=4, unique=True))
    return spec(
        candidate=draw(st.sampled_from([None, "Stilt, long zone"])),
        temperatures_c=tuple(10.0 * t for t in temperatures),
        flows_mm3_s=tuple(map(float, flows)),
        reference_flow_mm3_s=draw(st.none() | st.just(2.0)),
        replicates=draw(st.none() | st.integers(1, 4)),
        references_per_block=draw(st.none() | st.integers(1, 6)),
        filament_mm=draw(st.none() | st.sampled_from([300.0, 600.0, 1000.0])),
        loss=draw(st.sampled_from([0.01, 0.02, 0.1])),
        difference_mm3_s=draw(st.none() | st.sampled_from([0.3, 0.8, 3.0])),
        hours=draw(st.none() | st.sampled_from([0.5, 2.0, 8.0])),
        balance=Balance(readability_g=draw(st.sampled_from([0.001, 0.01, 0.1])),
                        linearity_g=draw(st.sampled_from([0.0, 0.01]))),
        spool=Spool(diameter_tolerance_mm=draw(st.floats(0.0, 0.05)),
                    diameter_u_mm=draw(st.none() | st.floats(0.002, 0.01))),
        collect=draw(st.sampled_from(["plate", "catch"])),
        seed=draw(st.integers(0, 1000)),
    )  # fmt: skip


# --- properties ------------------------------------------------------------------------------


def check_the_first_note_says_what_is_reached(given_spec, made):
    said, wanted, first = made.notes[0], given_spec.difference_mm3_s, made.outlook[0]
    assert f"These {first.coupons} coupons take" in said
    reached = [step for step in made.outlook if wanted and step.width_mm3_s <= wanted]
    if wanted and not reached:
        assert "not reached by any number of coupons looked at" in said
    if reached and not reached[0].planned:
        assert f"About {reached[0].coupons - first.coupons} next coupons" in said
    late = reached and given_spec.hours and reached[0].hours > given_spec.hours
    assert ("h at hand" in said) == bool(late or (not wanted and first.hours > hours(given_spec)))
    assert made.budget.combined_u == pytest.approx(
        math.sqrt(sum(row.contribution**2 for row in made.budget.lines))
    )


def hours(given_spec):
    return given_spec.hours or (4.0 if given_spec.candidate else 2.0)


def check_more_coupons_take_longer_and_tell_more(given_spec, made):
    assert [step.planned for step in made.outlook] == [True] + [False] * (len(made.outlook) - 1)
    assert made.outlook[0].coupons == len(made.coupons)
    for one, more in itertools.pairwise(made.outlook):
        assert more.coupons > one.coupons
        assert more.hours > one.hours
        assert more.width_mm3_s < one.width_mm3_s


def check_the_run_sheet_holds_every_coupon_once_and_references_in_every_block(given_spec, made):
    names = [given_spec.baseline] + ([given_spec.candidate] if given_spec.candidate else [])
    wanted = Counter(
        {(n, t, q): made.replicates for n in names for t in given_spec.temperatures_c
         for q in ladder(given_spec)}
    )  # fmt: skip
    tested = [c for c in made.coupons if not c.reference]
    assert Counter((c.rig, c.temperature_c, c.flow_mm3_s) for c in tested) == wanted
    assert [c.order for c in made.coupons] == list(range(1, len(made.coupons) + 1))
    assert len({c.coupon for c in made.coupons}) == len(made.coupons)
    low = given_spec.reference_flow_mm3_s or min(given_spec.flows_mm3_s)
    blocks = [list(group) for _, group in groupby(made.coupons, key=lambda c: c.block)]
    assert len(blocks) == len(names) * len(given_spec.temperatures_c)
    for block in blocks:
        assert len({(c.rig, c.temperature_c) for c in block}) == 1
        held = [i for i, c in enumerate(block) if c.reference]
        assert len(held) == made.references_per_block
        assert {block[i].flow_mm3_s for i in held} == {low}
        if len(held) > 1:
            assert (held[0], held[-1]) == (0, len(block) - 1)
            assert max(np.diff(held)) - min(np.diff(held)) <= 1
    keys = [(names.index(b[0].rig), b[0].temperature_c) for b in blocks]
    assert keys == sorted(keys)


def check_plates_hold_one_rig_and_no_more_than_fits(given_spec, made):
    plates = [c.plate for c in made.coupons]
    assert plates == sorted(plates)
    assert set(plates) == set(range(1, made.plates + 1))
    cells = cells_per_plate(RIGS["Stilt"], filament_mm=made.filament_mm,
                            highest_flow_mm3_s=max(given_spec.flows_mm3_s))  # fmt: skip
    for plate in set(plates):
        own = [c for c in made.coupons if c.plate == plate]
        assert len({c.rig for c in own}) == 1
        if given_spec.collect == "plate":
            assert len(own) <= cells
        else:
            assert len({c.block for c in own}) == 1
    for _, group in groupby(made.coupons, key=lambda c: c.block):
        block = list(group)
        if given_spec.collect == "plate" and len(block) <= cells:
            assert len({c.plate for c in block}) == 1


@pytest.mark.parametrize(
    ("block", "cells", "plates"),
    [
        (8, 16, [[1, 2], [3]]),  # two whole blocks on a plate
        (8, 15, [[1], [2], [3]]),  # a second one would be split
        (8, 8, [[1], [2], [3]]),
        (9, 8, [[1], [1, 2], [2, 3], [3]]),  # none fits on a plate: filled one after the other
    ],
)
def test_a_temperature_that_fits_on_a_plate_is_not_split(block, cells, plates):
    sheet = [
        Coupon(f"{n}-{i}", "R", 200.0 + n, 5.0, 100.0, 1, False, 1, n, 1)
        for n in (1, 2, 3)
        for i in range(block)
    ]
    placed = on_plates(sheet, {"R": cells})
    found = [sorted({c.block for c in placed if c.plate == plate})
             for plate in range(1, placed[-1].plate + 1)]  # fmt: skip
    assert found == plates
    assert plates_of(3, block, cells) == len(plates)


def check_json_and_back_is_the_same_plan_and_the_digest_holds(given_spec, made):
    text = json.dumps(to_json(made), allow_nan=False)
    assert from_json(Plan, json.loads(text), "plan") == made
    assert made.digest == plan_digest(made.spec, made.coupons)


def check_closed_form_time_of_a_size_is_that_of_its_run_sheet(given_spec, made):
    used = [RIGS[n] for n in ("Stilt", "Stilt, long zone")[: 1 + bool(given_spec.candidate)]]
    lengths = lengths_that_can_be(given_spec, used, PLA)
    size = best_size(given_spec, used, PLA, lengths)
    assert size.coupons == len(made.coupons)
    assert size.u == pytest.approx(made.budget.combined_u)
    assert size.outlook == made.outlook
    # a program starts at its own temperature, the closed form at the middle one
    assert size.seconds == pytest.approx(made.duration_s, rel=0.06)


@settings(max_examples=some(15, long=100), deadline=None)
@given(specs())
def test_what_holds_for_any_plan(given_spec):
    made = plan(given_spec, RIGS, PLA)
    check_the_first_note_says_what_is_reached(given_spec, made)
    check_more_coupons_take_longer_and_tell_more(given_spec, made)
    check_the_run_sheet_holds_every_coupon_once_and_references_in_every_block(given_spec, made)
    check_plates_hold_one_rig_and_no_more_than_fits(given_spec, made)
    check_json_and_back_is_the_same_plan_and_the_digest_holds(given_spec, made)
    check_closed_form_time_of_a_size_is_that_of_its_run_sheet(given_spec, made)


# --- light coupons ---------------------------------------------------------------------------


def said_of_light_coupons(**changes):
    made = plan(spec(spool=Spool(diameter_u_mm=0.004), **changes), RIGS, PLA)
    (said,) = (n for n in made.notes if " light" in n or " lacks " in n)
    return said


def test_a_plan_says_how_light_a_coupon_must_be_to_be_seen():
    said = said_of_light_coupons(filament_mm=600.0, replicates=3)
    assert re.fullmatch(
        r"At the balance a coupon that lacks [34]\.\d % of its mass or more is seen in 95 trials "
        r"of 100, if coupons scatter as the budget has it\.", said
    )  # fmt: skip
    coarse = Balance(readability_g=0.01)
    said = said_of_light_coupons(filament_mm=300.0, replicates=2, balance=coarse)
    assert said == (
        "At the balance a coupon 5 % light may pass unseen: one must lack 18.5 % of its mass to be "
        "seen in 95 trials of 100. Feeding 1500 mm, 4 coupons at each flow, would show it."
    )
    said = said_of_light_coupons(filament_mm=600.0, replicates=3, balance=coarse)
    assert said.endswith(" Feeding 2000 mm would show it.")
    said = said_of_light_coupons(
        filament_mm=600.0, replicates=3, balance=Balance(readability_g=0.02)
    )
    assert said.endswith(" A balance ten times finer would show it.")
    said = said_of_light_coupons(filament_mm=100.0, replicates=3, balance=coarse)
    assert said.endswith(" Feeding 2000 mm would show it.")
    assert said_of_light_coupons(filament_mm=600.0, replicates=1) == (
        "Without replicates a coupon 5 % light is seen only where a faster one lost no more, below "
        "the knee. Two at each flow show it everywhere."
    )


# --- digest ----------------------------------------------------------------------------------


def test_the_digest_is_the_same_today_and_tomorrow():
    # The seeded order and the canonical JSON must not change under a dossier that quotes them.
    older = {"loss_u": 0.005, "spool": Spool(diameter_u_mm=0.004, correlation_length_mm=1000.0)}
    fixed = {"replicates": 2, "references_per_block": 3, "filament_mm": 600.0}
    made = plan(spec(**fixed, **older), RIGS, PLA)
    assert made.digest == DIGEST
    again = plan(made.spec.model_copy(update={"temperatures_c": (210, 220)}), RIGS, PLA)
    assert again.digest == made.digest  # 210 and 210.0 are one plan


DIGEST = "a119ca65ad4b8c291fe97ffa1c7fd5a422b83c28ef4ae5611cede26227cd3d47"


@pytest.mark.parametrize(
    "change",
    [{"seed": 2}, {"question": "Does it deliver less?"}, {"hours": 3.0}, {"replicates": 3},
     {"filament_mm": 601.0}, {"collect": "catch"}, {"spool": Spool()}, {"candidate": None}],
)  # fmt: skip
def test_the_digest_changes_with_anything(change):
    fixed = {"replicates": 2, "references_per_block": 3, "filament_mm": 600.0}
    one, other = (plan(spec(**fixed | more), RIGS, PLA) for more in ({}, change))
    assert one.digest != other.digest


def test_the_digest_sees_one_coupon_moved():
    made = plan(spec(), RIGS, PLA)
    moved = list(made.coupons)
    moved[3] = dataclasses.replace(moved[3], plate=moved[3].plate + 1)
    assert plan_digest(made.spec, moved) != made.digest


@pytest.mark.parametrize("damage", ["spec", "budget", "coupons", "notes"])
def test_data_that_is_no_plan_is_refused(damage):
    data = to_json(plan(spec(), RIGS, PLA))
    del data[damage]
    with pytest.raises(RecordError, match="this field is missing") as refused:
        from_json(Plan, data, "plan")
    assert [problem.path for problem in refused.value.problems] == [Place.of_field("plan", damage)]


# --- sizes -----------------------------------------------------------------------------------

RANGE = {"flows_mm3_s": (6.0, 22.0), "temperatures_c": (210.0, 220.0, 230.0), "candidate": None}


def test_no_size_within_the_bounds_answers_sooner():
    asked, rigs = spec(difference_mm3_s=1.0), list(RIGS.values())
    lengths = lengths_that_can_be(asked, rigs, PLA)
    best = best_size(asked, rigs, PLA, lengths).answer(1.0)
    for size in sizes(asked, rigs, PLA, lengths):
        step = size.answer(1.0)
        assert step is None or step.hours >= best.hours


def test_no_size_within_the_time_tells_more():
    asked, rigs = spec(hours=3.0, **RANGE), [RIGS["Stilt"]]
    lengths = lengths_that_can_be(asked, rigs, PLA)
    best = best_size(asked, rigs, PLA, lengths).within(3.0)
    assert best.hours <= 3.0
    for size in sizes(asked, rigs, PLA, lengths):
        step = size.within(3.0)
        assert step is None or step.width_mm3_s >= best.width_mm3_s


@pytest.mark.parametrize("step_g", [0.01, 0.001])
def test_one_rig_at_three_temperatures_is_an_evening_and_two_rigs_are_two(step_g):
    balance = Balance(readability_g=step_g, repeatability_g=step_g)
    one = plan(spec(**RANGE | {"balance": balance, "spool": Spool()}), RIGS, PLA)
    assert len(one.coupons) <= 45
    assert one.duration_s <= 2.1 * 3600
    two = plan(spec(**RANGE | {"candidate": "Stilt, long zone", "balance": balance}), RIGS, PLA)
    assert len(two.coupons) <= 90
    assert two.duration_s <= 4.2 * 3600


def test_a_finer_balance_wants_shorter_coupons():
    lengths = [
        plan(
            spec(
                difference_mm3_s=1.0,
                balance=Balance(readability_g=step, repeatability_g=step),
                spool=Spool(),
                **RANGE,
            ),
            RIGS,
            PLA,
        ).filament_mm
        for step in (0.01, 0.001)
    ]
    assert lengths[1] <= 150.0
    assert lengths[0] >= 4 * lengths[1]


def test_two_flows_are_the_ends_of_a_coarse_ladder():
    made = plan(spec(**RANGE), RIGS, PLA)
    assert made.flows_mm3_s[0] == 6.0
    assert made.flows_mm3_s[-1] == 22.0
    steps = np.diff(made.flows_mm3_s)
    assert steps == pytest.approx(steps[0], abs=0.02)
    assert 5 <= len(steps) <= 9
    assert steps[0] <= 0.2 * 14.0 + 0.01
    assert made.spec.flows_mm3_s == (6.0, 22.0)
    assert made.replicates == 1


@pytest.mark.parametrize("collect", ["plate", "catch"])
def test_time_agrees_with_what_the_programs_say_of_themselves(collect):
    made = plan(spec(collect=collect), RIGS, PLA)
    written = coupon_programs(made, RIGS, PLA)
    hands = hands_s(made.coupons)
    assert hands == 60 * len(made.coupons) + 300 * len(written)
    ours = run_s(made.coupons, RIGS, PLA, catch=collect == "catch") - hands
    assert ours == pytest.approx(60 * sum(p.minutes for p in written), rel=0.04)
    assert made.total_filament_mm == pytest.approx(sum(p.filament_mm for p in written), rel=0.01)
    assert len(written) == made.plates


def test_what_the_time_is_made_of_adds_up_and_is_named():
    made = plan(spec(), RIGS, PLA)
    told = describe_time(made)
    spans = re.findall(r"(?:(\d+) h)? ?(?:(\d+) min)?(?: \(heat|: 1 min)", told)
    assert len(spans) == 2
    minutes = sum(60 * int(hours or 0) + int(rest or 0) for hours, rest in spans)
    assert minutes == pytest.approx(made.duration_s / 60, abs=1.1)
    assert f"1 min for each of {len(made.coupons)} coupons" in told
    assert "5 min before each program" in told


def test_grams_follow_from_length_and_density():
    made = plan(spec(), RIGS, PLA)
    assert made.total_mass_g == pytest.approx(
        made.total_filament_mm * math.pi / 4 * 1.75**2 * 1.24e-3
    )


def test_what_a_note_promises_is_what_the_changed_record_gives():
    asked = {"spool": Spool(), "difference_mm3_s": 2.0, **RANGE}
    made = plan(spec(**asked | {"balance": Balance()}), RIGS, PLA)
    (note,) = [n for n in made.notes if n.startswith("A balance ten times finer")]
    finer = Balance(readability_g=0.001, repeatability_g=0.001)
    other = plan(spec(**asked | {"balance": finer}), RIGS, PLA)
    sooner, now = (
        next(step.hours for step in p.outlook if step.width_mm3_s <= 2.0) for p in (other, made)
    )
    assert f"would do it in {number(sooner, 2)} h in place of {number(now, 2)} h" in note
    out_of_reach = plan(spec(**asked | {"balance": Balance(), "difference_mm3_s": 0.5}), RIGS, PLA)
    assert "not reached by any number of coupons" in out_of_reach.notes[0]
    assert any("finer would answer the question in" in note for note in out_of_reach.notes)


def test_a_record_that_asks_for_an_uncertainty_is_told_what_sizes_a_plan_now():
    made = plan(spec(loss_u=0.005), RIGS, PLA)
    assert any("no longer sized by it" in note for note in made.notes)
    assert not any("no longer sized by it" in note for note in plan(spec(), RIGS, PLA).notes)


# --- what it will tell -----------------------------------------------------------------------


def test_more_and_better_coupons_tell_more():
    flows = (8.0, 11.0, 14.0, 17.0)

    def width(u=0.006, loss=0.02, **more):
        return ceiling_width(flows, u, loss, **more)

    assert width(replicates=2) < width()
    assert width(batches=1) < width()
    assert width(u=0.003) < width()
    assert width(loss=0.05) < width()


def test_the_smallest_difference_follows_from_the_width():
    # two intervals of width w: standard uncertainties w ÷ 3.92 each, 2.80 of their root sum square
    power = smallest_difference((8.0, 11.0, 14.0), (210.0, 220.0), 1.0)
    assert power.difference_mm3_s == pytest.approx(2.8016 * math.sqrt(2) / 3.9199, rel=1e-4)
    assert power.assumed_ceiling_mm3_s == 11.0


def test_two_flows_alone_tell_no_difference():
    assert smallest_difference((8.0, 12.0), (210.0,), 1.0) is None


# --- refusals and cautions -------------------------------------------------------------------


def refused(kind, rigs=None, material=PLA, **more):
    with pytest.raises(kind) as caught:
        plan(spec(**more), RIGS if rigs is None else rigs, material)
    assert all(p.what and p.remedy for p in caught.value.problems)
    return [p.what for p in caught.value.problems]


def test_all_limits_are_told_at_once():
    hot = rig(hot_end=HotEnd(temperature_limit_c=250.0, ptfe_in_melt_zone=True),
              extruder=Extruder(max_feed_mm_s=6.0))  # fmt: skip
    told = refused(LimitError, {**RIGS, "Stilt": hot}, temperatures_c=(245.0, 265.0))
    assert any("265 °C is above the hot end's limit of 250 °C" in what for what in told)
    assert any("265 °C is above what PLA may see, 260 °C" in what for what in told)
    assert any("245 °C is above 240 °C and a PTFE liner" in what for what in told)
    assert any("common practice, no source" in what for what in told)
    assert any("18 mm³/s feeds filament at 7.48 mm/s" in what for what in told)


def test_a_wrong_record_is_told_with_the_limits():
    told = refused(
        RecordError, {"Stilt": rig()}, candidate="Crane", temperatures_c=(300.0,),
        reference_flow_mm3_s=7.0, material=PLA.model_copy(update={"name": "PETG"}),
    )  # fmt: skip
    assert any("there is no rig 'Crane'" in what for what in told)
    assert any("the trial asks for 'PLA'" in what for what in told)
    assert any("the reference flow, 7 mm³/s, is above the lowest flow" in what for what in told)
    assert any("300 °C is above the hot end's limit" in what for what in told)


def test_a_plate_that_does_not_fit_is_refused_and_caught_instead():
    tiny = rig(build_volume=BuildVolume(x_mm=40.0, y_mm=40.0, z_mm=240.0))
    rigs = {**RIGS, "Stilt": tiny}
    assert any("fits no cell" in what for what in refused(LimitError, rigs))
    assert plan(spec(collect="catch"), rigs, PLA).plates == 4


def test_too_cold_is_a_caution_not_a_refusal():
    made = plan(spec(temperatures_c=(180.0, 210.0)), RIGS, PLA)
    assert any(note.startswith("180 °C: below the 190 °C") for note in made.notes)


def test_what_the_rig_does_not_record_is_said():
    bare = {"Stilt": Rig(name="Stilt")}
    made = plan(spec(candidate=None), bare, PLA)
    text = " ".join(made.notes)
    assert "build volume is not recorded" in text
    assert "temperature limit" in text
    assert "assumed bed of 200 x 200 mm" in text


# --- amendments ------------------------------------------------------------------------------


@settings(max_examples=some(15, long=30), deadline=None)
@given(
    specs(),
    st.lists(st.tuples(st.sampled_from([200.0, 215.0, 220.0]), st.sampled_from([7.0, 9.0, 11.5])),
             min_size=1, max_size=8),
)  # fmt: skip
def test_added_coupons_come_after_with_names_and_references_of_their_own(given_spec, wanted):
    made = plan(given_spec.model_copy(update={"filament_mm": 600.0}), RIGS, PLA)
    asked = [("Stilt", t, q) for t, q in wanted]
    added = add_to_plan(made, made.coupons, asked, RIGS, PLA)
    sheet = [*made.coupons, *added]
    assert len({c.coupon for c in sheet}) == len(sheet)
    assert [c.order for c in sheet] == list(range(1, len(sheet) + 1))
    assert min(c.plate for c in added) == made.plates + 1
    tested = [c for c in added if not c.reference]
    assert Counter((c.rig, c.temperature_c, c.flow_mm3_s) for c in tested) == Counter(asked)
    for c in tested:
        same = [
            d
            for d in sheet
            if not d.reference
            and (d.rig, d.temperature_c, d.flow_mm3_s) == (c.rig, c.temperature_c, c.flow_mm3_s)
        ]
        assert sorted(d.replicate for d in same) == list(range(1, len(same) + 1))
    old = {c.block for c in made.coupons}
    biggest = max(Counter(t for t, _ in wanted).values())  # 5 to 8 coupons share √8 references
    for block_number, group in groupby(added, key=lambda c: c.block):
        block = list(group)
        assert block_number not in old
        references = sum(c.reference for c in block)
        assert references == min(made.references_per_block, 1 if biggest <= 4 else 3)
        assert block[0].reference
    second = add_to_plan(made, sheet, asked, RIGS, PLA)
    assert not {c.coupon for c in second} & {c.coupon for c in sheet}


def test_added_coupons_keep_to_the_limits_and_the_plans_rigs():
    made = plan(spec(), RIGS, PLA)
    with pytest.raises(LimitError, match="270 °C is above what PLA may see"):
        add_to_plan(made, made.coupons, [("Stilt", 270.0, 9.0)], RIGS, PLA)
    with pytest.raises(RecordError, match="'Crane' is not in the plan"):
        add_to_plan(made, made.coupons, [("Crane", 210.0, 9.0)], RIGS, PLA)
    assert add_to_plan(made, made.coupons, [], RIGS, PLA) == []


def test_an_amended_sheet_still_becomes_programs():
    made = plan(spec(), RIGS, PLA)
    added = add_to_plan(made, made.coupons, [("Stilt", 220.0, 13.0)] * 4, RIGS, PLA)
    whole = dataclasses.replace(made, coupons=(*made.coupons, *added))
    assert len(coupon_programs(whole, RIGS, PLA)) == max(c.plate for c in added)


def test_a_plan_on_one_nozzle_offers_a_second_and_one_on_two_says_what_they_tell():
    one = plan(spec(candidate=None), RIGS, PLA)
    assert any("One nozzle cannot tell heat from force" in n for n in one.notes)
    assert any("save Stilt with another nozzle" in n for n in one.notes)
    other = {"Stilt": rig(), "Stilt, fine": rig("Stilt, fine")}
    head = other["Stilt, fine"].hot_end.model_copy(update={"nozzle_mm": 0.25})
    other["Stilt, fine"] = other["Stilt, fine"].model_copy(update={"hot_end": head})
    two = plan(spec(candidate="Stilt, fine"), other, PLA)
    assert any(n.startswith("Two nozzles on one hot end") for n in two.notes)
    longer = plan(spec(candidate="Stilt, long zone"), RIGS, PLA)
    assert not any("nozzle" in n.lower() and "heat" in n for n in longer.notes)


def test_too_little_time_gives_a_plan_that_still_tells_and_the_temperatures_that_fit():
    three = {"candidate": None, "temperatures_c": (200.0, 210.0, 220.0), "flows_mm3_s": (6.0, 18.0)}
    made = plan(spec(**three, hours=1.0), RIGS, PLA)
    free = plan(spec(**three, hours=None), RIGS, PLA)
    # not the shortest coupons there are, which a balance cannot tell apart
    assert made.filament_mm > 60.0
    assert made.outlook[0].hours < free.outlook[0].hours
    (said,) = (note for note in made.notes if note.startswith("Within 1 h: "))
    assert "210 °C alone, " in said
    for words, kept in (("200 °C and 210 °C alone", (200.0, 210.0)), ("210 °C alone", (210.0,))):
        small = plan(spec(**three | {"temperatures_c": kept}, hours=1.0), RIGS, PLA)
        fits = small.outlook[0].hours <= 1.0
        told = f"{words}, {small.outlook[0].coupons} coupons"
        assert (told in said) == fits
    assert not any(note.startswith("Within") for note in free.notes)
