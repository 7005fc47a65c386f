"""Ceilings from readings: practice, calibration, one-sided answers, properties, refusals."""

import dataclasses
import json
import math

import numpy as np
import pytest
import shared_fits
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from loops import fewest, some

from beadworth import capacity
from beadworth.core.errors import FitError, NotFoundError
from beadworth.material import Material
from beadworth.melt import plug_flow
from beadworth.rig import Rig
from beadworth.trial import Reading, Spool

FED_G = 1000 * 2.405 * 1.24e-3

# Common practice, no source: a standard-length melt zone with a 0.4 mm brass nozzle and PLA
# loses little up to 12 mm³/s at 210 °C and about 5 % at 14; little up to 14 at 220 °C and about
# 9 % at 16; about 2 % at 16 at 230 °C.
PRACTICE = {
    210.0: {6: 0, 8: 0, 10: 0, 12: 0.003, 14: 0.05},
    220.0: {6: 0, 8: 0, 10: 0, 12: 0, 14: 0.003, 16: 0.09},
    230.0: {6: 0, 8: 0, 10: 0, 12: 0, 14: 0.003, 16: 0.02},
}
PRACTICE_CEILING = {210.0: 13.3, 220.0: 14.7, 230.0: 16.0}


def practice():
    return [
        Reading("standard zone", "PLA", t, float(q), 1000.0, FED_G * (1 - loss))
        for t, row in PRACTICE.items()
        for q, loss in row.items()
    ]


@pytest.fixture(scope="module")
def practice_fit():
    return capacity.fit(practice())


def test_ceilings_of_common_practice(practice_fit):
    found = {c.temperature_c: c for c in practice_fit.ceilings}
    for temperature, expected in PRACTICE_CEILING.items():
        assert found[temperature].bound == "interval"
        assert found[temperature].flow_mm3_s == pytest.approx(expected, abs=0.5)
    flows = [found[t].flow_mm3_s for t in sorted(found)]
    assert flows == sorted(flows)


def test_one_law_describes_common_practice(practice_fit):
    law = practice_fit.groups[0].law
    assert law.supported
    assert law.p_value > 0.05
    for temperature, expected in PRACTICE_CEILING.items():
        by_law = plug_flow.ceiling_mm3_s(
            law.alpha_l_mm3_s, law.softening_c, temperature, law.feed_c
        )
        assert float(by_law) == pytest.approx(expected, abs=0.5)
    # α·L of a 20 mm zone of PLA: 0.08 mm²/s × 20 mm, softening in the melting range
    assert 1.0 < law.alpha_l_mm3_s < 2.5
    assert 150 < law.softening_c < 190


CEILINGS = {205.0: 12.0, 215.0: 13.5, 225.0: 14.8}
SHORT = [HealthCheck.function_scoped_fixture]  # short_fits holds for all cases alike
FLOWS = np.linspace(7.0, 19.0, 8)


@pytest.mark.parametrize("name", ["hard limit", "power 1.6 of the excess", "soft knee, p = 12"])
@pytest.mark.usefixtures("quick_fits")
def test_intervals_hold_the_truth_as_often_as_they_say(truths, name):
    """Small seeded version of benchmarks/capacity_calibration.py: 25 trials, 75 intervals.

    At a true coverage of 95 % fewer than 65 of 75 would be a chance under 1 in 100; the same
    intervals at a tenth of their width must fail.
    """
    held, tenth, width = 0, 0, []
    trials = some(3, long=25)
    for seed in range(trials):
        rng = np.random.default_rng([20, seed])
        shift = rng.uniform(-1.0, 1.0)
        truth = {t: c + shift for t, c in CEILINGS.items()}
        fit = capacity.fit(truths.trial(truths.BAR_TRUTHS[name], truth, FLOWS, 3, rng))
        for c in fit.ceilings:
            assert c.bound == "interval"
            held += c.low <= truth[c.temperature_c] <= c.high
            tenth += abs(truth[c.temperature_c] - c.flow_mm3_s) <= (c.high - c.low) / 20
            width.append(c.high - c.low)
    assert held >= fewest(3 * trials)
    assert tenth < fewest(3 * trials)  # the check can fail
    widest = {"hard limit": 0.5, "power 1.6 of the excess": 0.65}.get(name, 0.8)
    error = np.std(width) / np.sqrt(trials)  # the three of a trial go together
    assert np.mean(width) - 2 * error <= widest


def one_temperature(truths, ceiling, flows, seed=3, noise=0.006, truth=None, replicates=3):
    rng = np.random.default_rng(seed)
    return truths.trial(truth or truths.soft_knee(14.0), {220.0: ceiling}, flows, replicates, rng,
                        noise=noise)  # fmt: skip


@pytest.mark.parametrize(("how", "few"), [("quick", True), ("own", False), ("full", False)])
def test_tests_fit_with_the_effort_they_ask_for(truths, how, few):
    """A caller that named its effort went past both, and all tests took five times as long."""
    readings = one_temperature(truths, 12.0, FLOWS)
    with shared_fits.effort(how):
        draws = capacity.fit(readings).groups[0].sampling.effective_draws
    assert (draws < 1000) == few, draws


def test_quick_fits_are_quick(truths, quick_fits):
    sampling = capacity.fit(one_temperature(truths, 12.0, FLOWS)).groups[0].sampling
    assert sampling.effective_draws < 1000


@pytest.mark.usefixtures("short_fits")
def test_ladder_that_ends_before_the_knee_says_at_least(truths):
    fit = capacity.fit(one_temperature(truths, 40.0, np.linspace(6, 18, 7)))
    (c,) = fit.ceilings
    assert (c.bound, c.flow_mm3_s, c.high) == ("at-least", None, None)
    assert 15 < c.low <= 18
    assert any("from below only" in note for note in fit.groups[0].notes)
    assert fit.groups[0].posteriors == ()


@pytest.mark.usefixtures("short_fits")
def test_ladder_that_starts_past_the_knee_says_at_most(truths):
    fit = capacity.fit(one_temperature(truths, 5.0, np.linspace(9, 21, 7)))
    (c,) = fit.ceilings
    assert (c.bound, c.flow_mm3_s, c.low) == ("at-most", None, None)
    assert 9 <= c.high < 11
    assert any("from above only" in note for note in fit.groups[0].notes)


@pytest.mark.parametrize("side", ["at-least", "at-most"])
@pytest.mark.usefixtures("quick_fits")
def test_one_sided_bounds_hold_as_often_as_they_say(truths, side):
    """One-sided 95 % over ladders with the knee just outside the ladder."""
    held = said = 0
    ladders = some(8, long=60)
    for seed in range(ladders):
        ceiling = 15.2 if side == "at-least" else 9.3
        readings = one_temperature(
            truths, ceiling, np.linspace(6, 14.5, 6) if side == "at-least" else
            np.linspace(9.5, 18, 6), seed=seed, truth=truths.hard_limit,
        )  # fmt: skip
        (c,) = capacity.fit(readings).ceilings
        if c.bound != side:
            continue
        said += 1
        held += (c.low <= ceiling) if side == "at-least" else (ceiling <= c.high)
    assert said > 0.4 * ladders
    assert held >= 0.85 * said


@pytest.mark.usefixtures("short_fits")
def test_references_anchor_their_own_temperature(truths):
    """A ladder past the knee reads a ceiling once low-flow references are there."""
    rng = np.random.default_rng(5)
    high = truths.trial(truths.hard_limit, {220.0: 9.0}, np.linspace(10, 18, 5), 2, rng)
    assert capacity.fit(high).ceilings[0].bound == "at-most"
    references = [
        dataclasses.replace(r, reference=True)
        for r in truths.trial(truths.hard_limit, {220.0: 9.0}, [4.0], 4, rng)
    ]
    fit = capacity.fit(high + references)
    (c,) = fit.ceilings
    assert c.bound == "interval"
    assert c.low <= 9.0 <= c.high
    assert fit.groups[0].delivery[0].anchored_by == "references"
    assert capacity.fit(practice()).groups[0].delivery[0].anchored_by == "lowest flows"


@pytest.mark.usefixtures("short_fits")
def test_void_readings_do_not_count(truths):
    rng = np.random.default_rng(6)
    readings = truths.trial(truths.hard_limit, CEILINGS, FLOWS, 2, rng)
    wrong = dataclasses.replace(readings[0], mass_g=readings[0].mass_g * 0.5, void=True)
    assert capacity.fit([*readings, wrong]).ceilings == capacity.fit(readings).ceilings


@pytest.mark.usefixtures("short_fits")
def test_absolute_delivery_needs_density_and_diameter(truths):
    rng = np.random.default_rng(7)
    readings = truths.trial(truths.hard_limit, CEILINGS, FLOWS, 3, rng, delivery=0.97)
    bare = capacity.fit(readings).groups[0].delivery[0]
    assert bare.factor is None
    known = capacity.fit(
        readings,
        rigs={"simulated rig": Rig(name="simulated rig")},
        materials={
            "simulated PLA": Material(
                name="simulated PLA",
                density_g_cm3=1.24,
                min_temperature_c=190.0,
                max_temperature_c=240.0,
            )
        },
    ).groups[0].delivery[0]  # fmt: skip
    of_weighing = known.u_g_per_m / known.g_per_m
    assert known.factor == pytest.approx(0.97, abs=3.5 * 0.97 * of_weighing)
    assert 0.0005 < of_weighing < 0.004
    # density 0.5 % and ±0.02 mm of diameter, which the weighings cannot tell
    shared = math.hypot(0.005, 2 * 0.02 / math.sqrt(3) / 1.75)
    assert known.u_factor == pytest.approx(known.factor * math.hypot(shared, of_weighing))
    assert known.g_per_m == bare.g_per_m


@pytest.mark.usefixtures("short_fits")
def test_a_measured_diameter_frees_the_absolute_delivery_of_the_spool(truths):
    """Thicker filament weighs more without the drive having fed more."""
    rng = np.random.default_rng(7)
    readings = [
        dataclasses.replace(r, mass_g=r.mass_g * (1.78 / 1.75) ** 2, diameter_mm=1.78)
        for r in truths.trial(truths.hard_limit, CEILINGS, FLOWS, 3, rng, delivery=0.97)
    ]
    known = {
        "rigs": {"simulated rig": Rig(name="simulated rig")},
        "materials": {
            "simulated PLA": Material(name="simulated PLA", density_g_cm3=1.24,
                                      min_temperature_c=190.0, max_temperature_c=240.0)
        },
    }  # fmt: skip
    coarse, fine = (
        capacity.fit(readings, spool=Spool(diameter_u_mm=u), **known).groups[0].delivery[0]
        for u in (0.01, 0.005)
    )
    assert coarse.factor == fine.factor == pytest.approx(0.97, abs=0.01)
    assert fine.u_factor < coarse.u_factor < 0.014


@pytest.mark.usefixtures("short_fits")
@settings(
    max_examples=some(2, long=12), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.integers(0, 10**6), st.floats(0.3, 3.0))
def test_neither_order_nor_the_unit_of_mass_moves_a_ceiling(truths, seed, factor):
    rng = np.random.default_rng(seed)
    readings = truths.trial(truths.soft_knee(10.0), {210.0: 11.0, 225.0: 13.0}, FLOWS, 1, rng)
    first = capacity.fit(readings)
    shuffled = [
        dataclasses.replace(readings[i], mass_g=readings[i].mass_g * factor)
        for i in rng.permutation(len(readings))
    ]
    for a, b in zip(first.ceilings, capacity.fit(shuffled).ceilings, strict=True):
        assert a.bound == b.bound
        for name in ("flow_mm3_s", "low", "high"):
            assert getattr(a, name) == pytest.approx(getattr(b, name), rel=1e-6)


@pytest.mark.usefixtures("short_fits")
@settings(
    max_examples=some(5, long=25), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.integers(0, 10**6),
    st.floats(6.0, 30.0),
    st.floats(0.005, 0.2),
    st.integers(3, 9),
    st.integers(1, 3),
)
def test_an_interval_holds_its_estimate_and_a_bound_has_one_side(
    truths, seed, ceiling, loss, flows, replicates
):
    rng = np.random.default_rng(seed)
    ladder = np.sort(rng.uniform(4.0, 34.0, flows))
    readings = truths.trial(truths.soft_knee(9.0), {220.0: ceiling}, ladder, replicates, rng)
    (c,) = capacity.fit(readings, loss=loss).ceilings
    if c.bound == "interval":
        assert 0 < c.low <= c.flow_mm3_s <= c.high < 1.6 * ladder[-1]
    elif c.bound == "at-least":
        assert c.flow_mm3_s is None
        assert c.high is None
        assert c.low is None or c.low <= ladder[-1]
    else:
        assert c.flow_mm3_s is None
        assert c.low is None
        assert c.high >= ladder[0]


def test_too_few_flows_are_named_all_at_once():
    rows = [
        Reading("a", "PLA", 210.0, 8.0, 600.0, 1.7),
        Reading("a", "PLA", 210.0, 9.0, 600.0, 1.7),
        Reading("b", "PLA", 220.0, 8.0, 600.0, 1.7),
    ]
    with pytest.raises(FitError) as caught:
        capacity.fit(rows)
    problems = caught.value.problems
    assert [p.where for p in problems] == ["a, PLA, 210 °C", "b, PLA, 220 °C"]
    assert "readings at 2 flows only (8, 9 mm³/s)" in problems[0].what
    assert "3 different flows are needed" in problems[1].what
    assert all(p.remedy for p in problems)


@pytest.mark.usefixtures("short_fits")
def test_a_temperature_that_lacks_flows_is_left_out_with_a_note(truths):
    rng = np.random.default_rng(1)
    readings = truths.trial(truths.hard_limit, {220.0: 12.0}, FLOWS, 2, rng)
    fit = capacity.fit([*readings, dataclasses.replace(readings[0], temperature_c=230.0)])
    assert [c.temperature_c for c in fit.ceilings] == [220.0]
    assert "230 °C" in fit.notes[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"mass_g": 0.0}, "net mass is 0 g"),
        ({"tare_g": 5.0}, "net mass is"),
        ({"flow_mm3_s": -2.0}, "flow is -2 mm³/s"),
        ({"filament_mm": 0.0}, "fed length is 0 mm"),
    ],
)
def test_impossible_readings_are_refused_with_their_place(change, words):
    rows = practice()
    rows[3] = dataclasses.replace(rows[3], coupon="A04", **change)
    with pytest.raises(FitError, match=words) as caught:
        capacity.fit(rows)
    assert "coupon A04" in caught.value.problems[0].where


@pytest.mark.parametrize(("name", "value"), [("loss", 0.3), ("loss", 2.0), ("confidence", 95.0)])
def test_loss_and_confidence_out_of_range_are_refused(name, value):
    with pytest.raises(FitError, match=f"{value:g}"):
        capacity.fit(practice(), **{name: value})


def test_nothing_to_fit_says_what_to_do():
    with pytest.raises(FitError, match="no readings"):
        capacity.fit([])
    with pytest.raises(FitError, match="all void"):
        capacity.fit([dataclasses.replace(r, void=True) for r in practice()])


def test_saved_fit_answers_like_the_fresh_one(practice_fit):
    text = json.dumps(capacity.fit_to_json(practice_fit), allow_nan=False)
    loaded = capacity.fit_from_json(json.loads(text))
    assert capacity.fit_to_json(loaded) == capacity.fit_to_json(practice_fit)
    for temperature in (210.0, 214.0, 240.0):
        for loss in (0.02, 0.05):
            fresh = capacity.ceiling_at(practice_fit, None, None, temperature, loss)
            saved = capacity.ceiling_at(loaded, None, None, temperature, loss)
            assert saved.bound == fresh.bound
            assert saved.low == pytest.approx(fresh.low, rel=1e-5)
        flows = np.array([3.0, 12.0, 14.5, 30.0, 60.0])
        for a, b in zip(
            capacity.loss_at(loaded, None, None, temperature, flows),
            capacity.loss_at(practice_fit, None, None, temperature, flows),
            strict=True,
        ):
            assert a == pytest.approx(b, abs=1e-6)


def test_json_has_the_fixed_shape(practice_fit):
    data = capacity.fit_to_json(practice_fit)
    assert set(data) == {"ceilings", "delivery", "law", "fit"}
    wanted = {"rig", "material", "temperature_c", "loss", "flow_mm3_s", "low", "high", "bound"}
    assert wanted <= set(data["ceilings"][0])


@pytest.mark.parametrize(
    "data", [{}, {"fit": 3}, [], {"fit": {"format": 9}}, {"fit": {"format": 1, "groups": [{}]}}]
)
def test_a_file_that_is_no_saved_fit_is_refused(data):
    with pytest.raises(FitError):
        capacity.fit_from_json(data)


def test_a_fit_of_the_first_release_is_read_and_says_how_it_was_made(practice_fit):
    """It said which families it had averaged, and nothing of a method."""
    assert "any loss that grows" in capacity.describe_method(practice_fit.groups[0])
    data = json.loads(json.dumps(capacity.fit_to_json(practice_fit)))
    for group in data["fit"]["groups"]:
        del group["method"], group["sampling"]
        for one in group["posteriors"]:
            del one["draw_mm3_s"]
        group["families"] = [
            {"name": "soft knee", "weight": 0.81, "parameters": {"knee": 13.2}, "u_parameters": {}},
            {"name": "hard limit", "weight": 0.19, "parameters": {}, "u_parameters": {}},
        ]
    (group,) = capacity.fit_from_json(data).groups
    said = capacity.describe_method(group)
    assert "release 0.1" in said
    assert "soft knee (81 %) and hard limit (19 %)" in said
    assert "calculate the fit again" in said


def test_draws_of_all_temperatures_belong_together(practice_fit):
    """They share a curve, so that their correlation is that of the posterior, not nought."""
    draws = np.array([p.draw_mm3_s for p in practice_fit.groups[0].posteriors])
    assert draws.shape == (3, 400)
    for p in practice_fit.groups[0].posteriors:
        assert np.median(p.draw_mm3_s) == pytest.approx(np.median(p.flow_mm3_s), abs=0.1)
    rng = np.random.default_rng(1)
    shuffled = np.array([rng.permutation(row) for row in draws])
    assert np.abs(np.corrcoef(shuffled)[0, 1:]).max() < 0.2
    assert np.abs(np.corrcoef(draws)).sum() > np.abs(np.corrcoef(shuffled)).sum()


def test_unknown_rig_names_those_there_are(practice_fit):
    with pytest.raises(NotFoundError, match="standard zone, PLA"):
        capacity.ceiling_at(practice_fit, "another", "PLA", 210.0)


def test_ceiling_at_another_loss_agrees_with_a_fit_at_that_loss(truths):
    rng = np.random.default_rng(11)
    readings = truths.trial(truths.soft_knee(12.0), CEILINGS, FLOWS, 3, rng)
    across, direct = capacity.fit(readings, loss=0.02), capacity.fit(readings, loss=0.05)
    for c in direct.ceilings:
        read = capacity.ceiling_at(across, c.rig, c.material, c.temperature_c, 0.05)
        # beforehand the curve is unknown from the stated loss outwards, so the two differ a little
        assert read.flow_mm3_s == pytest.approx(c.flow_mm3_s, abs=0.08)
        assert read.low == pytest.approx(c.low, abs=0.12)
        assert read.high == pytest.approx(c.high, abs=0.12)


@pytest.mark.usefixtures("short_fits")
def test_law_predicts_and_widens_outside_the_tested_range(truths):
    law = {t: float(plug_flow.ceiling_mm3_s(1.6, 172.0, t, 25.0)) for t in
           (205.0, 215.0, 225.0, 235.0, 250.0)}  # fmt: skip
    tested = {t: law[t] for t in (205.0, 215.0, 225.0)}
    rng = np.random.default_rng(12)
    fit = capacity.fit(truths.trial(truths.hard_limit, tested, np.linspace(8, 22, 9), 3, rng))
    assert fit.groups[0].law.supported
    answers = {t: capacity.ceiling_at(fit, None, None, t) for t in (220.0, 235.0, 250.0)}
    assert not answers[220.0].extrapolated
    assert answers[235.0].extrapolated
    assert all(a.basis == "law" for a in answers.values())
    widths = [a.high - a.low for a in answers.values()]
    assert widths == sorted(widths)
    for t in (235.0, 250.0):
        assert answers[t].low <= law[t] <= answers[t].high


@pytest.mark.usefixtures("short_fits")
def test_without_the_law_hotter_is_at_least_and_cooler_at_most(truths):
    rng = np.random.default_rng(13)
    readings = truths.trial(truths.hard_limit, {200.0: 12.0, 210.0: 15.0, 220.0: 15.4},
                            np.linspace(8, 19, 8), 3, rng)  # fmt: skip
    fit = capacity.fit(readings)
    law = fit.groups[0].law
    assert not law.supported
    assert "do not follow" in law.sentence
    hotter, cooler = (
        capacity.ceiling_at(fit, None, None, 235.0),
        capacity.ceiling_at(fit, None, None, 190.0),
    )
    assert (hotter.bound, hotter.extrapolated, hotter.high) == ("at-least", True, None)
    assert (cooler.bound, cooler.extrapolated, cooler.low) == ("at-most", True, None)
    between = capacity.ceiling_at(fit, None, None, 205.0)
    assert between.basis == "between"
    assert between.low < 13.5 < between.high
    loss, low, high = capacity.loss_at(fit, None, None, 235.0, np.array([10.0, 17.0]))
    assert (low == 0).all()
    assert high[1] > 0.05
    assert (loss <= high).all()


@pytest.mark.usefixtures("short_fits")
def test_two_temperatures_settle_the_law_and_do_not_test_it(truths):
    rng = np.random.default_rng(14)
    fit = capacity.fit(truths.trial(truths.hard_limit, {210.0: 12.0, 225.0: 14.0}, FLOWS, 3, rng))
    law = fit.groups[0].law
    assert law.p_value is None
    assert not law.supported
    assert "cannot test" in law.sentence
