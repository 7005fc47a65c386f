"""What a trial on two nozzles teaches the melt model, through the one place that asks for it."""

import numpy as np
import pytest

from beadworth import capacity
from beadworth.material import generic
from beadworth.melt import predict
from beadworth.rig import Extruder, HotEnd, Rig
from beadworth.trial import Reading
from beadworth.workflow.melt import trial_calibration

PLA = generic("PLA")


def nozzle(size):
    hot_end = HotEnd(melt_zone_mm=20.0, bore_mm=2.0, nozzle_mm=size)
    return Rig(name=f"{size} mm", hot_end=hot_end, extruder=Extruder())


@pytest.fixture(scope="module")
def fits():
    """Readings whose ceilings are the model's: with one nozzle, and with two."""
    rng = np.random.default_rng(3)
    rows = [
        Reading(f"{size} mm", PLA.name, celsius, flow, 600.0,
                1.79 * min(1.0, top / flow) * (1 + 0.002 * rng.normal()))
        for size in (0.4, 0.25)
        for celsius in (205.0, 225.0)
        for top in [predict(nozzle(size), PLA, celsius, draws=2).at_loss_mm3_s]
        for flow in top * np.linspace(0.4, 1.6, 8)
        for _ in range(2)
    ]  # fmt: skip
    return capacity.fit(rows[: len(rows) // 2]), capacity.fit(rows)


def test_two_nozzles_on_one_hot_end_are_learned_from_together(fits):
    one, two = fits
    rigs = (nozzle(0.4), nozzle(0.25))
    alone = trial_calibration(None, one, rigs, PLA, "t")
    both = trial_calibration(None, two, rigs, PLA, "t")
    assert not any("nozzles were weighed" in note for note in alone.notes)
    assert any("2 nozzles were weighed on that hot end" in note for note in both.notes)
    assert both.scales.u("hot_end_heat") <= alone.scales.u("hot_end_heat")
    third = nozzle(0.6)
    widths = [
        np.log(p.high / p.low)
        for p in (predict(third, PLA, 215.0, scales=s.scales) for s in (alone, both))
    ]
    assert widths[1] < 1.02 * widths[0]
