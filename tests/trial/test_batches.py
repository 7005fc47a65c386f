"""The run sheet split into programs: every coupon in one, in the order of the sheet."""

import pytest

from beadworth.demo import LONG_ZONE, PLA, STOCK
from beadworth.trial import TrialSpec, plan
from beadworth.trial.programs.batches import batches_of
from beadworth.trial.programs.layout import cells_per_plate

RIGS = {STOCK.name: STOCK, LONG_ZONE.name: LONG_ZONE}


def sheet(collect):
    spec = TrialSpec(
        question="How far does each of them go?",
        baseline=STOCK.name,
        candidate=LONG_ZONE.name,
        material=PLA.name,
        temperatures_c=(210.0, 225.0),
        flows_mm3_s=(6.0, 9.0, 12.0),
        replicates=3,
        references_per_block=2,
        filament_mm=600.0,
        collect=collect,
    )
    return plan(spec, RIGS, PLA)


@pytest.mark.parametrize("planned", ["plate", "catch"])
@pytest.mark.parametrize("collect", ["plate", "catch"])
def test_every_coupon_is_made_once_on_its_own_rig(planned, collect):
    made = sheet(planned)
    batches = batches_of(made, RIGS, PLA, collect)
    assert sorted(c.order for b in batches for c in b.coupons) == [
        c.order for c in sorted(made.coupons, key=lambda c: c.order)
    ]
    for batch in batches:
        assert {c.rig for c in batch.coupons} == {batch.rig.name}
        orders = [c.order for c in batch.coupons]
        assert orders == sorted(orders)
        assert (batch.grid is not None) == (collect == "plate")
    firsts = [batch.coupons[0].order for batch in batches]
    assert firsts == sorted(firsts)


def test_caught_coupons_of_a_program_are_of_one_block_and_plates_hold_what_fits():
    for batch in batches_of(sheet("catch"), RIGS, PLA, "catch"):
        assert {c.block for c in batch.coupons} == {batch.number}
    for batch in batches_of(sheet("catch"), RIGS, PLA, "plate"):
        room = cells_per_plate(batch.rig, filament_mm=600.0, highest_flow_mm3_s=12.0)
        assert len(batch.coupons) <= room
