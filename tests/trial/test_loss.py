"""What a coupon delivered, and delivery against what was fed: by hand."""

import math

import pytest

from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import Reading, Spool
from beadworth.trial.readings.loss import anchors_of, delivered_g_per_mm, delivery_factor

PLA = Material(name="PLA", density_g_cm3=1.24, min_temperature_c=190.0, max_temperature_c=240.0)
STILT = Rig(name="Stilt")
SPOOL = Spool(diameter_tolerance_mm=0.02, correlation_length_mm=1000.0, diameter_u_mm=0.004)


def reading(flow=8.0, mass=1.79, *, temperature=220.0, reference=False, **more):
    return Reading("Stilt", "PLA", temperature, flow, 600.0, mass, reference=reference, **more)


def test_without_references_the_lowest_flow_anchors():
    block = [reading(6.0, 1.78), reading(6.0, 1.80), reading(12.0, 1.70)]
    assert anchors_of(block) == (block[:2], "lowest flows")
    reference = reading(8.0, reference=True)
    assert anchors_of([*block, reference]) == ([reference], "references")


def test_delivery_factor_is_weighed_over_fed():
    fed = math.pi / 4 * 1.75**2 * 1.24e-3
    block = [reading(4.0, reference=True), reading(4.0, reference=True)]
    factor, u = delivery_factor(0.98 * fed, 0.003, block, PLA, STILT, spool=SPOOL)
    assert factor == pytest.approx(0.98, abs=1e-12)
    # by hand: the weighings' own, the spool's mean diameter (2·0.02/√3/1.75), density 0.5 %
    by_hand = math.sqrt(0.003**2 + (0.04 / math.sqrt(3) / 1.75) ** 2 + 0.005**2)
    assert u == pytest.approx(0.98 * by_hand, rel=1e-9)


def test_delivery_factor_is_known_better_where_every_diameter_was_measured():
    fed = math.pi / 4 * 1.75**2 * 1.24e-3
    measured = [reading(4.0, diameter_mm=1.78, reference=True), reading(4.0, diameter_mm=1.77)]
    _, u = delivery_factor(fed, 0.003, measured, PLA, STILT)
    # by hand: the micrometer's 0.005 mm stands in for the tolerance
    assert u == pytest.approx(math.sqrt(0.003**2 + (0.01 / 1.75) ** 2 + 0.005**2), rel=1e-9)
    _, unknown = delivery_factor(fed, 0.003, [*measured, reading(4.0)], PLA, STILT)
    assert unknown > 1.7 * u


def test_delivered_is_freed_of_the_diameter_only_where_measured():
    got = delivered_g_per_mm([reading(mass=1.8), reading(mass=1.8, diameter_mm=1.8)], 1.75)
    assert got == pytest.approx([1.8 / 600, 1.8 / 600 * (1.75 / 1.8) ** 2])
