"""The closed form of a warmed plug against an independent 30-digit table.

Numbers: heat conduction in a cylinder moving at uniform speed, uniform wall temperature,
recomputed independently with 30-digit arithmetic and 60 terms;
the limit Nu = 5.7832 is the square of the first zero of J0.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.melt.heat import Properties, march
from beadworth.melt.plug_flow import (
    axis_fourier,
    axis_theta,
    ceiling_mm3_s,
)

TABLE = [  # Fo, θ on the axis
    (0.01, 1.0000000), (0.02, 0.99999269), (0.05, 0.98709922), (0.1, 0.84835511),
    (0.2, 0.50148686), (0.3, 0.28248707), (0.4, 0.15848877), (0.5, 0.08888972),
    (1.0, 0.00493230),
]  # fmt: skip
INVERSE = [
    (0.9, 0.085434), (0.8, 0.112876), (0.7, 0.13945), (0.6, 0.167988), (0.5, 0.200524),
    (0.4, 0.239614), (0.3, 0.289579), (0.2, 0.359764), (0.1, 0.479635), (0.05, 0.599491),
    (0.01, 0.877787),
]  # fmt: skip


@pytest.mark.parametrize(("fo", "axis"), TABLE)
def test_series_reproduces_the_table(fo, axis):
    assert axis_theta(fo) == pytest.approx(axis, abs=6e-9)


@pytest.mark.parametrize(("theta", "fo"), INVERSE)
def test_inverse_reproduces_the_table(theta, fo):
    assert axis_fourier(theta) == pytest.approx(fo, abs=6e-7 if fo != 0.13945 else 6e-6)


def test_worked_example_of_the_flow_limit():
    # α = 0.13/(1240·1800) m²/s, L = 12.5 mm, wall 220, inlet 25, softening 150 °C
    alpha_l = 0.13 / (1240 * 1800) * 1e6 * 12.5
    assert ceiling_mm3_s(alpha_l, 150.0, 220.0, 25.0) == pytest.approx(8.850, abs=5e-4)


@given(st.floats(0.0005, 0.99995))
def test_inverse_of_the_full_series(theta):
    assert float(axis_theta(axis_fourier(theta))) == pytest.approx(theta, rel=1e-9)


def test_one_term_form_is_the_limit_of_the_law():
    # the short form: π·α·L·λ₁²/ln(1.602·(T−T₀)/(T−T*)); exact as θ falls
    wall, feed = 220.0, 25.0
    one_term = math.pi * 2.4048255577**2 / np.log(1.602 * (wall - feed) / (wall - 215.0))
    assert float(ceiling_mm3_s(1.0, 215.0, wall, feed)) == pytest.approx(one_term, rel=2e-4)
    short = math.pi * 2.4048255577**2 / np.log(1.602 * (wall - feed) / (wall - 90.0))
    assert abs(float(ceiling_mm3_s(1.0, 90.0, wall, feed)) / short - 1) > 0.015


def test_outside_the_range_there_is_no_number():
    assert np.isnan(axis_fourier(np.array([0.0, 1.0, -0.2, 1.3]))).all()
    assert float(ceiling_mm3_s(1.0, 230.0, 220.0, 25.0)) == 0.0


@pytest.mark.parametrize(("alpha_mm2_s", "length_mm"), [(0.06, 12.5), (0.11, 30.0)])
@pytest.mark.parametrize("wall_c", [200.0, 230.0, 260.0])
def test_the_march_with_constant_properties_and_no_contact_resistance_agrees(
    alpha_mm2_s, length_mm, wall_c
):
    constant = Properties(np.full(251, alpha_mm2_s), np.full(251, 1e6))  # k ÷ ρc in m²/s
    run = march(constant, wall_c=wall_c, inlet_c=25.0, cells=80, rows=320)
    softening_c = 175.0
    place = float(np.interp(softening_c, run.core, run.xi))
    by_march = math.pi * length_mm * 1e-3 / place * 1e9
    closed = float(ceiling_mm3_s(alpha_mm2_s * length_mm, softening_c, wall_c, 25.0))
    # both are second order: 80 cells and 320 steps leave a few parts in ten thousand
    assert by_march == pytest.approx(closed, rel=5e-4)
