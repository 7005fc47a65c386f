"""What the ceilings mean for the settings people type in, and for the upgrade they pay for."""

import dataclasses

import numpy as np
import pytest
from loops import fewest, some

from beadworth import capacity
from beadworth.capacity import ceiling_at
from beadworth.core.errors import FitError, NotFoundError
from beadworth.material import Material
from beadworth.rig import HotEnd, Rig

FLOWS = np.linspace(7.0, 25.0, 10)
RIGS = {
    "stock": Rig(name="stock", hot_end=HotEnd(heater_w=40.0)),
    "long": Rig(name="long", parent="stock", price=54.0, currency="EUR"),
}
MATERIALS = {
    "simulated PLA": Material(
        name="simulated PLA",
        density_g_cm3=1.24,
        min_temperature_c=190.0,
        max_temperature_c=240.0,
        specific_heat_j_gk=2.0,
    )
}


@pytest.fixture(scope="module")
def pair(truths):
    rng = np.random.default_rng(31)
    rows = truths.trial(truths.hard_limit, {210.0: 12.0, 220.0: 13.0}, FLOWS, 2, rng, rig="stock")
    rows += truths.trial(truths.hard_limit, {210.0: 17.5, 220.0: 13.02}, FLOWS, 2, rng, rig="long")
    return capacity.fit(rows)


def test_speed_is_flow_over_the_true_section(pair):
    sheet = capacity.speeds(pair, rig="stock", widths_mm=(0.45,), layers_mm=(0.2,), reserve=0.1)
    row = sheet.rows[0]
    # (0.45 − 0.2)·0.2 + π·0.2²/4 = 0.081416 mm²; the plain product is 0.09
    assert row.section_mm2 == pytest.approx(0.0814159, abs=1e-7)
    ceiling = ceiling_at(pair, "stock", None, 210.0).flow_mm3_s
    assert row.speed_mm_s == pytest.approx(0.9 * ceiling / 0.0814159, rel=1e-6)
    assert row.plain_speed_mm_s == pytest.approx(0.9 * ceiling / 0.09, rel=1e-9)
    assert row.low_mm_s < row.speed_mm_s < row.high_mm_s


def test_feed_and_power_stay_unknown_without_records(pair):
    bare = capacity.speeds(pair, rig="stock").settings[0]
    assert (bare.feed_mm_s, bare.power_w, bare.rated_w, bare.power_share) == (None,) * 4


def test_feed_and_power_with_records(pair):
    sheet = capacity.speeds(pair, rig="stock", rigs=RIGS, materials=MATERIALS)
    first = sheet.settings[0]
    # 1.75 mm filament has 2.405 mm² of section
    assert first.feed_mm_s == pytest.approx(first.flow_mm3_s / 2.405, rel=2e-4)
    # ρ·Q·c·ΔT by hand
    by_hand = 1.24e-3 * first.ceiling_mm3_s * 2.0 * (210 - 25)
    assert first.power_w == pytest.approx(by_hand, rel=1e-9)
    assert first.power_share == pytest.approx(by_hand / 40.0, rel=1e-9)


@pytest.mark.usefixtures("short_fits")
def test_wider_beads_only_and_one_sided_ceilings(truths):
    rng = np.random.default_rng(32)
    rows = truths.trial(truths.hard_limit, {220.0: 40.0}, FLOWS[:6], 2, rng)
    fit = capacity.fit(rows)
    sheet = capacity.speeds(fit, widths_mm=(0.2, 0.4), layers_mm=(0.2,))
    assert [(r.width_mm, r.high_mm_s) for r in sheet.rows] == [(0.4, None)]
    assert sheet.settings[0].bound == "at-least"
    low = truths.trial(truths.hard_limit, {220.0: 5.0}, FLOWS[:6], 2, rng)
    none = capacity.speeds(capacity.fit(low))
    assert none.rows == ()
    assert "no speed is given" in none.notes[0]


def test_a_temperature_outside_the_tested_is_marked(pair):
    sheet = capacity.speeds(pair, rig="stock", temperatures_c=(235.0,))
    assert sheet.settings[0].extrapolated
    assert "outside the tested temperatures" in sheet.notes[0]


def test_wrong_reserve_and_sizes_are_named_together(pair):
    with pytest.raises(FitError) as caught:
        capacity.speeds(pair, reserve=10.0, widths_mm=(0.0,))
    assert len(caught.value.problems) == 2


def test_difference_holds_the_truth_and_costs_money(pair):
    result = capacity.compare(pair, "stock", "long", rigs=RIGS)
    first, second = result.differences
    assert first.difference_mm3_s == pytest.approx(5.5, abs=0.3)  # three standard deviations
    assert first.low < first.difference_mm3_s < first.high
    assert first.resolved
    assert first.probability_better > 0.999
    assert first.percent.value == pytest.approx(5.5 / 12, abs=0.03)
    assert first.speed_mm_s.value == pytest.approx(first.difference_mm3_s / 0.0814159, rel=1e-6)
    money = first.money_per_mm3_s
    assert money.low < money.value < money.high
    assert money.value == pytest.approx(54.0 / first.difference_mm3_s)
    assert "EUR per added mm³/s" in first.sentence
    # 0.02 mm³/s is beyond this trial
    assert not second.resolved
    assert "cannot resolve" in second.sentence
    assert second.money_per_mm3_s.value is None
    assert 0.02 < second.probability_better < 0.98
    assert result.sentence.startswith("The candidate delivers more at 1 of 2")


def test_swapping_the_two_turns_the_sign(pair):
    there = capacity.compare(pair, "stock", "long").differences
    back = capacity.compare(pair, "long", "stock").differences
    for a, b in zip(there, back, strict=True):
        assert a.difference_mm3_s == pytest.approx(-b.difference_mm3_s, abs=1e-9)
        assert a.low == pytest.approx(-b.high, abs=1e-9)
        assert a.probability_better == pytest.approx(1 - b.probability_better, abs=1e-3)


@pytest.mark.usefixtures("quick_fits")
def test_coverage_of_the_difference(truths):
    """Pairs of small trials, a true difference of 1: each interval holds it at 95 %."""
    held, pairs = 0, some(5, long=40)
    for seed in range(pairs):
        rng = np.random.default_rng([33, seed])
        rows = []
        for rig, ceiling in (("stock", 13.0), ("long", 14.0)):
            rows += truths.trial(truths.excess_power, {220.0: ceiling}, FLOWS, 2, rng, rig=rig)
        d = capacity.compare(capacity.fit(rows), "stock", "long").differences[0]
        held += d.low <= 1.0 <= d.high
    assert held >= fewest(pairs)


@pytest.mark.usefixtures("short_fits")
def test_one_sided_ceilings_bound_the_difference(truths):
    rng = np.random.default_rng(34)
    rows = truths.trial(truths.hard_limit, {220.0: 12.0}, FLOWS, 2, rng, rig="stock")
    rows += truths.trial(truths.hard_limit, {220.0: 60.0}, FLOWS, 2, rng, rig="long")
    result = capacity.compare(capacity.fit(rows), "stock", "long", price=54.0)
    (d,) = result.differences
    assert d.difference_mm3_s is None
    assert d.high is None
    assert d.probability_better is None
    assert 12 < d.low <= 25 - 11.8
    assert d.resolved
    assert "at least" in d.sentence
    assert d.money_per_mm3_s.high == pytest.approx(54.0 / d.low)
    (back,) = capacity.compare(capacity.fit(rows), "long", "stock").differences
    assert back.low is None
    assert back.high == pytest.approx(-d.low)


@pytest.mark.usefixtures("short_fits")
def test_two_one_sided_ceilings_cannot_tell(truths):
    rng = np.random.default_rng(35)
    rows = truths.trial(truths.hard_limit, {220.0: 60.0}, FLOWS, 2, rng, rig="stock")
    rows += truths.trial(truths.hard_limit, {220.0: 60.0}, FLOWS, 2, rng, rig="long")
    (d,) = capacity.compare(capacity.fit(rows), "stock", "long").differences
    assert not d.resolved
    assert "cannot tell" in d.sentence


@pytest.mark.usefixtures("short_fits")
def test_two_materials_on_one_rig(truths, pair):
    rng = np.random.default_rng(36)
    rows = truths.trial(truths.hard_limit, {220.0: 12.0}, FLOWS, 2, rng)
    rows += [dataclasses.replace(r, material="PETG", mass_g=r.mass_g * 1.02) for r in rows]
    result = capacity.compare(
        capacity.fit(rows),
        "simulated rig",
        "simulated rig",
        material="simulated PLA",
        candidate_material="PETG",
    )
    assert result.differences[0].difference_mm3_s == pytest.approx(0.0, abs=1e-6)
    assert "One rig, two materials." in result.notes
    with pytest.raises(FitError, match="with itself"):
        capacity.compare(pair, "stock", "stock")


def test_refusals_name_what_there_is(truths, pair):
    with pytest.raises(NotFoundError, match="long, simulated PLA; stock, simulated PLA"):
        capacity.compare(pair, "stock", "longer")
    rng = np.random.default_rng(37)
    rows = truths.trial(truths.hard_limit, {210.0: 12.0}, FLOWS, 1, rng, rig="stock")
    rows += truths.trial(truths.hard_limit, {220.0: 12.0}, FLOWS, 1, rng, rig="long")
    with pytest.raises(FitError, match="stock at 210 °C, long at 220 °C"):
        capacity.compare(capacity.fit(rows), "stock", "long")


@pytest.mark.parametrize(("share", "noted"), [(0.695, False), (0.705, True)])
def test_a_heater_is_called_short_above_seventy_per_cent_of_its_watts(pair, share, noted):
    kind = {"rig": "stock", "temperatures_c": [220.0], "materials": MATERIALS}
    watts = capacity.speeds(pair, rigs=RIGS, **kind).settings[0].power_w
    rig = Rig(name="stock", hot_end=HotEnd(heater_w=watts / share))
    sheet = capacity.speeds(pair, rigs={"stock": rig}, **kind)
    assert sheet.settings[0].power_share == pytest.approx(share, rel=1e-9)
    assert any("of the heater's watts" in note for note in sheet.notes) == noted
