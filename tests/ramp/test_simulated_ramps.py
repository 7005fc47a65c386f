"""Simulated benches, seeded: what is read holds, what would lie is refused.

The larger batches are ``benchmarks/live_weighing.py``; their figures stand in
docs/explanation/live-weighing.md.
"""

import functools

import numpy as np
import pytest
from capacity_truths import hard_limit, soft_knee
from live_weighing import holds, run
from simulated_traces import draw

from beadworth.ramp import analyse_trace


@pytest.fixture(scope="module")
def sharp():
    spec, ceilings, _, record = run(hard_limit, 0.004, 2, 90_001)
    return spec, ceilings, record, analyse_trace(record, spec)


def test_a_simulated_ramp_is_read(sharp):
    _, ceilings, record, found = sharp
    assert [c.verdict for c in found.checks] == ["passed"] * 5
    assert record.seconds < 95 * 60
    ok, widths, one_sided = holds(found, ceilings)
    assert sum(ok) >= 2  # of three intervals of 95 %; how often they hold is counted below
    assert not one_sided
    assert max(widths) < 0.8


def test_the_covariance_is_that_of_the_errors(sharp):
    spec, ceilings, _, found = sharp
    flow = np.array([r.flow_mm3_s for r in found.readings])
    t = np.array([r.temperature_c for r in found.readings])
    z = found.deliveries.log_mg_per_mm3
    total, count = 0.0, 0
    for temperature, ceiling in zip(spec.temperatures_c, ceilings, strict=True):
        at = np.flatnonzero((t == temperature) & (flow < ceiling * 0.95))  # nothing lost there
        contrast = np.eye(at.size)[1:] - np.eye(at.size)[:1]
        v = contrast @ np.array(found.joint.covariance)[np.ix_(at, at)] @ contrast.T
        e = contrast @ z[at]
        total += e @ np.linalg.solve(v, e)
        count += at.size - 1
    assert 0.4 * count < total < 1.9 * count


@functools.cache
def analysed(**fixed):
    spec, _, _, record = run(soft_knee(12.0), 0.004, 1, 90_010, **fixed)
    return analyse_trace(record, spec)


@pytest.mark.parametrize(
    ("fixed", "check"),
    [
        ({"tracking": "share", "hang_mg": 3.0}, "slow and fast"),
        ({"tracking": "share", "hang_mg": 3.0}, "cup lifted off and on"),
        # sways so much that few of its rises are slow
        ({"tracking": "slow", "hang_mg": 8.0, "hang_s": 3.0}, "slow and fast"),
        ({"bridge_mg": 300.0, "hang_mg": 4.0}, "nozzle raised"),
        ({"warm_up": 0.2, "warm_up_s": 60.0, "hang_mg": 3.0}, "first flow repeated last"),
    ],
)
def test_what_would_lie_is_refused(fixed, check):
    found = analysed(**fixed)
    assert check in [c.name for c in found.checks if c.verdict == "failed"]
    assert not found.usable


@pytest.mark.parametrize(("share", "verdict"), [(0.62, "failed"), (0.74, "passed")])
def test_a_slow_rise_fails_from_two_thirds_downwards(share, verdict):
    from ramp_case import MG_MM3, short_ramp, short_trace

    from beadworth.ramp import Trace, sections_of

    spec = short_ramp()
    trace = short_trace(spec)
    slow = next(s for s in sections_of(spec)[0].steps if s.kind == "slow")
    lost = (1 - share) * MG_MM3 * slow.flow_mm3_s * 1e-3
    gone = lost * np.clip(trace.time_s - 120.0 - slow.start_s, 0.0, slow.seconds)
    found = analyse_trace(Trace(trace.time_s, trace.mass_g - gone), spec)
    assert found.checks[0].name == "slow and fast"
    assert found.checks[0].verdict == verdict


def test_benches_are_drawn_as_stated():
    benches = [draw(np.random.default_rng(seed), 0.004) for seed in range(200)]
    assert all(2 <= b.hang_mg <= 10 and 300 <= b.spool_mm <= 3000 for b in benches)


@pytest.mark.long
def test_intervals_hold_over_many_ramps():
    ok = []
    for seed in range(90_100, 90_160):
        spec, ceilings, _, record = run((hard_limit, soft_knee(12.0))[seed % 2], 0.004, 2, seed)
        ok.append(np.mean(holds(analyse_trace(record, spec), ceilings)[0]))
    assert np.mean(ok) > 0.9
