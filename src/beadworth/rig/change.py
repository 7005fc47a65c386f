"""An upgrade: changed parts laid over a parent rig, and what changed always in sight."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from beadworth.core import from_mapping, to_mapping
from beadworth.rig.former import with_present_names
from beadworth.rig.paths import known_paths, look_up
from beadworth.rig.record import Rig

OWN = ("name", "parent", "price", "currency", "mass_g", "supplied_by", "note", "source")
"""What a rig says of itself: never taken over from its parent."""

_STEPPING = ("gear_ratio", "full_steps", "microsteps")
_LOAD = ("drive", "moving_mass_g", "belt_stiffness_n", "belt_length_mm", "guide", "beam")
_THREAD = ("drive", "lead_mm", "screw_diameter_mm", "worm_lead_angle_deg")
_WINDINGS = tuple(f"motor.{name}" for name in (
    "holding_torque_nm", "rated_current_a", "phase_inductance_mh", "phase_resistance_ohm",
))  # fmt: skip
_TOOL = (
    "hot_end.mass_g", "hot_end.melt_zone_mm", "hot_end.heat_break_mm", "hot_end.block_mass_g",
    "extruder.drive", "extruder.mass_g", "toolhead.mass_g", "toolhead.nozzle_x_mm",
    "toolhead.nozzle_y_mm", "toolhead.nozzle_z_mm", "mounting.part", "fans",
)  # fmt: skip
_SIDES = ("left", "right", "front", "back", "above")
_AXIS: dict[str, tuple[str, ...]] = {
    "steps_per_mm": ("drive", "pulley_teeth", "belt_pitch_mm", "lead_mm", *_STEPPING),
    "resonance_hz": _LOAD,
    "gear_ratio": ("drive",),
    "full_steps": _WINDINGS,
    "friction": _THREAD,
    "efficiency": (*_THREAD, "thread_half_angle_deg", "friction", "gear_ratio"),
    "centre_mm": ("moving_mass_g",),
    "belt_tension_n": ("drive", "pulley_teeth", "belt_pitch_mm", "belt_length_mm"),
}
FOLLOWS: dict[str, tuple[str, ...]] = {
    "hot_end.standing_loss_w_k": (
        "hot_end.heater_w", "hot_end.melt_zone_mm", "hot_end.block_metal",
        "hot_end.block_mass_g", "hot_end.mass_g", "hot_end.heat_break_mm",
    ),
    "hot_end.cold_side_c": ("hot_end.heat_break_mm",),
    "hot_end.liner_end_mm": ("hot_end.heat_break_mm",),
    "extruder.grip_force_n": ("extruder.effective_diameter_mm", "extruder.gear_ratio"),
    "extruder.drive_wheel_teeth": ("extruder.effective_diameter_mm",),
    "extruder.mesh_teeth": ("extruder.gear_ratio",),
    "hot_end.heater_cycle_s": (
        "hot_end.heater_w", "hot_end.block_metal", "hot_end.block_mass_g", "hot_end.melt_zone_mm",
    ),
    "extruder.steps_per_mm": (
        "extruder.effective_diameter_mm", *(f"extruder.{name}" for name in _STEPPING)
    ),
    "extruder.max_feed_mm_s": ("extruder.effective_diameter_mm", "extruder.gear_ratio"),
    "extruder.full_steps": tuple(f"extruder.{name}" for name in _WINDINGS),
    "parts.hot_end": (
        "hot_end.melt_zone_mm", "hot_end.bore_mm", "hot_end.heat_break_mm",
        "hot_end.block_metal", "hot_end.block_mass_g", "hot_end.heater_w", "hot_end.mass_g",
    ),
    "parts.extruder": (
        "extruder.drive", "extruder.gear_ratio", "extruder.effective_diameter_mm",
        "extruder.mass_g",
    ),
    "parts.guides": tuple(f"axes.{axis}.guide" for axis in "xyz"),
    "parts.fan": ("fans",),
    "toolhead.centre_mm": _TOOL,
    **{f"toolhead.envelope.{side}_mm": _TOOL for side in _SIDES},
    **{f"toolhead.probe_{axis}_mm": ("toolhead.mass_g",) for axis in "xyz"},
    **{
        f"axes.{axis}.{name}": tuple(f"axes.{axis}.{cause}" for cause in causes)
        for axis in "xyz"
        for name, causes in _AXIS.items()
    },
}  # fmt: skip
"""Values that hold for the old parts only: unknown again when one of the others changes."""
WHOLE = frozenset({"motor", "sensor", "beam", "guide", "part", "carriage"})
"""Tables that are one bought part: replaced whole, so no value of the old one stays behind."""


def upgrade(parent: Rig, changes: Rig | Mapping[str, Any], source: str = "upgrade") -> Rig:
    """The child rig: the parent with the changed values laid over it.

    Parameters
    ----------
    parent : Rig
    changes : Rig or mapping
        Only what changes, in the shape of a rig record; lists and the tables of
        :data:`WHOLE` are replaced whole. A :class:`Rig` is a child already and only gets its
        parent's name if it has none.
    source : str
        Where the changes came from, for messages.

    Returns
    -------
    Rig
        What the parent says of its own price, mass, supplier and note is left behind, and so
        are values that belonged to the old parts (:data:`FOLLOWS`) and how well changed
        values were known, unless the changes give them anew.

    Raises
    ------
    RecordError
        Changes that are no rig record, all problems at once.
    """
    if isinstance(changes, Rig):
        named = changes.parent is not None or changes.name == parent.name
        return changes if named else changes.model_copy(update={"parent": parent.name})
    changes, under = with_present_names(changes), to_mapping(parent)
    for name in OWN:
        under.pop(name, None)
    under |= {"name": f"{parent.name}, upgraded"[-80:], "parent": parent.name}
    given = set(_leaves(changes))
    laid_over = from_mapping(Rig, _merged(under, changes), source)
    for path, causes in FOLLOWS.items():
        if path not in given and any(
            look_up(laid_over, cause) != look_up(parent, cause) for cause in causes
        ):
            _drop(under, path)
            under.get("known", {}).pop(path, None)
    for path in given:
        if _get(changes, path) != _get(under, path):
            for known in [k for k in under.get("known", {}) if f"{k}.".startswith(f"{path}.")]:
                del under["known"][known]
    return from_mapping(Rig, _merged(under, changes), source)


def without_stale(parent: Rig, child: Mapping[str, Any]) -> dict[str, Any]:
    """A child's whole data less what belonged to its parent's parts only.

    Values of :data:`FOLLOWS` that stand as in the parent although one of their causes changed are
    unknown again, and so is how well values were known that are no longer the parent's.
    """
    data, before = deepcopy(dict(child)), to_mapping(parent)
    now = data.get("known", {})
    stale = [
        path
        for path, causes in FOLLOWS.items()
        if (value := _get(data, path)) is not None
        and value == _get(before, path)
        and any(_get(data, cause) != _get(before, cause) for cause in causes)
    ]
    for path in stale:
        _drop(data, path)
    data["known"] = {
        path: known
        for path, known in now.items()
        if path not in parent.known or _at(data, path) == _at(before, path)
    }
    return data


PUBLISHED = ("price", "currency", "supplied_by", "note")
"""What a record says of purchase and disclosure: as it is known now, whenever it was tested."""


def as_planned(then: Rig, now: Rig) -> Rig:
    """A rig as a trial was planned with it, from its record then and its newest one.

    A value that was changed since stands as it was. One that was not recorded then is taken from
    the newest record: writing down later what a printer is does not make it another one. Price,
    supplier and note are those of now.
    """
    if then == now:
        return now
    before, newest = to_mapping(then), to_mapping(now)
    data = _merged(newest, before)
    for name in PUBLISHED:
        data.pop(name, None)
    data |= {name: newest[name] for name in PUBLISHED if name in newest}
    data["known"] = before.get("known", {}) | {
        path: known
        for path, known in newest.get("known", {}).items()
        if _at(data, path) == _at(newest, path)
    }
    return from_mapping(Rig, data, f"rig {then.name} as planned")


def changed(parent: Rig, child: Rig) -> list[tuple[str, Any, Any]]:
    """What differs between two rigs: ``(path, before, after)``, None where not known.

    What each rig says of itself (:data:`OWN`) is left out, and so is :attr:`Rig.known`; a list
    of tables (fans, holes) counts as one value.
    """
    found = []
    paths = sorted({p.partition(".*")[0] for p in known_paths(Rig)} - {"known", *OWN})
    for path in paths:
        before, after = look_up(parent, path), look_up(child, path)
        if before != after:
            found.append((path, before, after))
    return found


def _merged(under: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    both = dict(under)
    for name, value in over.items():
        below = both.get(name)
        if isinstance(below, Mapping) and isinstance(value, Mapping) and name not in WHOLE:
            both[name] = _merged(below, value)
        else:
            both[name] = value
    return both


def _leaves(data: Mapping[str, Any], prefix: str = "") -> list[str]:
    paths = []
    for name, value in data.items():
        path = f"{prefix}{name}"
        paths += _leaves(value, f"{path}.") if isinstance(value, Mapping) else [path]
    return paths


def _get(data: Mapping[str, Any], path: str) -> Any:
    value: Any = data
    for part in path.split("."):
        if not isinstance(value, Mapping) or part not in value:
            return None
        value = value[part]
    return value


def _at(data: Any, path: str) -> Any:
    """The same for a path that may lead into lists."""
    for part in path.split("."):
        if isinstance(data, list):
            data = data[int(part)] if part.isdecimal() and int(part) < len(data) else None
        else:
            data = data.get(part) if isinstance(data, Mapping) else None
    return data


def _drop(data: dict[str, Any], path: str) -> None:
    *tables, last = path.split(".")
    inner: Any = data
    for part in tables:
        inner = inner.get(part) if isinstance(inner, dict) else None
    if isinstance(inner, dict):
        inner.pop(last, None)
