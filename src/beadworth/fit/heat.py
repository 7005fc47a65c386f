"""Heat and current: power at the wanted flow, supply, outputs, sensor, liner, fans."""

from __future__ import annotations

from beadworth.core import ROOM_C
from beadworth.fit.check import HOT, Case, Found, Rule, UnknownError, field_words
from beadworth.material import melt_heat_w
from beadworth.melt import PTFE_LIMIT_C
from beadworth.rig import heater_current_a, heater_power_w, kelvin_per_count, standing_loss_w

COUNT_LIMIT_K = 1.0
"""Coarsest reading with which a controller still holds steady; assumed."""


def _supply(case: Case) -> tuple[float, float, float]:
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
        raise UnknownError(f"specific_heat_j_gk of {material.name}")
    loss = case.get("hot_end.standing_loss_w_k")
    fed = "" if supply is not None else " The supply is not recorded: the rated voltage is taken."
    if loss is None:
        return Found(
            melt,
            f"Melt power alone; the standing loss is not known. Measure "
            f"{field_words('hot_end.standing_loss_w_k')} with a heater log.{fed}",
            limit=limit,
            verdict="does not fit" if melt > limit else "measure this",
        )
    lost = standing_loss_w(loss, celsius, ROOM_C)
    return Found(
        melt + lost,
        f"Melt {melt:.1f} W at {flow:g} mm³/s and {celsius:g} °C, standing loss {lost:.1f} W.{fed}",
        limit=limit,
        closer=0.2,
    )


def _heater_volts(case: Case) -> Found:
    watts, volts, supply = _supply(case)
    real = heater_power_w(watts, volts, supply)
    share = supply / volts
    return Found(
        supply,
        f"A {watts:g} W heater for {volts:g} V makes {real:.1f} W on {supply:g} V.",
        limit=volts,
        verdict="does not fit" if share > 1.1 else "look closer" if share < 0.95 else "fits",
    )


def _heater_current(case: Case) -> Found:
    amps = heater_current_a(*_supply(case))
    return Found(
        amps,
        "Current of the hot end's heater against its output.",
        limit=case.need("electrics.heater_output_a"),
    )


def _supply_current(case: Case) -> Found:
    watts, volts, supply = _supply(case)
    limit, bed = case.need("electrics.supply_a", "electrics.bed_heater_w")
    other = case.get("electrics.other_w") or 0.0
    fans = sum((f.current_a or 0.0) * f.count for f in case.rig.fans)
    motors = 0.0
    trains = [(f"axes.{a}", getattr(case.rig.axes, a)) for a in "xyz"]
    for path, train in [*trains, ("extruder", case.rig.extruder)]:
        if train is None or train.motor is None:
            continue
        current = case.get(f"{path}.set_current_a") or case.get(f"{path}.motor.rated_current_a")
        ohm = case.get(f"{path}.motor.phase_resistance_ohm")
        if current is not None and ohm is not None:
            # two phases with sine currents of this peak: I²·R in all
            motors += getattr(train, "motors", 1) * current**2 * ohm
    heater = heater_current_a(watts, volts, supply)
    total = heater + fans + (bed + other + motors) / supply
    return Found(
        total,
        f"Heater {heater:.2f} A, bed {bed / supply:.2f} A, fans {fans:.2f} A, motors' copper "
        f"{motors / supply:.2f} A, other {other / supply:.2f} A.",
        limit=limit,
        closer=0.2,
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
        raise UnknownError(field_words("hot_end.ptfe_in_melt_zone"))
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


def _fan_current(case: Case) -> Found | None:
    fans = [(n, f) for n, f in enumerate(case.rig.fans) if f.purpose == "part"]
    if not fans:
        return None
    total = sum(case.need(f"fans.{n}.current_a") * f.count for n, f in fans)
    return Found(
        total,
        "Part-cooling fans together against their output; starting takes more.",
        limit=case.need("electrics.fan_output_a"),
    )


def _fan_volts(case: Case) -> Found | None:
    fans = [n for n, f in enumerate(case.rig.fans) if f.purpose == "part"]
    if not fans:
        return None
    output = case.get("electrics.fan_output_v") or case.need("electrics.supply_v")
    volts = [case.need(f"fans.{n}.volts_v") for n in fans]
    worst = max(volts, key=lambda v: abs(output / v - 1.0))
    share = output / worst
    return Found(
        output,
        f"Output of {output:g} V on a fan for {worst:g} V.",
        limit=worst,
        verdict="does not fit" if share > 1.15 else "look closer" if share < 0.85 else "fits",
    )


RULES = (
    Rule("heater power", "W", "Heater power", _heater_power, HOT),
    Rule("heater voltage", "V", "Heater on another supply", _heater_volts, HOT),
    Rule("heater current", "A", "Heater current", _heater_current, HOT),
    Rule("supply current", "A", "Supply current", _supply_current, HOT),
    Rule("hot end temperature", "°C", "Temperature limits", _hot_end_limit, HOT),
    Rule("sensor range", "°C", "Temperature limits", _sensor_range, HOT),
    Rule("sensor step", "K", "Sensor step", _sensor_step),
    Rule("liner temperature", "°C", "Liner temperature", _liner, HOT),
    Rule("part fan voltage", "V", "Fans", _fan_volts),
    Rule("part fan current", "A", "Fans", _fan_current),
)
