"""Losses before there is a curve, and coupons that stand out from one."""

from dataclasses import replace

import numpy as np
import pytest
from capacity_truths import hard_limit, trial

from beadworth.capacity import doubtful_coupons, early_losses, fit
from beadworth.trial import Reading


def reading(flow, mass, celsius=220.0, **more):
    return Reading(
        rig="R", material="P", temperature_c=celsius, flow_mm3_s=flow, filament_mm=600.0,
        mass_g=mass, **more,
    )  # fmt: skip


def test_loss_counts_from_the_references_else_from_the_lowest_flow():
    by_hand = early_losses([reading(4, 2.0), reading(10, 1.9), reading(12, 1.8)])
    assert by_hand == pytest.approx([0.0, 0.05, 0.1])
    with_reference = early_losses([reading(6, 1.0), reading(5, 2.0, reference=True)])
    assert with_reference == pytest.approx([0.5, 0.0])


def test_alone_or_void_or_empty_nothing_is_said():
    assert early_losses([reading(4, 2.0), reading(4, 2.0, celsius=210.0)]) == (None, None)
    two = [reading(4, 2.0), reading(10, 1.9), reading(12, 1.8, void=True)]
    assert early_losses(two)[2] is None
    assert early_losses([]) == ()


def test_a_light_coupon_stands_out_and_a_faultless_trial_has_none():
    rng = np.random.default_rng(5)
    good = trial(hard_limit, {215.0: 13.0}, np.linspace(7, 17, 9), 2, rng)
    good = [replace(r, coupon=f"C{i}") for i, r in enumerate(good)]
    assert doubtful_coupons(fit(good, draft=True)) == frozenset()
    light = [replace(r, mass_g=0.93 * r.mass_g) if i == 4 else r
             for i, r in enumerate(good)]  # fmt: skip
    assert doubtful_coupons(fit(light, draft=True)) == {"C4"}


def test_the_mark_begins_where_a_good_coupon_lies_once_in_fifty_trials():
    """Two-sided normal, 2 % over 20 coupons: 3.29 standard deviations (tables: z(0.9995))."""
    made = fit(
        trial(hard_limit, {215.0: 13.0}, np.linspace(7, 16, 10), 2, np.random.default_rng(6)),
        draft=True,
    )
    (group,) = made.groups
    for size, seen in ((3.27, frozenset()), (3.31, {"X"})):
        residuals = tuple(
            replace(r, coupon="X" if i == 0 else f"C{i}", standardised=size if i == 0 else 0.1,
                    left_out=False, too_deep=False)
            for i, r in enumerate(group.residuals)
        )  # fmt: skip
        assert len(residuals) == 20
        assert (
            doubtful_coupons(replace(made, groups=(replace(group, residuals=residuals),))) == seen
        )
