"""Currents and fans: supply, motors, bed, part and hot-end fans."""

from __future__ import annotations

import math

from beadworth.fit.check import HOT, Case, Found, Rule, UnknownError
from beadworth.fit.heat import supply_of
from beadworth.fit.load import belts_coupled
from beadworth.fit.train import motors_of, peak_current_a
from beadworth.rig import heater_current_a


def _supply_current(case: Case) -> Found:
    watts, volts, supply = supply_of(case)
    limit, bed = case.need("electrics.supply_a", "electrics.bed_heater_w")
    other = case.get("electrics.other_w") or 0.0
    fans = sum((f.current_a or 0.0) * f.count for f in case.rig.fans)
    motors = 0.0
    trains = [(f"axes.{a}", getattr(case.rig.axes, a)) for a in "xyz"]
    if belts_coupled(case) and None not in (case.rig.axes.x, case.rig.axes.y):
        trains = [trains[0], trains[2]]  # x and y share their motors
    for path, train in [*trains, ("extruder", case.rig.extruder)]:
        if train is None or train.motor is None:
            continue
        current = peak_current_a(case, path) or case.get(f"{path}.motor.rated_current_a")
        ohm = case.get(f"{path}.motor.phase_resistance_ohm")
        if current is not None and ohm is not None:
            # two phases with sine currents of this peak: I²·R in all
            count = 1 if path == "extruder" else motors_of(case, path[-1])
            motors += count * current**2 * ohm
    heater = heater_current_a(watts, volts, supply)
    total = heater + fans + (bed + other + motors) / supply
    return Found(
        total,
        f"Heater {heater:.2f} A, bed {bed / supply:.2f} A, fans {fans:.2f} A, motors' copper "
        f"{motors / supply:.2f} A, other {other / supply:.2f} A.",
        limit=limit,
        closer=0.2,
    )


def _motor_current(name: str, at: str) -> Rule:
    def find(case: Case) -> Found | None:
        peak, rated = peak_current_a(case, at), case.get(f"{at}.motor.rated_current_a")
        if peak is None or rated is None:
            return None
        kind = case.get(f"{at}.motor.rated_current_is")
        limit = rated / math.sqrt(2.0) if kind == "peak" else rated
        unsure = kind is None and peak > rated
        return Found(
            peak / math.sqrt(2.0),
            f"Set to {peak:.3g} A peak, {peak / math.sqrt(2.0):.3g} A RMS, against a rating of "
            f"{rated:g} A {kind or 'RMS (as data sheets mean that do not say)'}."
            + (f" Were {rated:g} A a peak, {rated / math.sqrt(2.0):.3g} A RMS would be the limit: "
               "look it up." if unsure else ""),
            limit=limit,
            doubtful=unsure,
        )  # fmt: skip

    return Rule(f"current of the {name} motor", "A", "Motor current", find)


def _bed_current(case: Case) -> Found | None:
    watts, limit = case.get("electrics.bed_heater_w"), case.get("electrics.bed_output_a")
    if not watts or limit is None:
        return None
    return Found(
        watts / case.need("electrics.supply_v"),
        "Current of the bed's heater against its output and connector, the smaller rating of the "
        "two; a cold heater draws a little more.",
        limit=limit,
        closer=0.2,
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
    return _on_output(case, fans, output, "Output")


def _on_output(case: Case, fans: list[int], output: float, what: str) -> Found:
    """The fan whose rated voltage is farthest from the one it gets."""
    volts = [case.need(f"fans.{n}.volts_v") for n in fans]
    worst = max(volts, key=lambda v: abs(output / v - 1.0))
    share = output / worst
    return Found(
        output,
        f"{what} of {output:g} V on a fan for {worst:g} V.",
        limit=worst,
        verdict="does not fit" if share > 1.15 else "look closer" if share < 0.85 else "fits",
    )


def _airflow(case: Case) -> Found | None:
    after, before = _air(case, before=False), _air(case, before=True)
    if after is None or before is None:
        return None
    return Found(
        after,
        "Air the part fans move freely, against before; a duct takes its share of both.",
        limit=before,
        sense="at least",
        verdict="fits" if after >= 0.9 * before else "look closer",
    )


def _air(case: Case, *, before: bool) -> float | None:
    rig = case.parent if before else case.rig
    fans = [fan for fan in rig.fans if fan.purpose == "part"]
    case.used.add("fans")
    moved = [fan.airflow_m3_h * fan.count for fan in fans if fan.airflow_m3_h is not None]
    return sum(moved) if fans and len(moved) == len(fans) else None


def _hot_end_fan(case: Case) -> Found:
    fans = [n for n, fan in enumerate(case.rig.fans) if fan.purpose == "hot end"]
    if not case.rig.fans:
        raise UnknownError("fans (the hot end's among them)")
    if not fans:
        had = any(fan.purpose == "hot end" for fan in case.parent.fans)
        return Found(
            None,
            "No fan for the hot end is recorded: without one heat climbs the break and the "
            "filament jams (common practice, no source). Water-cooled ones excepted.",
            verdict="does not fit" if had else "look closer",
        )
    return _on_output(case, fans, case.need("electrics.supply_v"), "Supply")


RULES = (
    Rule("supply current", "A", "Supply current", _supply_current, HOT),
    Rule("bed current", "A", "Bed current", _bed_current, HOT),
    *(_motor_current(axis, f"axes.{axis}") for axis in "xyz"),
    _motor_current("extruder", "extruder"),
    Rule("part fan voltage", "V", "Fans", _fan_volts),
    Rule("part fan current", "A", "Fans", _fan_current),
    Rule("part fan airflow", "m³/h", "Fans", _airflow),
    Rule("hot end fan", "V", "Fans", _hot_end_fan, HOT),
)
