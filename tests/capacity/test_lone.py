"""Coupons alone at their flow: an odd one is found by leaving each out, good ones stay."""

import dataclasses

import numpy as np
import pytest
from loops import fewest, some

from beadworth import capacity
from beadworth.capacity.model.block import scatter_of
from beadworth.capacity.model.lone import lone_odd
from beadworth.capacity.model.prepare import groups_of

CEILINGS = {205.0: 12.0, 215.0: 13.5, 225.0: 14.8}
FLOWS = np.array([7.0, 9.0, 11.0, 12.5, 14.0, 15.5, 17.0])
NOISE = 0.005


def coupons(truths, seed):
    """A ladder of one coupon per flow, with two references at 4 mm³/s."""
    rng = np.random.default_rng([77, seed])
    shapes = (truths.hard_limit, truths.soft_knee(8.0), truths.soft_knee(14.0))
    truth = shapes[seed % len(shapes)]
    rows = truths.trial(truth, CEILINGS, np.array([4.0, 4.0, *FLOWS]), 1, rng, noise=NOISE)
    return [
        dataclasses.replace(r, coupon=f"C{n:02d}", reference=r.flow_mm3_s == 4.0)
        for n, r in enumerate(rows)
    ]


def aside(rows):
    (group,), _ = groups_of(rows, None, scatter_of(NOISE))
    found = lone_odd(group, 0.02, np.ones(len(rows)))
    return {r.coupon for r, odd in zip(group.readings, found, strict=True) if odd}


def lighter(rows, at, by):
    return [
        dataclasses.replace(r, mass_g=r.mass_g * (1 - by)) if i == at else r
        for i, r in enumerate(rows)
    ]


def places(rows, celsius, flow):
    return next(i for i, r in enumerate(rows) if (r.temperature_c, r.flow_mm3_s) == (celsius, flow))


@pytest.mark.parametrize("flow", [7.0, 9.0, 11.0])
def test_a_light_coupon_below_the_knee_is_set_aside_alone(truths, flow):
    """At the lowest flow too, where it passes for the beginning of the loss."""
    runs = some(6, long=60)
    found = 0
    for seed in range(runs):
        rows = coupons(truths, seed)
        at = places(rows, 215.0, flow)
        found += aside(lighter(rows, at, 0.1)) == {rows[at].coupon}
    assert found >= fewest(runs, 0.95)


def test_good_ladders_keep_their_coupons(truths):
    runs = some(12, long=200)
    kept = sum(not aside(coupons(truths, seed)) for seed in range(runs))
    assert kept >= fewest(runs, 0.98)


def test_two_light_coupons_are_found_one_after_the_other(truths):
    rows = coupons(truths, 1)
    one, two = places(rows, 205.0, 7.0), places(rows, 225.0, 9.0)
    assert aside(lighter(lighter(rows, one, 0.12), two, 0.08)) == {
        rows[one].coupon,
        rows[two].coupon,
    }


def test_a_light_replicate_is_not_for_this_search(truths):
    rows = coupons(truths, 2)
    at = places(rows, 215.0, 9.0)
    twice = [*rows, dataclasses.replace(rows[at], coupon="again")]
    assert aside(lighter(twice, at, 0.1)) == set()


def test_a_temperature_keeps_four_flows(truths):
    rows = [r for r in coupons(truths, 0) if r.temperature_c != 215.0 or r.flow_mm3_s <= 12.5]
    at = places(rows, 215.0, 9.0)
    assert aside(lighter(rows, at, 0.1)) == {rows[at].coupon}
    few = [r for r in rows if r.temperature_c != 215.0 or r.flow_mm3_s != 11.0]
    assert len({r.flow_mm3_s for r in few if r.temperature_c == 215.0}) == 4
    assert aside(lighter(few, places(few, 215.0, 9.0), 0.1)) == set()


@pytest.mark.usefixtures("short_fits")
def test_one_light_coupon_moves_no_ceiling_and_is_named(truths):
    rows = coupons(truths, 1)
    clean = capacity.fit(rows)
    at = places(rows, 205.0, 7.0)
    spoilt = capacity.fit(lighter(rows, at, 0.1))
    for a, b in zip(clean.ceilings, spoilt.ceilings, strict=True):
        assert a.flow_mm3_s == pytest.approx(b.flow_mm3_s, abs=0.3)
    (note,) = (n for n in spoilt.groups[0].notes if "was left out" in n)
    assert note.startswith(f"coupon {rows[at].coupon} at 205 °C and 7 mm³/s is out of line by −10")
    assert [r.coupon for r in spoilt.groups[0].residuals if r.left_out] == [rows[at].coupon]
