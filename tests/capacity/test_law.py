"""The interval of the law across temperature, against draws from the same two unknowns."""

import math
from dataclasses import replace

import numpy as np
import pytest

from beadworth.capacity import Ceiling, Curve, Fit, GroupFit, Law, loss_at
from beadworth.capacity.fitting.law import predict
from beadworth.melt import ceiling_mm3_s

LAW = Law("R", "P", alpha_l_mm3_s=2.2, u_alpha_l_mm3_s=0.05, softening_c=150.0, u_softening_c=3.0,
          correlation=0.6, feed_c=25.0, p_value=None, supported=True, sentence="")  # fmt: skip


@pytest.mark.parametrize("correlation", [-0.8, 0.0, 0.6])
@pytest.mark.parametrize("celsius", [200.0, 240.0])
def test_the_interval_is_what_draws_of_the_two_unknowns_give(correlation, celsius):
    """Delta method against 40,000 draws: ln of the ceiling is close to linear here."""
    law = replace(LAW, correlation=correlation)
    rng = np.random.default_rng(3)
    u_a = law.u_alpha_l_mm3_s / law.alpha_l_mm3_s
    cross = correlation * u_a * law.u_softening_c
    drawn = rng.multivariate_normal(
        [math.log(law.alpha_l_mm3_s), law.softening_c],
        [[u_a**2, cross], [cross, law.u_softening_c**2]],
        40_000,
    )
    flows = [float(ceiling_mm3_s(math.exp(a), s, celsius, 25.0)) for a, s in drawn[:4000]]
    spread = float(np.log(flows).std())
    middle, low, high = predict(law, celsius, 1e6, 0.95)
    assert math.log(high / low) / 2 == pytest.approx(1.96 * spread, rel=0.05)
    assert middle == pytest.approx(float(ceiling_mm3_s(2.2, 150.0, celsius, 25.0)))


def test_misfit_widens_by_its_root_and_few_degrees_of_freedom_by_students_t():
    _, low, high = predict(LAW, 220.0, 1e6, 0.95)
    _, wide_low, wide_high = predict(replace(LAW, misfit=4.0), 220.0, 1e6, 0.95)
    assert math.log(wide_high / wide_low) == pytest.approx(2 * math.log(high / low))
    _, few_low, few_high = predict(LAW, 220.0, 4.0, 0.95)
    assert math.log(few_high / few_low) / math.log(high / low) == pytest.approx(
        2.776 / 1.960, rel=1e-3
    )  # t(0.975; 4) of the tables


def test_a_curve_between_temperatures_takes_its_shape_from_the_nearest_known_ceiling():
    flow = np.linspace(1.0, 30.0, 59)

    def curve(celsius, ceiling):
        loss = 0.02 * (flow / ceiling) ** 2
        return Curve("R", "P", celsius, flow, loss, 0.8 * loss, 1.2 * loss, 0.95, 1.0, 30.0)

    def at(celsius, value):
        ends = (None, 9.0, None) if value is None else (value, 0.9 * value, 1.1 * value)
        return Ceiling("R", "P", celsius, 0.02, *ends, "at-least" if value is None else "interval")

    def read(bounded):
        group = GroupFit("R", "P", 0.004, 20.0, None, residuals=(), delivery=(), law=None, notes=(),
                         curves=(curve(210.0, bounded), curve(230.0, 12.0)))  # fmt: skip
        fit = Fit(0.02, 0.95, (at(210.0, None), at(230.0, 12.0)), (group,))
        return np.array(loss_at(fit, "R", "P", 215.0, flow[::6])), fit

    found, fit = read(8.0)
    other, _ = read(5.0)
    assert np.array_equal(found, other)  # the curve of a ceiling that is only bounded is not used
    assert float(loss_at(fit, "R", "P", 230.0, 12.0)[0]) == pytest.approx(0.02, rel=1e-3)
