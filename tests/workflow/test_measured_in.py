"""Which trials hold the ceilings of two rigs: one that weighed both, or one of each."""

from __future__ import annotations

import pytest

from beadworth.material import generic
from beadworth.rig import HotEnd, Rig
from beadworth.store import open_bench
from beadworth.trial import Reading
from beadworth.workflow import measured_in, rig_pairs, usual_material

STOCK = Rig(name="Stock", hot_end=HotEnd(melt_zone_mm=12.0))
LONG = Rig(name="Long", parent="Stock", hot_end=HotEnd(melt_zone_mm=20.0))
RAILS = Rig(name="Rails", parent="Stock", hot_end=STOCK.hot_end)


@pytest.fixture
def bench(tmp_path, empty_bench):
    with open_bench(empty_bench(tmp_path / "own.bench")) as made:
        for rig in (STOCK, LONG, RAILS):
            made.save_rig(rig)
        yield made


def weigh(bench, *rigs):
    rows = [Reading(rig, "PLA", 220.0, flow, 600.0, 1.79) for rig in rigs for flow in (4.0, 8.0)]
    return bench.create_trial_from_readings(f"How much, {rigs}?", rows, "test").id


def test_one_trial_of_both_two_of_one_each_or_none(bench):
    assert rig_pairs(bench) == [("Long", "Stock"), ("Rails", "Stock")]
    nothing = {"trial": None, "candidate_trial": None}
    assert measured_in(bench, "Stock", "Long") == nothing
    first = weigh(bench, "Stock")
    # the other is predicted with its help
    assert measured_in(bench, "Stock", "Long") == {"trial": first, "candidate_trial": None}
    # the same hot end and drive: what was weighed holds for both
    assert measured_in(bench, "Stock", "Rails") == {"trial": first, "candidate_trial": None}
    later = weigh(bench, "Long")
    assert measured_in(bench, "Stock", "Long") == {"trial": first, "candidate_trial": later}
    both = weigh(bench, "Stock", "Long")
    assert measured_in(bench, "Stock", "Long") == {"trial": both, "candidate_trial": None}
    assert measured_in(bench, None, "Long") == nothing


def test_the_usual_material_is_the_one_weighed_last_or_the_only_one(bench):
    assert usual_material(bench) is None
    bench.save_material(generic("PETG"))
    assert usual_material(bench) == generic("PETG").name
    bench.save_material(generic("ABS"))
    assert usual_material(bench) is None
    weigh(bench, "Stock")
    assert usual_material(bench) == "PLA"
