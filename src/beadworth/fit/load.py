"""Masses: what an upgrade adds to the toolhead, and what each axis then moves."""

from __future__ import annotations

from beadworth.fit.check import Case, UnknownError, told
from beadworth.rig import Rig

# Values of a hot end that leave its mass as it is.
_NO_MASS = {"nozzle_mm", "land_mm", "cone_half_angle_deg", "temperature_limit_c", "price",
            "source", "heater_v", "heater_w", "standing_loss_w_k", "sensor", "liner_limit_c",
            "cold_side_c", "ptfe_in_melt_zone"}  # fmt: skip


def added_mass_g(case: Case) -> float:
    """Mass the upgrade adds to the toolhead, g: as recorded, or new parts less old ones."""
    stated = case.get("mass_g")
    if stated is not None:
        return float(stated)
    parts = ["hot_end.mass_g", "toolhead.mass_g"]
    if case.get("extruder.drive") != "bowden" or case.before("extruder.drive") != "bowden":
        parts.append("extruder.mass_g")
    total, missing = 0.0, []
    for path in parts:
        after, before = case.get(path), case.before(path)
        if path == "extruder.mass_g":  # a guide tube's extruder sits on the frame
            after = 0.0 if case.rig.extruder.drive == "bowden" else after
            before = 0.0 if case.parent.extruder.drive == "bowden" else before
        if after is not None and before is not None:
            total += after - before
        elif _is_another(case, path.partition(".")[0]):
            missing.append(told(path) + ("" if after is None else " of the parent rig"))
    if case.changed("fans"):
        for sign, rig in ((1.0, case.rig), (-1.0, case.parent)):
            known, unknown = _fans_g(rig)
            total += sign * known
            missing += unknown
    if missing:
        raise UnknownError(*missing)
    return total


def _fans_g(rig: Rig) -> tuple[float, list[str]]:
    """Mass of the fans on the toolhead, and those whose mass is unknown."""
    on_tool = [(n, fan) for n, fan in enumerate(rig.fans) if fan.purpose != "board"]
    missing = [f"fans.{n}.mass_g of {rig.name}" for n, fan in on_tool if fan.mass_g is None]
    return sum((fan.mass_g or 0.0) * fan.count for _, fan in on_tool), missing


def _is_another(case: Case, part: str) -> bool:
    """Whether the part itself changed, not just settings or its nozzle."""
    before, after = getattr(case.parent, part), getattr(case.rig, part)
    if part == "hot_end":
        ignore = _NO_MASS
    elif part == "extruder":
        ignore = set(type(after).model_fields) - {
            "drive", "gear_ratio", "effective_diameter_mm", "motor", "mass_g"
        }  # fmt: skip
    else:
        ignore = set(type(after).model_fields) - {"envelope", "mass_g"}
    names = set(type(after).model_fields) - ignore
    return any(getattr(before, name) != getattr(after, name) for name in names)


def carries_tool(case: Case, axis: str) -> bool | None:
    """Whether the toolhead moves with an axis: as recorded, else by the frame's type.

    A moving bed carries its print in y, so x and z carry the toolhead; a gantry carries it in x
    and y. Both are how frames of that name are built (common practice, no source).
    """
    stated = case.get(f"axes.{axis}.carries_tool")
    if stated is not None:
        return bool(stated)
    frame = (case.get("frame") or "").lower()
    if "moving bed" in frame:
        return axis != "y"
    if "gantry" in frame:
        return True if axis in "xy" else None
    return True if axis == "x" else None


def moving_mass_g(case: Case, axis: str) -> tuple[float, float | None]:
    """What an axis moves after the upgrade and, where known, before it, g.

    Raises
    ------
    UnknownError
        The mass before, what was added, or whether this axis carries the toolhead.
    """
    path = f"axes.{axis}.moving_mass_g"
    before = case.before(path)
    if case.changed(path) and case.get(path) is not None:
        return float(case.get(path)), before
    mass = case.need(path)
    carries = carries_tool(case, axis)
    if carries is None:
        raise UnknownError(told(f"axes.{axis}.carries_tool"))
    added = added_mass_g(case) if carries else 0.0
    if mass + added <= 0:
        raise UnknownError(f"a true {path}: {mass:g} g before and {added:g} g added leave nothing")
    return mass + added, before
