"""Heat: power at the wanted flow, warm-up, growth, sensor, liner."""

from __future__ import annotations

import math

from beadworth.core import PTFE_LIMIT_C, ROOM_C
from beadworth.fit.check import HOT, Case, Found, Missing, Rule, UnknownError, field_words
from beadworth.material import melt_heat_w
from beadworth.rig import (
    EXPANSION_PER_K,
    SPECIFIC_HEAT_J_GK,
    heater_current_a,
    heater_power_w,
    kelvin_per_count,
    standing_loss_w,
)

COUNT_LIMIT_K = 1.0
"""Coarsest reading with which a controller still holds steady; assumed."""


def supply_of(case: Case) -> tuple[float, float, float]:
    """Heater rating, its voltage, and the voltage it gets."""
    watts, volts, supply = case.need("hot_end.heater_w", "hot_end.heater_v", "electrics.supply_v")
    return watts, volts, supply


def _heater_power(case: Case) -> Found:
    watts, volts = case.need("hot_end.heater_w", "hot_end.heater_v")
    supply = case.get("electrics.supply_v")
    limit = heater_power_w(watts, volts, supply if supply is not None else volts)
    material, celsius, flow = case.polymer(), case.celsius(), case.flow()
    melt = melt_heat_w(material, flow, celsius)
    if melt is None:
        raise UnknownError(of_job=(f"specific_heat_j_gk of {material.name}",))
    loss = case.get("hot_end.standing_loss_w_k")
    fed = "" if supply is not None else " The supply is not recorded: the rated voltage is taken."
    if loss is None:
        return Found(
            melt,
            f"Melt power alone; the standing loss is not known. Measure "
            f"{field_words('hot_end.standing_loss_w_k')} with a heater log.{fed}",
            limit=limit,
            verdict="does not fit" if melt > limit else "measure this",
            wants=("hot_end.standing_loss_w_k",),
        )
    lost = standing_loss_w(loss, celsius, ROOM_C)
    return Found(
        melt + lost,
        f"Melt {melt:.1f} W at {flow:g} mm³/s and {celsius:g} °C, standing loss {lost:.1f} W.{fed}",
        limit=limit,
        closer=0.2,
    )


def _heater_volts(case: Case) -> Found:
    watts, volts, supply = supply_of(case)
    real = heater_power_w(watts, volts, supply)
    share = supply / volts
    return Found(
        supply,
        f"A {watts:g} W heater for {volts:g} V makes {real:.1f} W on {supply:g} V.",
        limit=volts,
        verdict="does not fit" if share > 1.1 else "look closer" if share < 0.95 else "fits",
    )


def _heater_current(case: Case) -> Found:
    amps = heater_current_a(*supply_of(case))
    return Found(
        amps,
        "Current of the hot end's heater against its output.",
        limit=case.need("electrics.heater_output_a"),
    )


def _hot_end_limit(case: Case) -> Found:
    return Found(
        case.celsius(),
        "Wanted temperature against the highest the hot end's maker allows.",
        limit=case.need("hot_end.temperature_limit_c"),
        closer=0.02,
    )


def _sensor_range(case: Case) -> Found:
    return Found(
        case.celsius(),
        "Wanted temperature against the highest sensor and leads stand.",
        limit=case.need("hot_end.sensor.max_c"),
        closer=0.05,
    )


def _sensor_step(case: Case) -> Found | None:
    sensor = case.get("hot_end.sensor")
    if sensor is None or sensor.kind == "thermocouple":
        return None
    case.need("hot_end.sensor.pull_up_ohm", "hot_end.sensor.adc_bits")
    step = kelvin_per_count(sensor, case.celsius())
    if step is None:
        raise UnknownError("the resistance of the sensor (ohm_at_0c, or ohm_at_25c and beta_k)")
    return Found(
        step,
        f"Change of temperature per count of the board's converter at {case.celsius():g} °C; the "
        "limit is assumed.",
        limit=COUNT_LIMIT_K,
    )


def _liner(case: Case) -> Found:
    in_zone = case.get("hot_end.ptfe_in_melt_zone")
    stated = case.get("hot_end.liner_limit_c")
    limit = min(stated, PTFE_LIMIT_C) if in_zone and stated else stated or PTFE_LIMIT_C
    source = "its stated limit" if stated == limit else "240 °C (common practice, no source)"
    if in_zone:
        return Found(
            case.celsius(),
            f"The liner reaches the melt zone and gets as hot as the nozzle; limit: {source}.",
            limit=limit,
            closer=0.02,
        )
    paths = ("hot_end.heat_break_mm", "hot_end.liner_end_mm", "hot_end.cold_side_c")
    length, end, cold = (case.get(path) for path in paths)
    if in_zone is None and None in (length, end, cold):
        raise UnknownError(Missing("hot_end.ptfe_in_melt_zone"))
    if length is None or end is None or cold is None:
        return Found(
            None,
            "The liner ends above the melt zone. How warm its end gets follows from heat break, "
            "liner end and cold side, if recorded.",
            verdict="fits",
        )
    hot = case.celsius()
    share = min(end / length, 1.0)
    return Found(
        hot + (cold - hot) * share,
        f"{end:g} mm up a {length:g} mm heat break between {hot:g} and {cold:g} °C, temperature "
        f"taken as a straight line; limit: {source}.",
        limit=limit,
        closer=0.05,
    )


def _warm_up(case: Case) -> Found:
    """Seconds from the room to the wanted temperature: (C ÷ k)·ln(P ÷ (P − k·ΔT))."""
    mass, metal, watts, volts = case.need(
        "hot_end.block_mass_g", "hot_end.block_metal", "hot_end.heater_w", "hot_end.heater_v"
    )
    supply = case.get("electrics.supply_v")
    power = heater_power_w(watts, volts, volts if supply is None else supply)
    loss, rise = case.get("hot_end.standing_loss_w_k"), case.celsius() - ROOM_C
    stored = mass * SPECIFIC_HEAT_J_GK[metal]
    said = f"{mass:g} g of {metal} to {case.celsius():g} °C with {power:.1f} W"
    if loss is None:
        return Found(stored * rise / power, f"At least: {said}; the standing loss is not recorded.")
    if loss * rise >= power:
        why = f"Never: {said}, of which {loss * rise:.1f} W are lost."
        return Found(None, why, verdict="does not fit")
    seconds = stored / loss * math.log(power / (power - loss * rise))
    return Found(seconds, f"{said}, {loss * rise:.1f} W lost at the end.")


def _growth(case: Case) -> Found | None:
    """How much lower the tip hangs hot than cold."""
    paths = ("hot_end.heat_break_mm", "hot_end.melt_zone_mm", "hot_end.block_metal")
    length, zone, metal = (case.get(path) for path in paths)
    if length is None or zone is None or metal is None:
        return None
    hot, cold = case.celsius(), case.get("hot_end.cold_side_c")
    middle = (hot + (ROOM_C if cold is None else cold)) / 2.0
    grown = length * EXPANSION_PER_K["steel"] * (middle - ROOM_C)
    grown += zone * EXPANSION_PER_K[metal] * (hot - ROOM_C)
    return Found(
        grown,
        f"So much lower does the tip hang at {hot:g} °C than cold, at least: {length:g} mm of "
        f"heat break, taken as steel, and {zone:g} mm of {metal}. Set the zero of z with the "
        "nozzle hot.",
    )


RULES = (
    Rule("heater power", "W", "Heater power", _heater_power, HOT),
    Rule("heater voltage", "V", "Heater on another supply", _heater_volts, HOT),
    Rule("heater current", "A", "Heater current", _heater_current, HOT),
    Rule("hot end temperature", "°C", "Temperature limits", _hot_end_limit, HOT),
    Rule("sensor range", "°C", "Temperature limits", _sensor_range, HOT),
    Rule("sensor step", "K", "Sensor step", _sensor_step),
    Rule("liner temperature", "°C", "Liner temperature", _liner, HOT),
    Rule("warm-up", "s", "Warm-up", _warm_up, HOT),
    Rule("growth of the hot end", "mm", "Growth of the hot end", _growth, HOT),
)
