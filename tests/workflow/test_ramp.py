"""Live weighing, as page and command ask for it: a program, a first minute, a trace read."""

import numpy as np
import pytest
from ramp_case import short_ramp, short_trace

from beadworth.core import to_toml
from beadworth.demo import PLA, STOCK
from beadworth.ramp import Trace, write_trace_csv
from beadworth.workflow import foresee_ramp, make_ramp, ramp_spec, read_ramp

SPEC = short_ramp(STOCK.name, PLA.name)


def test_a_trace_becomes_ceilings_where_its_checks_pass():
    found = read_ramp(
        ramp_spec(to_toml(SPEC), "ramp.toml"),
        write_trace_csv(short_trace(SPEC)),
        rig=STOCK,
        material=PLA,
    )
    (ceiling,) = found.fit.ceilings
    assert ceiling.low < 11.0 < ceiling.high
    assert found.table.count("\n") == len(found.weighing.readings) + 1


def test_where_a_check_fails_nothing_is_read():
    trace = short_trace(SPEC)
    slow = np.diff(trace.mass_g, prepend=trace.mass_g[0])
    smooth = np.convolve(slow, np.ones(40) / 40, "same")
    tracked = np.cumsum(np.where(smooth < 0.5e-3 * 0.5, 0.0, slow)) + 50.0
    found = read_ramp(SPEC, write_trace_csv(Trace(trace.time_s, tracked)), rig=STOCK, material=PLA)
    assert found.fit is None
    assert [c.name for c in found.weighing.checks if c.verdict == "failed"] == ["slow and fast"]


def test_the_first_minute_says_how_much_hangs():
    first = SPEC.model_copy(update={"cycles": 0})
    assert make_ramp(SPEC, STOCK, PLA, first_minute=True).grams < make_ramp(SPEC, STOCK, PLA).grams
    quiet, loud = (
        foresee_ramp(SPEC, STOCK, PLA, write_trace_csv(short_trace(first, noise_g=g)))
        for g in (0.002, 0.012)
    )
    assert quiet[0].hang_mg < loud[0].hang_mg
    assert quiet[1][1].sharp_mm3_s < loud[1][1].sharp_mm3_s
    assert foresee_ramp(SPEC, STOCK, PLA)[0] is None


@pytest.mark.parametrize("wander", [0.002, 0.015])
def test_a_wandering_filament_is_foreseen(wander):
    _, usual = foresee_ramp(SPEC, STOCK, PLA)
    _, rows = foresee_ramp(SPEC, STOCK, PLA, wander=wander)
    assert (rows[1].soft_mm3_s > usual[1].soft_mm3_s) == (wander > 0.006)
