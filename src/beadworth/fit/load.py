"""Masses: what an upgrade adds to the toolhead, and what each axis then moves."""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.fit.check import Case, Missing, UnknownError
from beadworth.rig import Rig

# Values of a hot end that leave its mass as it is.
_NO_MASS = {"nozzle_mm", "land_mm", "cone_half_angle_deg", "temperature_limit_c", "price",
            "source", "heater_v", "heater_w", "standing_loss_w_k", "sensor", "liner_limit_c",
            "cold_side_c", "ptfe_in_melt_zone"}  # fmt: skip


@dataclass(frozen=True)
class Added:
    """What an upgrade adds to the toolhead, g, and how that was come by."""

    grams: float
    how: str


def added_mass_g(case: Case) -> Added:
    """Mass of the new parts less that of the parts they replace; below 0 for a lighter toolhead.

    Where the record gives the new parts' mass as a whole (``mass_g``) that is taken; where the
    replaced parts were never weighed, all of it counts as added, which is on the safe side.

    Raises
    ------
    UnknownError
        Masses of the parts that differ, where there is no figure for the whole.
    """
    new, old = 0.0, 0.0
    new_missing: list[str | Missing] = []
    old_missing: list[str | Missing] = []
    for path in ("hot_end.mass_g", "toolhead.mass_g", "extruder.mass_g"):
        part = path.partition(".")[0]
        after, before = case.get(path), case.before(path)
        if part == "extruder":  # a guide tube's extruder sits on the frame
            after = 0.0 if case.rig.extruder.drive == "bowden" else after
            before = 0.0 if case.parent.extruder.drive == "bowden" else before
        if not _is_another(case, part) and after == before:
            continue
        new, old = new + (after or 0.0), old + (before or 0.0)
        new_missing += [Missing(path)] if after is None else []
        old_missing += [Missing(path)] if before is None else []
    if case.changed("fans"):
        fans_new, unweighed = _fans_g(case.rig)
        fans_old, unweighed_before = _fans_g(case.parent)
        new, old = new + fans_new, old + fans_old
        new_missing += unweighed
        old_missing += unweighed_before
    stated = case.get("mass_g")
    if stated is not None and old_missing:
        how = f"{stated:g} g of new parts; those they replace were not weighed, so all counts."
        return Added(float(stated), how)
    if stated is not None:
        new, new_missing = float(stated), []
    if new_missing or old_missing:
        raise UnknownError(*new_missing, of_parent=old_missing)
    return Added(new - old, f"{new:g} g of new parts in place of {old:g} g.")


def _fans_g(rig: Rig) -> tuple[float, list[str]]:
    """Mass of the fans on the toolhead, and those whose mass is unknown."""
    on_tool = [(n, fan) for n, fan in enumerate(rig.fans) if fan.purpose != "board"]
    missing = [f"fans.{n}.mass_g" for n, fan in on_tool if fan.mass_g is None]
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
        ignore = set(type(after).model_fields) - {"mass_g"}
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
    if "gantry" in frame or (axis in "xy" and belts_coupled(case)):
        return True if axis in "xy" else None
    return True if axis == "x" else None


def belts_coupled(case: Case) -> bool:
    """Whether two motors together move x and y: as recorded, else by the frame's name."""
    stated = case.get("coupled_belts")
    return bool(stated) if stated is not None else "coupled" in (case.get("frame") or "").lower()


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
        raise UnknownError(Missing(f"axes.{axis}.carries_tool"))
    added = added_mass_g(case).grams if carries else 0.0
    if mass + added <= 0:
        raise UnknownError(f"a true {path}: {mass:g} g before and {added:g} g added leave nothing")
    return mass + added, before


def print_mass_g(case: Case, axis: str) -> float | None:
    """The heaviest print an axis carries, g: 0 where it carries the tool, None: not recorded."""
    if carries_tool(case, axis) is not False:
        return 0.0
    recorded = case.get(f"axes.{axis}.print_mass_g")
    return None if recorded is None else float(recorded)
