"""Loss and its uncertainty: by hand, against GTC, and what cancels."""

import dataclasses
import math

import GTC
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import Balance, Reading, Spool
from beadworth.trial.readings.loss import coupon_losses, delivered_g_per_mm, delivery_factor

PLA = Material(name="PLA", density_g_cm3=1.24, min_temperature_c=190.0, max_temperature_c=240.0)
HERON = Rig(name="Heron")
BALANCE = Balance(readability_g=0.01, repeatability_g=0.008, linearity_g=0.02)
SPOOL = Spool(diameter_tolerance_mm=0.02, correlation_length_mm=1000.0, diameter_u_mm=0.004)


def reading(flow=8.0, mass=1.79, *, temperature=220.0, reference=False, **more):
    return Reading("Heron", "PLA", temperature, flow, 600.0, mass, reference=reference, **more)


BLOCK = [
    reading(4.0, 3.02, reference=True, tare_g=1.23),
    reading(12.0, 2.93, tare_g=1.23),
    reading(4.0, 3.00, reference=True, tare_g=1.23),
    reading(14.0, 1.60, diameter_mm=1.74),
    reading(4.0, 1.80, reference=True),
]


def test_loss_is_against_the_mean_of_the_references_of_the_block():
    block = [r for r in BLOCK if not r.diameter_mm]
    losses = coupon_losses(block, BALANCE, SPOOL)
    mean = (1.79 + 1.77 + 1.80) / 3
    assert [c.reading for c in losses] == block
    assert losses[1].loss == pytest.approx(1 - 1.70 / mean, abs=1e-12)
    assert losses[0].loss == pytest.approx(1 - 1.79 / mean, abs=1e-12)
    assert {c.anchored_by for c in losses} == {"references"}


@pytest.mark.parametrize("index", range(len(BLOCK)))
def test_uncertainty_of_loss_agrees_with_gtc(index):
    """The whole block as a measurement model, propagated by an independent library."""
    pi4 = math.pi / 4
    feed = 0.5 / math.sqrt(3)
    # relative section of the spool over a coupon of 0.6 correlation lengths, written out
    kept = 2 / 0.36 * (0.6 - 1 + math.exp(-0.6))
    spool_u = 0.02 / math.sqrt(3) * math.sqrt(kept)
    y, bent = [], []
    for r in BLOCK:
        step = GTC.ureal(0, 0.005 / math.sqrt(3)) + GTC.ureal(0, 0.008)
        step -= GTC.ureal(0, 0.005 / math.sqrt(3)) + GTC.ureal(0, 0.008)
        net = r.net_g + step
        if r.diameter_mm:
            diameter = GTC.ureal(r.diameter_mm, 0.004)
        else:
            # nominal: the mean of what was measured in the block, 1.74; the spool's relative
            # spread is that about 1.75
            diameter = 1.74 * GTC.ureal(1.0, spool_u / 1.75)
        y.append(net / (600.0 + GTC.ureal(0, feed)) / (pi4 * diameter * diameter))
        bent.append(GTC.ureal(0, 0.02 / math.sqrt(3)) / r.net_g)
    references = [i for i, r in enumerate(BLOCK) if r.reference]
    mean = sum(y[i] for i in references) / 3
    loss = 1 - y[index] / mean
    u = GTC.uncertainty(loss)
    if index not in references:
        # linearity: independent for the two loads, the references sharing theirs
        ratio = GTC.value(y[index] / mean)
        shared = math.sqrt(np.mean([GTC.uncertainty(bent[i]) ** 2 for i in references]))
        u = math.hypot(u, ratio * math.hypot(GTC.uncertainty(bent[index]), shared))
    got = coupon_losses(BLOCK, BALANCE, SPOOL)[index]
    assert got.loss == pytest.approx(GTC.value(loss), abs=1e-12)
    # equal up to what a reference heavier or lighter than their mean weighs in it (second order)
    assert got.u_loss == pytest.approx(u, rel=0.006)


def test_equal_references_agree_with_gtc_to_the_last_digit():
    block = [reading(4.0, 1.79, reference=True), reading(4.0, 1.79, reference=True),
             reading(12.0, 1.70)]  # fmt: skip
    balance, spool = (
        Balance(readability_g=0.01, repeatability_g=0.0),
        Spool(diameter_tolerance_mm=0.0),
    )
    masses = [
        r.mass_g + GTC.ureal(0, 0.005 / math.sqrt(3)) - GTC.ureal(0, 0.005 / math.sqrt(3))
        for r in block
    ]
    fed = [600 + GTC.ureal(0, 0.5 / math.sqrt(3)) for _ in block]
    y = [m / f for m, f in zip(masses, fed, strict=True)]
    for i, got in enumerate(coupon_losses(block, balance, spool)):
        want = 1 - y[i] / ((y[0] + y[1]) / 2)
        assert got.u_loss == pytest.approx(GTC.uncertainty(want), rel=1e-9)


def test_a_coupon_of_thicker_filament_has_not_lost_less():
    thick, thin = 1.77, 1.73
    mass = 600 * math.pi / 4 * 1.24e-3
    block = [reading(4.0, mass * d * d, diameter_mm=d, reference=True) for d in (thick, thin)]
    block.append(reading(12.0, 0.96 * mass * thick * thick, diameter_mm=thick))
    assert coupon_losses(block)[2].loss == pytest.approx(0.04, abs=1e-12)


def test_blocks_do_not_mix_and_void_readings_do_not_count():
    block = [
        reading(4.0, 1.80, reference=True),
        reading(4.0, 1.70, reference=True, temperature=230.0),
        reading(12.0, 1.70, temperature=230.0),
        reading(4.0, 0.5, reference=True, void=True),
        dataclasses.replace(reading(12.0, 1.70), rig="Crane"),
    ]
    losses = coupon_losses(block)
    assert [round(c.loss, 12) for c in losses] == [0.0, 0.0, 0.0, 0.0]
    assert losses[-1].anchored_by == "lowest flows"


def test_without_references_the_lowest_flow_anchors():
    block = [reading(6.0, 1.78), reading(6.0, 1.80), reading(12.0, 1.70)]
    losses = coupon_losses(block)
    assert losses[2].loss == pytest.approx(1 - 1.70 / 1.79)
    assert {c.anchored_by for c in losses} == {"lowest flows"}


def test_more_references_and_a_measured_diameter_make_loss_surer():
    def u(references, **more):
        block = [reading(4.0, 1.79, reference=True, **more) for _ in range(references)]
        return coupon_losses([*block, reading(12.0, 1.70, **more)], BALANCE, SPOOL)[-1].u_loss

    assert u(1) > u(3) > u(9)
    assert u(3, diameter_mm=1.75) < u(3)


@settings(deadline=None)
@given(st.floats(0.5, 3.0), st.floats(0.2, 5.0))
def test_density_and_drive_calibration_cancel(calibration, density):
    block = [reading(4.0, 1.79 * calibration * density, reference=True),
             reading(12.0, 1.70 * calibration * density)]  # fmt: skip
    assert coupon_losses(block)[1].loss == pytest.approx(1 - 1.70 / 1.79, abs=1e-9)


def test_no_readings_no_losses():
    assert coupon_losses([]) == ()


def test_delivery_factor_is_weighed_over_fed():
    fed = math.pi / 4 * 1.75**2 * 1.24e-3
    block = [reading(4.0, reference=True), reading(4.0, reference=True)]
    factor, u = delivery_factor(0.98 * fed, 0.003, block, PLA, HERON, spool=SPOOL)
    assert factor == pytest.approx(0.98, abs=1e-12)
    # by hand: the weighings' own, the spool's mean diameter (2·0.02/√3/1.75), density 0.5 %
    by_hand = math.sqrt(0.003**2 + (0.04 / math.sqrt(3) / 1.75) ** 2 + 0.005**2)
    assert u == pytest.approx(0.98 * by_hand, rel=1e-9)


def test_delivery_factor_is_known_better_where_every_diameter_was_measured():
    fed = math.pi / 4 * 1.75**2 * 1.24e-3
    measured = [reading(4.0, diameter_mm=1.78, reference=True), reading(4.0, diameter_mm=1.77)]
    _, u = delivery_factor(fed, 0.003, measured, PLA, HERON)
    # by hand: the micrometer's 0.005 mm stands in for the tolerance
    assert u == pytest.approx(math.sqrt(0.003**2 + (0.01 / 1.75) ** 2 + 0.005**2), rel=1e-9)
    _, unknown = delivery_factor(fed, 0.003, [*measured, reading(4.0)], PLA, HERON)
    assert unknown > 1.7 * u


def test_delivered_is_freed_of_the_diameter_only_where_measured():
    got = delivered_g_per_mm([reading(mass=1.8), reading(mass=1.8, diameter_mm=1.8)], 1.75)
    assert got == pytest.approx([1.8 / 600, 1.8 / 600 * (1.75 / 1.8) ** 2])
