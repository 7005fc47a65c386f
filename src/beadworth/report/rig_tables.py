"""What is known of the rigs, and what changed from a rig to its upgrade, as rows of words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from beadworth.text import value_text

if TYPE_CHECKING:
    from pydantic import BaseModel

    from beadworth.rig import Rig

# Of a rig, what is told elsewhere, says nothing of the machine, or is the owner's own affair.
_NOT_COMPARED = {
    "name", "parent", "price", "currency", "mass_g", "supplied_by", "source", "simulated", "note",
    "known",
}  # fmt: skip


def rig_rows(rigs: Sequence[Rig]) -> list[tuple[str, list[str]]]:
    """What is known of the rigs side by side; a row no rig knows is left out."""
    rows: list[tuple[str, list[str]]] = []
    for label, path in (
        ("frame", "frame"),
        ("nozzle, mm", "hot_end.nozzle_mm"),
        ("melt zone, mm", "hot_end.melt_zone_mm"),
        ("bore, mm", "hot_end.bore_mm"),
        ("heater, W", "hot_end.heater_w"),
        ("heater supply, V", "hot_end.heater_v"),
        ("temperature limit, °C", "hot_end.temperature_limit_c"),
        ("liner in the melt zone", "hot_end.ptfe_in_melt_zone"),
        ("drive", "extruder.drive"),
        ("filament, mm", "filament_diameter_mm"),
    ):
        values = [_reach(rig, path) for rig in rigs]
        if any(value is not None for value in values):
            rows.append((label, [_words(value) for value in values]))
    return rows


def rig_changes(parent: Rig, child: Rig) -> list[tuple[str, str, str]]:
    """What differs between a rig and its parent: field in words, before, after."""
    before, after = dict(_fields(parent)), dict(_fields(child))
    return [
        (label, _words(before.get(label)), _words(after.get(label)))
        for label in dict.fromkeys([*before, *after])
        if before.get(label) != after.get(label)
    ]


def _reach(rig: Rig, path: str) -> Any:
    value: Any = rig
    for name in path.split("."):
        value = getattr(value, name)
    return value


def _words(value: Any) -> str:
    """A value of a record in words, whatever it holds."""
    if isinstance(value, Mapping):
        return ", ".join(f"{_spaced(k)} {_words(v)}" for k, v in value.items())
    if isinstance(value, (list, tuple)):
        return "; ".join(_words(item) for item in value) or "none"
    return value_text(value)


def _fields(record: BaseModel, before: str = "") -> Iterator[tuple[str, Any]]:
    """Every field of a record in words, with its value; records inside it opened."""
    from pydantic import BaseModel

    for name, info in type(record).model_fields.items():
        if not before and name in _NOT_COMPARED:
            continue
        value = getattr(record, name)
        head = f"{before}{_spaced(name)}"
        if isinstance(value, BaseModel):
            yield from _fields(value, f"{_spaced(name)}: ")
        else:
            label = before + info.description if before and info.description else head
            plain = value
            if isinstance(value, tuple):
                plain = [v.model_dump(exclude_none=True) if isinstance(v, BaseModel) else v
                         for v in value]  # fmt: skip
            yield label, plain


def _spaced(name: str) -> str:
    return name.replace("_", " ")
