"""Heaters: resistance, current, power on another supply, and how fast a block can warm."""

from __future__ import annotations

from typing import Literal

from beadworth.core import Problem, RigValueError

Metal = Literal["aluminium", "brass", "copper", "steel"]

SPECIFIC_HEAT_J_GK: dict[Metal, float] = {
    "aluminium": 0.90,
    "brass": 0.38,
    "copper": 0.39,
    "steel": 0.49,
}
"""Specific heat near room temperature, J/(g·K); handbook values from memory, alloys differ by
some per cent and all rise by some per cent to 250 °C."""
EXPANSION_PER_K: dict[Metal, float] = {
    "aluminium": 23e-6,
    "brass": 19e-6,
    "copper": 17e-6,
    "steel": 12e-6,
}
"""Linear expansion near room temperature, 1/K; handbook values from memory, alloys differ."""
SPECIFIC_HEAT_U = 0.08
"""Relative standard uncertainty of those for an alloy up to 250 °C; assumed."""


def heater_ohm(rated_w: float, rated_v: float) -> float:
    """Resistance of a heater, Ω: V²/P (40 W at 24 V: 14.4 Ω; common practice, no source)."""
    _positive(rated_w=rated_w, rated_v=rated_v)
    return rated_v * rated_v / rated_w


def heater_power_w(rated_w: float, rated_v: float, supply_v: float) -> float:
    """Power of a heater on a supply, W: P·(V_supply/V)², its resistance taken as constant."""
    return supply_v * supply_v / heater_ohm(rated_w, rated_v)


def heater_current_a(rated_w: float, rated_v: float, supply_v: float) -> float:
    """Current of a heater on a supply, A: V_supply/R."""
    return supply_v / heater_ohm(rated_w, rated_v)


def standing_loss_w(loss_w_k: float, temperature_c: float, room_c: float) -> float:
    """Heat lost at rest, W: loss coefficient × rise over the room."""
    return loss_w_k * (temperature_c - room_c)


def _positive(**values: float) -> None:
    bad = [
        Problem(f"{value:g} is not above 0.", name, value, "Give the rating of the part.")
        for name, value in values.items()
        if not value > 0
    ]
    if bad:
        raise RigValueError(bad)
