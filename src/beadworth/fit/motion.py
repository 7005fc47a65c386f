"""Motion: steps, force over speed, the diagonal of coupled belts, resonance."""

from __future__ import annotations

import math
from dataclasses import replace

from beadworth.fit.check import MOVING, Case, Found, Rule, UnknownError
from beadworth.fit.hold import beam, guide, racking, tension, z_holds
from beadworth.fit.load import belts_coupled, carries_tool, moving_mass_g, print_mass_g
from beadworth.fit.train import (
    gear_ratio_of,
    resisting_of,
    train_of,
    travel_of,
)
from beadworth.rig import (
    belt_stiffness_n_m,
    diagonal_acceleration_m_s2,
    resonance_hz,
    safe_acceleration_m_s2,
    steps_per_mm,
)
from beadworth.text import signed_percent

RESERVE = 0.5
"""Share of the pull-out force kept back for friction, resonance and wear; common practice."""
CURVE_POINTS = 9


def _acceleration(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        own, _ = moving_mass_g(case, axis)
        train, doubt = train_of(case, axis)
        speed, wanted = case.need(
            f"motion.max_speed_mm_s.{axis}", f"motion.max_acceleration_mm_s2.{axis}"
        )
        resisting, carried = resisting_of(case, axis), print_mass_g(case, axis)
        mass = own + (carried or 0.0)
        against = resisting.force_n(mass * 1e-3)

        def at(mm_s: float) -> float:
            return 1e3 * safe_acceleration_m_s2(train, mass * 1e-3, mm_s * 1e-3, against, RESERVE)

        speeds = [speed * n / (CURVE_POINTS - 1) for n in range(CURVE_POINTS)]
        curve = tuple((v, max(at(v), 0.0)) for v in speeds)
        value = max(at(speed), 0.0)
        first = next((v for v, a in curve if a < wanted), None)
        enough = "" if first is None else f" Enough up to about {_before(speeds, first):.0f} mm/s."
        force = train.force_n(speed * 1e-3)
        with_print = f", {carried:.0f} g of print among it" if carried else ""
        room = ""
        if carried is None and carries_tool(case, axis) is False:
            net = (1.0 - RESERVE) * force - against
            still = net - wanted * 1e-3 * (mass * 1e-3 + train.rotor_as_mass_kg())
            grams = max(1e3 * still / (wanted * 1e-3 + resisting.per_kg_n), 0.0)
            room = f" The print's mass is not recorded; up to {grams:.0f} g may be carried."
        return Found(
            value,
            f"{mass:.0f} g{with_print} at {speed:g} mm/s: pull-out force {force:.0f} N, half of "
            f"it as reserve, {against:.1f} N against it; at rest {curve[0][1]:.0f} mm/s²."
            f"{enough}{room}{resisting.assumed}{doubt}",
            limit=wanted,
            sense="at least",
            curve=curve,
            doubtful=bool(doubt),
        )

    return Rule(f"safe acceleration of {axis}", "mm/s²", "Force and acceleration", find, MOVING)


def _diagonal(case: Case) -> Found | None:
    """Both axes at once where two motors share them: one motor then does all the work."""
    if not belts_coupled(case):
        return None
    (mass_x, _), (mass_y, _) = moving_mass_g(case, "x"), moving_mass_g(case, "y")
    train, doubt = train_of(case, "x")
    travel_y = travel_of(case, "y") / gear_ratio_of(case, "y")
    if not math.isclose(travel_y * 1e-3, train.travel_m_per_turn, rel_tol=1e-6):
        raise UnknownError(
            "one travel per motor turn for x and y (teeth, pitch and gear ratio): coupled belts "
            "move both"
        )
    x, y = resisting_of(case, "x"), resisting_of(case, "y")
    against = (x.force_n(mass_x * 1e-3), y.force_n(mass_y * 1e-3))
    speeds = case.need("motion.max_speed_mm_s.x", "motion.max_speed_mm_s.y")
    limits = case.need("motion.max_acceleration_mm_s2.x", "motion.max_acceleration_mm_s2.y")
    speed, wanted = math.sqrt(2.0) * min(speeds), math.sqrt(2.0) * min(limits)
    ways = [case.get(f"motion.{name}_acceleration_mm_s2") for name in ("print", "travel")]
    if None not in ways:
        wanted = min(wanted, max(ways))
    belt = replace(train, motors=train.motors // 2)
    value = 1e3 * diagonal_acceleration_m_s2(
        belt, mass_x * 1e-3, mass_y * 1e-3, speed * 1e-3, against, RESERVE
    )
    force = belt.force_n(math.sqrt(2.0) * speed * 1e-3)
    assumed = x.assumed + (f" In y:{y.assumed}" if y.assumed != x.assumed else "")
    return Found(
        max(value, 0.0),
        f"Along the diagonal one belt stands still and the other runs at "
        f"{math.sqrt(2.0) * speed:.0f} mm/s for {speed:.0f} mm/s of the carriage: pull-out force "
        f"{force:.0f} N, half of it as reserve, for {mass_x:.0f} g of x and {mass_y:.0f} g of y. "
        f"The limit is what the controller lets a diagonal have.{assumed}{doubt}",
        limit=wanted,
        sense="at least",
        doubtful=bool(doubt),
    )


def _before(speeds: list[float], first: float) -> float:
    return max([v for v in speeds if v < first], default=0.0)


STIFFNESS = ("drive", "belt_stiffness_n", "belt_length_mm", "guide", "beam")
"""What a resonance hangs on besides the mass."""


def _belt_hz(case: Case, axis: str, mass_g: float, *, before: bool = False) -> float | None:
    """Resonance of a mass on its belt, Hz; of coupled belts both stretch along either axis."""
    look = case.before if before else case.get
    stiffness, length = (look(f"axes.{axis}.belt_{n}") for n in ("stiffness_n", "length_mm"))
    if stiffness is None or length is None:
        return None
    belts = 2.0 if axis in "xy" and belts_coupled(case) else 1.0
    return resonance_hz(belts * belt_stiffness_n_m(stiffness, length * 1e-3), mass_g * 1e-3)


def _resonance(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        path = f"axes.{axis}.resonance_hz"
        own, old = case.get(path), case.before(path)
        other_parts = any(case.changed(f"axes.{axis}.{name}") for name in STIFFNESS)
        if own is not None and (own != old or other_parts):
            how = f"{own:g} Hz measured on this rig"
            return _compared(own, old, how)
        after, before = moving_mass_g(case, axis)
        if old is not None and before is not None and not other_parts:
            how = f"{old:g} Hz measured with {before:.0f} g; now {after:.0f} g"
            return _compared(old * (before / after) ** 0.5, old, how)
        value = _belt_hz(case, axis, after)
        if value is None:
            case.need(f"axes.{axis}.belt_stiffness_n", f"axes.{axis}.belt_length_mm")
        assert value is not None
        then = _belt_hz(case, axis, before, before=True) if before else None
        how = f"Belt alone, the carriage at the idler's end, where it is softest; {after:.0f} g"
        if old is not None and other_parts:
            how += f"; the {old:g} Hz measured before belong to other parts"
        return _compared(value, then, how)

    return Rule(f"resonance of {axis}", "Hz", "Resonance", find)


def _compared(value: float, earlier: float | None, how: str) -> Found:
    """A resonance against the one before; a fall asks for a closer look."""
    if earlier is None:
        return Found(value, f"{how}.")
    shift = value / earlier - 1.0
    tune = " Tune the vibration settings again." if abs(shift) > 0.05 else ""
    return Found(
        value,
        f"{how}: {signed_percent(shift)}.{tune}",
        limit=earlier,
        sense="at least",
        verdict="fits" if shift > -0.1 else "look closer",
    )


def _steps(axis: str) -> Rule:
    def find(case: Case) -> Found | None:
        at = f"axes.{axis}"
        full, micro = case.need(f"{at}.full_steps", f"{at}.microsteps")
        value = steps_per_mm(full, micro, gear_ratio_of(case, axis), travel_of(case, axis))
        return compare_steps(value, case.get(f"{at}.steps_per_mm"))

    return Rule(f"steps per mm of {axis}", "1/mm", "Steps per mm", find)


def compare_steps(value: float, set_to: float | None) -> Found:
    """Steps from the mechanics against what the controller is set to."""
    if set_to is None:
        return Found(value, f"Set the controller to {value:.4f}, then check by measured moves.",
                     verdict="look closer")  # fmt: skip
    off = set_to / value - 1.0
    ok = abs(off) < 0.005
    return Found(
        value,
        f"The controller is set to {set_to:g}, {signed_percent(off, 2)} from the mechanics."
        + ("" if ok else " A tooth, a gear or a microstep setting is not what is recorded."),
        limit=set_to,
        verdict="fits" if ok else "look closer" if abs(off) < 0.03 else "does not fit",
    )


def rules_for(case: Case) -> tuple[Rule, ...]:
    """The motion rules: for an axis of which nothing is recorded just one, that says so."""
    rules: list[Rule] = []
    for axis in "xyz":
        if getattr(case.rig.axes, axis) is None:
            rules.append(_acceleration(axis))
            continue
        rules += [_steps(axis), _acceleration(axis)]
        if axis != "z":  # z hardly moves while printing
            rules += [_resonance(axis), beam(axis), guide(axis), tension(axis)]
        rules.append(racking(axis))
        if axis == "y":
            rules.append(
                Rule(
                    "safe acceleration on the diagonal", "mm/s²", "Coupled belts", _diagonal, MOVING
                )
            )
    return (*rules, Rule("z holds unpowered", "°", "Does z hold", z_holds, MOVING))
