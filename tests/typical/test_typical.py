"""Classes, the built-in table and its sources, and what joins a pool."""

import dataclasses
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core.errors import FitError
from beadworth.rig import HotEnd, Rig
from beadworth.typical.classes import (
    HotEndClass,
    TrialCeiling,
    class_of,
    class_pool,
    log_u,
    one_per_trial,
    polymer_of,
    pool_ceilings,
    typical,
)
from beadworth.typical.pooling import pool
from beadworth.typical.table import PRACTICE, TABLE

LONG = HotEndClass("long", "usual")


def ceiling(trial, flow, half=0.3, rig=None, **more):
    given_ = {
        "trial": trial, "label": f"Trial {trial}?", "rig": rig or f"rig {trial}",
        "material": "PLA, chalk white", "hot_end": LONG, "temperature_c": 220.0,
        "flow_mm3_s": flow, "low": flow - half, "high": flow + half, "confidence": 0.95,
        "simulated": False, "source": "package",
    }  # fmt: skip
    return TrialCeiling(**given_ | more)


@pytest.mark.parametrize(
    ("zone_mm", "nozzle_mm", "said"),
    [
        (12.5, 0.4, "standard melt zone, usual bore"),
        (15.9, 0.25, "standard melt zone, fine bore"),
        (16.0, 0.35, "long melt zone, usual bore"),
        (27.9, 0.5, "long melt zone, usual bore"),
        (28.0, 0.8, "very long melt zone, wide bore"),
    ],
)
def test_class_follows_heated_length_and_bore_alone(zone_mm, nozzle_mm, said):
    hot_end = HotEnd(melt_zone_mm=zone_mm, nozzle_mm=nozzle_mm)
    assert str(class_of(Rig(name="a", hot_end=hot_end))) == said
    assert class_of(Rig(name="another", price=9.0, hot_end=hot_end)) == class_of(
        Rig(name="a", hot_end=hot_end)
    )


def test_without_a_melt_zone_there_is_no_class():
    assert class_of(Rig(name="a")) is None
    found = typical([ceiling("a", 15.0, hot_end=None, source="this")], [])
    assert found.pools == ()
    assert found.notes == (
        "No class for rig a: enter the heated length (melt_zone_mm) of the hot end in the rig's "
        "record.",
    )


@pytest.mark.parametrize(
    ("name", "polymer"),
    [("PLA, chalk white", "PLA"), ("grey petg 2", "PETG"), ("TPU-95", "TPU"), ("PA", "PA"),
     ("PC/ABS", "PC/ABS"), ("paper-filled", "paper-filled"), ("", "")],
)  # fmt: skip
def test_polymer_is_a_whole_word_of_the_name_or_the_name(name, polymer):
    assert polymer_of(name) == polymer


def test_every_row_has_a_source_or_says_that_it_has_none():
    for row in TABLE:
        assert row.source.startswith(PRACTICE) or re.search(r"doi:10\.\d+/", row.source), row
        assert 0 < row.low_mm3_s <= row.high_mm3_s


def test_common_practice_for_a_20_mm_melt_zone_with_pla():
    """Common practice, no source: near 13, 14.5 and 16 mm³/s at 210, 220 and 230 °C."""
    rows = [(r.temperature_c, r.low_mm3_s) for r in TABLE if r.zone == "long"]
    assert rows == [(210.0, 13.0), (220.0, 14.5), (230.0, 16.0)]


def test_published_rows_are_those_of_the_paper():
    """Table 3 of doi:10.1007/s40192-024-00350-w, minus b: where a drive still passes the flow."""
    rows = [(r.low_mm3_s, r.temperature_c) for r in TABLE if r.what == "drive slips"]
    assert rows == [(5, 155), (10, 167), (15, 181), (20, 201), (25, 225)]
    assert {(r.polymer, r.nozzle_mm, r.zone) for r in TABLE if r.what == "drive slips"} == {
        ("ABS", 0.8, None)
    }


def test_three_trials_are_pooled_on_the_scale_of_ratios():
    trials = [ceiling("a", 14.0), ceiling("b", 15.0, 0.5), ceiling("c", 17.0)]
    got = pool_ceilings(trials)
    z = 1.959963984540054  # normal quantile 0.975
    u = [math.log((c.flow_mm3_s + h) / (c.flow_mm3_s - h)) / (2 * z)
         for c, h in zip(trials, (0.3, 0.5, 0.3), strict=True)]  # fmt: skip
    want = pool([math.log(v) for v in (14.0, 15.0, 17.0)], u)
    assert got.flow_mm3_s == pytest.approx(math.exp(want.mean))
    assert (got.prediction_low, got.prediction_high) == pytest.approx(
        (math.exp(want.prediction_low), math.exp(want.prediction_high))
    )
    assert got.between == pytest.approx(math.sqrt(want.tau2))
    assert [log_u(c) for c in trials] == pytest.approx(u)


def test_two_trials_cannot_tell():
    found = class_pool(LONG, "PLA", 220.0, [ceiling("a", 14.0), ceiling("b", 15.0)])
    assert found.pooled is None
    assert found.sentence == (
        "Long melt zone, usual bore, PLA at 220 °C: what is typical is not known; "
        "only 2 other trials of this class are here, 3 are needed."
    )
    with pytest.raises(FitError, match="cannot tell"):
        pool_ceilings(found.trials)


def test_a_ceiling_known_from_one_side_joins_as_a_bound_and_is_said():
    rows = [ceiling(n, 14.0 + i) for i, n in enumerate("abc")]
    bound = ceiling("d", 21.0, flow_mm3_s=None, high=None)
    found = class_pool(LONG, "PLA", 220.0, [*rows, bound])
    assert (len(found.trials), found.one_sided) == (3, 1)
    assert "1 more, known from one side only, is in it as bounds." in found.sentence
    without = class_pool(LONG, "PLA", 220.0, rows)
    assert found.pooled.flow_mm3_s > without.pooled.flow_mm3_s
    assert "(nominally 95 %)" in without.sentence
    assert without.pooled == pool_ceilings(rows)


def test_one_package_counts_once_however_many_rigs_of_a_class_it_holds():
    twice = [ceiling("a", 14.0, rig="x"), ceiling("a", 16.0, rig="y")]
    (one,) = one_per_trial(twice)
    assert one.rig == "x, y"
    assert one.flow_mm3_s == pytest.approx(math.sqrt(14.0 * 16.0))
    assert log_u(one) == pytest.approx(sum(map(log_u, twice)) / 2)


def test_several_trials_of_one_rig_here_count_once_those_of_two_rigs_twice():
    same = [ceiling(n, 14.0, rig="x", source="own") for n in "ab"]
    assert len(one_per_trial(same)) == 1
    apart = [ceiling("a", 14.0, rig=n, source="own") for n in "xy"]
    assert len(one_per_trial(apart)) == 2


def test_only_the_like_joins():
    own = [ceiling("me", 15.0, source="this")]
    like = [ceiling(n, 14.0 + i) for i, n in enumerate("abc")]
    unlike = [
        ceiling("d", 99.0, simulated=True),
        ceiling("e", 99.0, hot_end=HotEndClass("standard", "usual")),
        ceiling("f", 99.0, hot_end=None),
        ceiling("g", 99.0, material="PETG"),
        ceiling("me", 99.0),  # this trial, exported and imported again
        ceiling("h", 99.0, rig="rig me", source="own"),  # another trial of the same rig
    ]
    found = typical(own, [*like, *unlike])
    assert found.others == tuple(like)
    (one,) = found.pools
    assert one.trials == tuple(like)
    assert found.notes == (
        "1 simulated trial is left out: simulated and measured ceilings are never put together.",
    )


def test_own_and_imported_copy_of_one_trial_count_once():
    own = [ceiling("me", 15.0, source="this")]
    copies = [ceiling("a", 14.0, source="own"), ceiling("a", 14.0, source="package")]
    assert len(typical(own, copies).pools[0].trials) == 1


def test_other_temperatures_are_shown_and_not_pooled():
    own = [ceiling("me", 15.0, source="this")]
    cooler = [ceiling(n, 13.0, temperature_c=210.0) for n in "abc"]
    found = typical(own, cooler)
    assert len(found.others) == 3
    assert [(p.temperature_c, p.pooled) for p in found.pools] == [(220.0, None)]


def test_rows_of_the_table_are_those_of_the_class():
    own = [ceiling("me", 15.0, source="this")]
    assert {r.zone for r in typical(own, []).rows} == {"long"}
    wide = [dataclasses.replace(own[0], material="ABS", hot_end=HotEndClass("long", "wide"))]
    assert {r.what for r in typical(wide, []).rows} == {"drive slips"}


@given(st.lists(st.floats(2.0, 60.0), min_size=3, max_size=8), st.floats(0.1, 10.0))
def test_another_unit_of_flow_scales_the_pool(flows, factor):
    a = pool_ceilings([ceiling(str(i), f, 0.1 * f) for i, f in enumerate(flows)])
    b = pool_ceilings([ceiling(str(i), factor * f, 0.1 * factor * f) for i, f in enumerate(flows)])
    assert b.flow_mm3_s == pytest.approx(factor * a.flow_mm3_s, rel=1e-6)
    assert b.prediction_high == pytest.approx(factor * a.prediction_high, rel=1e-4)
    assert min(flows) * (1 - 1e-9) <= a.flow_mm3_s <= max(flows) * (1 + 1e-9)
