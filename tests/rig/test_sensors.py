"""Sensors against the standard's table and worked examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core.errors import RigValueError
from beadworth.rig import Sensor
from beadworth.rig.sensors import (
    beta_ohm,
    kelvin_per_count,
    platinum_ohm,
    sensor_ohm,
    steinhart_hart_ohm,
)

# IEC 60751, Pt1000 table (coefficients from memory, values recomputed elsewhere); half a last digit
PT1000 = {-200: 185.201, -50: 803.063, 0: 1000.0, 25: 1097.347, 50: 1193.971, 100: 1385.055,
          150: 1573.251, 200: 1758.560, 250: 1940.981, 300: 2120.515, 400: 2470.920,
          500: 2809.775}  # fmt: skip


@pytest.mark.parametrize("celsius", PT1000)
def test_platinum_reproduces_the_table(celsius):
    assert platinum_ohm(celsius, 1000.0) == pytest.approx(PT1000[celsius], abs=5e-4)


@pytest.mark.parametrize("celsius", [-200.1, 850.1])
def test_platinum_refuses_what_the_standard_does_not_give(celsius):
    with pytest.raises(RigValueError, match="outside -200 to 850"):
        platinum_ohm(celsius, 1000.0)


THREE = ((0.0, 32650.0), (25.0, 10000.0), (50.0, 3603.0))
# worked example: coefficients through these points, recomputed elsewhere
ABC = (1.125256672e-3, 2.347204473e-4, 8.563052732e-8)


def steinhart_hart_c(ohm, a, b, c):
    """The equation as published: 1/T = A + B·ln R + C·(ln R)³."""
    log = math.log(ohm)
    return 1.0 / (a + b * log + c * log**3) - 273.15


def test_steinhart_hart_through_three_points():
    for celsius, ohm in THREE:
        assert steinhart_hart_ohm(celsius, *ABC) == pytest.approx(ohm, rel=3e-8)
    for ohm, celsius in ((5000, 41.580290), (20000, 9.896952), (1000, 87.226796)):
        assert steinhart_hart_ohm(celsius, *ABC) == pytest.approx(ohm, rel=3e-8)


def test_much_quoted_coefficients_give_back_their_points():
    # coefficients from memory; three temperatures recomputed elsewhere
    quoted = (1.129148e-3, 2.34125e-4, 8.76741e-8)
    for (_, ohm), celsius in zip(THREE, (0.0002, 24.9997, 49.9857), strict=True):
        assert steinhart_hart_ohm(celsius, *quoted) == pytest.approx(ohm, rel=3e-6)


@given(st.floats(-20, 320))
def test_steinhart_hart_inverts(celsius):
    assert steinhart_hart_c(steinhart_hart_ohm(celsius, *ABC), *ABC) == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("celsius", "ohm", "half"),
    [(100, 6975.198, 5e-4), (200, 744.6129, 5e-5), (250, 335.2835, 5e-5)],
)
def test_beta_form(celsius, ohm, half):
    # 100 kΩ at 25 °C, beta 3950 K; recomputed elsewhere
    assert beta_ohm(celsius, 1e5, 3950) == pytest.approx(ohm, abs=half)


def test_a_count_is_a_step_of_the_divider():
    sensor = Sensor(
        kind="thermistor", ohm_at_25c=1e5, beta_k=3950.0, pull_up_ohm=4700.0, adc_bits=10
    )
    step = kelvin_per_count(sensor, 240.0)

    def counts(celsius):
        ohm = beta_ohm(celsius, 1e5, 3950)
        return 1024 * ohm / (ohm + 4700)

    assert counts(240.0) - counts(240.0 + step) == pytest.approx(1.0, rel=0.02)


def test_what_is_not_recorded_is_not_known():
    assert sensor_ohm(Sensor(kind="thermocouple"), 200.0) is None
    assert sensor_ohm(Sensor(kind="platinum"), 200.0) is None
    assert kelvin_per_count(Sensor(kind="platinum", ohm_at_0c=100.0), 200.0) is None
    assert math.isfinite(
        kelvin_per_count(
            Sensor(kind="platinum", ohm_at_0c=100.0, pull_up_ohm=4700.0, adc_bits=12), 200.0
        )
    )
