"""Sweeps agree with single predictions; a melt-flow rate becomes a fluid that gives it back."""

import math

import pytest

from beadworth.core.errors import InputError
from beadworth.material.library import GENERIC
from beadworth.melt import predict, state_at
from beadworth.melt.melt_flow import against_material, melt_flow_estimate
from beadworth.melt.rheology import DIE_LENGTH_MM, DIE_MM, piston_pressure_mpa
from beadworth.melt.sweep import (
    lengths_about,
    next_millimetre,
    over_flow,
    over_length,
    over_temperature,
    with_zone,
)
from beadworth.rig import Extruder, HotEnd, Rig

PLA = GENERIC["PLA"]


def rig(grip=None, zone=15.0):
    return Rig(
        name="bench",
        hot_end=HotEnd(melt_zone_mm=zone, bore_mm=2.0, nozzle_mm=0.4),
        extruder=Extruder(grip_force_n=grip),
    )


def test_a_sweep_is_its_single_predictions():
    swept = over_temperature(rig(), PLA, (210.0, 230.0), draws=60)
    for got in swept:
        alone = predict(rig(), PLA, got.temperature_c, draws=60)
        assert (got.ceiling_mm3_s, got.low, got.high) == (
            alone.ceiling_mm3_s, alone.low, alone.high
        )  # fmt: skip
    forces = [state.force_n for state in over_flow(rig(), PLA, 220.0, (2.0, 6.0, 9.0))]
    assert forces == [state_at(rig(), PLA, 220.0, q).force_n for q in (2.0, 6.0, 9.0)]


def test_where_heat_limits_the_ceiling_grows_nearly_in_step_with_the_length():
    points = over_length(rig(), PLA, 220.0, (10.0, 20.0), draws=20)
    assert 1.5 * points[0].ceiling_mm3_s < points[1].ceiling_mm3_s < 2 * points[0].ceiling_mm3_s
    longer = predict(with_zone(rig(), 16.0), PLA, 220.0, draws=2).ceiling_mm3_s
    here = predict(rig(), PLA, 220.0, draws=2).ceiling_mm3_s
    assert next_millimetre(rig(), PLA, 220.0) == pytest.approx(longer - here, rel=1e-6)


def test_where_force_limits_another_millimetre_brings_next_to_nothing():
    weak = rig(grip=6.0, zone=30.0)
    assert predict(weak, PLA, 220.0, draws=20).limited_by == "force"
    heat_alone = next_millimetre(rig(zone=30.0), PLA, 220.0)
    assert next_millimetre(weak, PLA, 220.0) < 0.25 * heat_alone


def test_lengths_hold_those_asked_about():
    lengths = lengths_about((12.5, 20.0))
    assert {12.5, 20.0} <= set(lengths)
    assert lengths[0] == 6.25
    assert lengths[-1] == 30.0
    assert with_zone(rig(), 7.0).hot_end.melt_zone_mm == 7.0


@pytest.mark.parametrize("n", [0.3, 0.4, 1.0])
def test_the_power_law_of_a_melt_flow_rate_gives_the_rate_back(n):
    estimate = melt_flow_estimate(6.0, 2.16, 210.0, 1.08, flow_index=n)
    fluid, radius = estimate.rheology, DIE_MM / 2e3
    # flow of a power-law fluid through a tube under a pressure (Bird, Stewart, Lightfoot)
    pressure = piston_pressure_mpa(2.16) * 1e6
    wall = pressure * radius / (2 * DIE_LENGTH_MM * 1e-3)
    flow = math.pi * radius**3 / (1 / n + 3) * (wall / fluid.consistency_pa_sn) ** (1 / n)
    assert flow * 1e6 * 1.08 * 600 == pytest.approx(6.0, rel=1e-9)  # g in ten minutes
    assert estimate.viscosity_pa_s * estimate.rate_1_s == pytest.approx(wall, rel=1e-9)


def test_an_estimate_is_put_beside_a_known_melt():
    estimate = melt_flow_estimate(6.0, 2.16, 210.0, 1.08)
    twin = PLA.model_copy(update={"rheology": estimate.rheology})
    assert against_material(estimate, twin) == pytest.approx(1.0)
    assert against_material(estimate, PLA) > 0
    assert against_material(estimate, PLA.model_copy(update={"rheology": None})) is None


def test_wrong_values_are_all_named():
    with pytest.raises(InputError) as caught:
        melt_flow_estimate(0.0, -1.0, 210.0, 1.08, flow_index=2.0)
    assert [p.where for p in caught.value.problems] == [
        "melt-flow rate, g/10 min", "load, kg", "flow index"
    ]  # fmt: skip
