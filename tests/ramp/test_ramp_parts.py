"""The parts of a live weighing, each against something outside it."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import dblquad

from beadworth.core import FILAMENT_MM, ReadingsError, RecordError, filament_section_mm2, from_toml
from beadworth.ramp import Noise, RampSpec, Section, Step, Trace, analyse_trace, sections_of
from beadworth.ramp.delivery import Late, _columns, _Cycle, _prior, _solve
from beadworth.ramp.noise import learn_noise
from beadworth.ramp.placing import place_sections
from beadworth.ramp.record import bin_edges_mm3_s
from beadworth.ramp.spool import _alike
from beadworth.ramp.trace import second_means

SPEC = RampSpec(
    rig="rig", material="PLA", temperatures_c=(210.0,), lowest_mm3_s=(8.0,), highest_mm3_s=(14.0,)
)
RHO = 1.24


def exact(sections, wait_s=150.0, rate_hz=5.0):
    """What an ideal balance reads under an ideal nozzle, mg/mm³ of RHO."""
    edges, fed, at, volume = [0.0], [0.0], 0.0, 0.0
    for section in sections:
        at += wait_s
        edges.append(at), fed.append(volume)
        for step in section.steps:
            volume += step.volume_mm3
            edges.append(at + step.end_s), fed.append(volume)
        at += section.seconds
    edges.append(at + 60.0), fed.append(volume)
    time = np.arange(0.0, at + 60.0, 1 / rate_hz)
    return Trace(time, 50.0 + 1e-3 * RHO * np.interp(time, edges, fed))


def test_a_perfect_trace_gives_the_density_at_every_flow():
    sections = sections_of(SPEC)
    trace = exact(sections)
    rng = np.random.default_rng(4)
    mass = trace.mass_g + 1e-4 * rng.standard_normal(trace.time_s.size)
    found = analyse_trace(Trace(trace.time_s, mass), SPEC)
    section = filament_section_mm2(FILAMENT_MM)
    delivered = [r.mass_g / (r.filament_mm * section) * 1e3 for r in found.readings]
    assert delivered == pytest.approx([RHO] * len(delivered), rel=2e-3)
    assert found.grams == pytest.approx(sum(s.volume_mm3 for s in sections) * RHO * 1e-3, rel=1e-3)
    flows = [r.flow_mm3_s for r in found.readings]
    edges = bin_edges_mm3_s(8.0, 14.0)
    assert flows == pytest.approx([(a + b) / 2 for a, b in pairwise(edges)])
    fed = sum(r.filament_mm for r in found.readings) * section
    assert fed == pytest.approx(sum(s.volume_mm3 for s in sections[0].steps if s.cycle))
    assert found.usable


def test_a_clock_that_is_seconds_off_changes_nothing():
    trace = exact(sections_of(SPEC))
    noise = 2e-3 * np.random.default_rng(4).standard_normal(trace.time_s.size)
    one = analyse_trace(Trace(trace.time_s, trace.mass_g + noise), SPEC)
    late = analyse_trace(Trace(trace.time_s + 3.7, trace.mass_g + noise), SPEC)
    a, b = (np.array([r.mass_g for r in f.readings]) for f in (one, late))
    u = np.sqrt(np.diag(one.joint.covariance))
    assert (np.abs(a / b - 1) < u).all()


def test_stairs_upwards_alone_are_refused():
    steps, at = [], 0.0
    for i, flow in enumerate(np.arange(8.0, 14.0)):
        steps.append(Step(at, at + 60, float(flow), "up", 1, i))
        at += 60
    section = Section(210.0, tuple(steps))
    with pytest.raises(ReadingsError) as error:
        analyse_trace(exact([section]), SPEC, sections=[section])
    assert str(error.value) == (
        "ramp: the flows at 210 °C only rise. Stairs upwards mix flow with everything that changes "
        "in time: warming up, the spool, pressure, drift. Run every flow upwards and downwards, at "
        "equal pace."
    )


def test_a_trace_of_something_else_is_refused():
    trace = exact(sections_of(SPEC))
    other = Trace(trace.time_s, 50 + np.random.default_rng(1).normal(0, 0.01, trace.time_s.size))
    with pytest.raises(ReadingsError, match="the steps at 210 °C are not to be seen in the trace"):
        analyse_trace(other, SPEC)
    short = Trace(trace.time_s[:2000], trace.mass_g[:2000])
    with pytest.raises(ReadingsError, match="the trace lasts 7 min, the ramp's own steps"):
        analyse_trace(short, SPEC)


def test_temperatures_are_found_in_their_order_whatever_heating_takes():
    spec = SPEC.model_copy(update={"temperatures_c": (210.0, 225.0, 240.0)})
    sections = sections_of(spec)
    placed = place_sections(second_means(exact(sections, wait_s=173.0)), sections)
    at, expected = 0.0, []
    for section in sections:
        at += 173.0
        expected.append(at)
        at += section.seconds
    assert [p.start_s for p in placed] == pytest.approx(expected, abs=2.0)


def cycle_of(seed=2):
    section = sections_of(SPEC)[0]
    steps = tuple(s for s in section.steps if s.cycle == 1)
    time = np.arange(steps[0].start_s - 8, steps[-1].end_s + 14)
    cycle = _Cycle(210.0, 1, steps, 0.0, time, time, 0.0)
    noise = Noise(4.0, 5.0, 0.7, 1.0)
    rng = np.random.default_rng(seed)
    hung = np.linalg.cholesky(noise.covariance(time)) @ rng.standard_normal(time.size)
    mass = RHO * cycle.fed(Late(0.0, 0.0)).sum(axis=1) + hung
    return _Cycle(210.0, 1, steps, 0.0, time, mass, 0.0), noise


def test_the_least_squares_are_those_of_statsmodels():
    from statsmodels.regression.linear_model import GLS

    cycle, noise = cycle_of()
    found = _solve(cycle, noise)
    rows = len(cycle.keys)
    # what is known beforehand enters a reference regression as further observations
    late = Late(found.delay_s, 0.0)
    columns = _columns(cycle, late, RHO)
    prior = _prior(cycle, rows)
    known = np.eye(rows + 4)[prior > 0]
    x = np.vstack([columns, known])
    y = np.concatenate([cycle.mass, np.zeros(len(known))])
    v = np.zeros((y.size, y.size))
    n = cycle.time.size
    v[:n, :n] = noise.covariance(cycle.time)
    v[n:, n:] = np.diag(1 / prior[prior > 0])
    reference = GLS(y, x, sigma=v).fit(cov_type="nonrobust")
    expected = np.sqrt(np.diag(reference.normalized_cov_params))[:rows]
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(expected, rel=0.05)
    away = (found.mg_per_mm3 - RHO) / expected
    assert np.abs(away).max() < 3.5
    assert found.chi2 == pytest.approx(1.0, abs=0.15)


def test_the_noise_of_a_trace_is_found_again():
    pieces = []
    truth = Noise(8.0, 4.0, 0.5, 1.0)
    time = np.arange(0.0, 600.0, 2.0)
    root = np.linalg.cholesky(truth.covariance(time))
    for seed in range(3):
        draws = root @ np.random.default_rng(seed).standard_normal(time.size)
        pieces.append((time, draws, np.column_stack([np.ones(time.size), time])))
    found = learn_noise(pieces)
    assert found.hang_mg == pytest.approx(8.0, rel=0.2)
    assert found.hang_s == pytest.approx(4.0, rel=0.4)


def test_alike_stretches_of_filament_are_integrals_of_the_correlation():
    begin, end = np.array([0.0, 90.0, 400.0]), np.array([90.0, 250.0, 460.0])
    found = _alike(begin, end, 300.0)
    for i in range(3):
        for j in range(3):
            whole, _ = dblquad(
                lambda a, b: np.exp(-abs(a - b) / 300.0), begin[i], end[i], begin[j], end[j]
            )
            mean = whole / (end[i] - begin[i]) / (end[j] - begin[j])
            assert found[i, j] == pytest.approx(mean, rel=2e-4)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("lowest_mm3_s = [8]\nhighest_mm3_s = [10]", "a ramp from 8 to 10 mm³/s is too short"),
        ("lowest_mm3_s = [8, 9]\nhighest_mm3_s = [14]", "2 lowest flows stand beside 3"),
    ],
)
def test_a_ramp_that_cannot_be_is_refused(text, message):
    head = 'rig = "a"\nmaterial = "b"\ntemperatures_c = [210, 225, 240]\n'
    with pytest.raises(RecordError, match=message):
        from_toml(RampSpec, head + text, "ramp.toml")


def test_up_and_down_take_equal_times_at_equal_flows():
    for section in sections_of(SPEC):
        up = {s.flow_mm3_s: s.seconds for s in section.steps if s.kind == "up" and s.cycle == 1}
        down = {s.flow_mm3_s: s.seconds for s in section.steps if s.kind == "down" and s.cycle == 1}
        assert up == pytest.approx(down)
        assert sum(up.values()) == pytest.approx(SPEC.leg_s)
