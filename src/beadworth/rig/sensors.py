"""Temperature sensors: resistance and temperature, both ways, and what the board can tell apart."""

from __future__ import annotations

import math

from beadworth.core import ZERO_C_K, RigValueError
from beadworth.rig.hot_end import Sensor

# IEC 60751, platinum of 3851 ppm/K; C acts below 0 °C only. Coefficients from memory, checked
# against the standard's table of resistances in the tests.
PLATINUM_A, PLATINUM_B, PLATINUM_C = 3.9083e-3, -5.775e-7, -4.183e-12
PLATINUM_RANGE_C = (-200.0, 850.0)


def platinum_ohm(temperature_c: float, ohm_at_0c: float) -> float:
    """Resistance of a platinum sensor, Ω (IEC 60751).

    R₀·(1 + A·t + B·t² + C·(t − 100)·t³), C below 0 °C only.

    Raises
    ------
    RigValueError
        Outside −200 to 850 °C, where the standard gives no values.
    """
    low, high = PLATINUM_RANGE_C
    if not low <= temperature_c <= high:
        raise RigValueError(
            f"{temperature_c:g} °C is outside {low:g} to {high:g} °C, the range of IEC 60751.",
            "platinum sensor",
            temperature_c,
            "Check the reading; an open or shorted sensor looks like this.",
        )
    t = temperature_c
    share = 1.0 + PLATINUM_A * t + PLATINUM_B * t * t
    if t < 0:
        share += PLATINUM_C * (t - 100.0) * t**3
    return ohm_at_0c * share


def steinhart_hart_ohm(temperature_c: float, a: float, b: float, c: float) -> float:
    """Resistance of a thermistor, Ω, from 1/T = A + B·ln R + C·(ln R)³, T in K, R in Ω.

    ln R is the one real root of c·x³ + b·x + (a − 1/T) = 0 (Cardano). The equation is J.S.
    Steinhart's and S.R. Hart's, Deep-Sea Research 15 (1968) 497.
    """
    x = (a - 1.0 / (temperature_c + ZERO_C_K)) / c
    y = math.sqrt((b / (3.0 * c)) ** 3 + x * x / 4.0)
    return math.exp(math.cbrt(y - x / 2.0) - math.cbrt(y + x / 2.0))


def beta_ohm(temperature_c: float, ohm_at_25c: float, beta_k: float) -> float:
    """Resistance of a thermistor by its beta, Ω: R₂₅·exp(β·(1/T − 1/298.15 K))."""
    inverse = 1.0 / (temperature_c + ZERO_C_K) - 1.0 / (25.0 + ZERO_C_K)
    return ohm_at_25c * math.exp(beta_k * inverse)


def sensor_ohm(sensor: Sensor, temperature_c: float) -> float | None:
    """Resistance of a recorded sensor, Ω; None where its record does not give it."""
    if sensor.kind == "platinum" and sensor.ohm_at_0c is not None:
        return platinum_ohm(temperature_c, sensor.ohm_at_0c)
    if sensor.kind == "thermistor":
        if sensor.steinhart_hart is not None:
            return steinhart_hart_ohm(temperature_c, *sensor.steinhart_hart)
        if sensor.ohm_at_25c is not None and sensor.beta_k is not None:
            return beta_ohm(temperature_c, sensor.ohm_at_25c, sensor.beta_k)
    return None


def kelvin_per_count(sensor: Sensor, temperature_c: float) -> float | None:
    """Change of temperature per count of the board's converter, K; None where not known.

    The sensor and the pull-up divide the converter's own reference voltage: a count is
    1/2ᵇ of R ÷ (R + pull-up), whose slope over temperature is taken by central difference.
    """
    if sensor.pull_up_ohm is None or sensor.adc_bits is None:
        return None
    low, high = (sensor_ohm(sensor, temperature_c + d) for d in (-0.5, 0.5))
    if low is None or high is None:
        return None
    slope = abs(high / (high + sensor.pull_up_ohm) - low / (low + sensor.pull_up_ohm))
    return math.inf if slope == 0 else 1.0 / (slope * 2**sensor.adc_bits)
