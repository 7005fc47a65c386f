"""A rig's record for reading: by part, with unit, uncertainty and where each value comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from beadworth.core import NotFoundError
from beadworth.rig import Fan, Pattern, Rig, changed, descriptions, look_up, side_view
from beadworth.text import capital, number, value_text
from beadworth.web.fields_records import RIG
from beadworth.web.forms import Field
from beadworth.web.forms import fields as form_fields
from beadworth.web.record_fields import fields_of, words_of
from beadworth.workflow import (
    Bench,
    Check,
    Finding,
    StoredBringUp,
    describe_result,
    fit_check,
    stored_bring_ups,
)

ORIGIN = {
    "measured": "measured",
    "datasheet": "data sheet",
    "handbook": "handbook",
    "assumed": "assumed",
}
FORM = {field.path: field for field in form_fields(RIG)}
"""The fields people know from the form, by the words they stand under there."""
APART = {
    "belt": ("lead_mm", "screw_diameter_mm", "thread_half_angle_deg", "worm_lead_angle_deg",
             "friction", "efficiency"),
    "screw": ("pulley_teeth", "belt_pitch_mm", "belt_stiffness_n", "belt_length_mm",
              "belt_tension_n",
              "worm_lead_angle_deg", "efficiency"),
    "worm belt": ("lead_mm", "screw_diameter_mm", "thread_half_angle_deg", "efficiency"),
    "platinum": ("ohm_at_25c", "beta_k", "steinhart_hart"),
    "thermistor": ("ohm_at_0c",),
    "thermocouple": ("ohm_at_0c", "ohm_at_25c", "beta_k", "steinhart_hart", "pull_up_ohm",
                     "adc_bits"),
    "direct": ("guide_tube_mm",),
}  # fmt: skip
"""What a drive or sensor of one kind has no use for: not known, and not asked for."""
OWN = ("name", "parent", "simulated", "note", "source", "supplied_by", "currency")
"""Said in the head of the page or beside the value they belong to."""


@dataclass(frozen=True)
class Line:
    """One known value."""

    path: str
    label: str
    value: str
    unit: str
    u: str
    """Standard uncertainty, in the value's unit; empty where none is recorded."""
    origin: str
    note: str


@dataclass(frozen=True)
class Part:
    """One part of the rig: what is known of it, and what is not."""

    title: str
    lines: tuple[Line, ...]
    unknown: tuple[tuple[str, str, str], ...]
    """Label, what helps to find it, and path of every value nobody recorded."""


@dataclass(frozen=True)
class Change:
    """One value that differs from the parent rig."""

    path: str
    label: str
    before: str
    after: str
    unit: str


@dataclass(frozen=True)
class RigSheet:
    """Everything the page of a rig shows besides its form."""

    rig: Rig
    parts: tuple[Part, ...]
    changes: tuple[Change, ...]
    parent_here: bool
    """Whether the parent is on this bench, so that changes can be listed."""
    children: tuple[str, ...]
    to_measure: tuple[Check, ...]
    """Checks that cannot be answered until something is measured."""
    picture: str
    found: tuple[tuple[StoredBringUp, Finding], ...]
    """What stored bring-ups found, newest first."""


def rig_sheet(bench: Bench, rig: Rig) -> RigSheet:
    """The sheet of a rig, with what the bench knows of its parent and its upgrades."""
    parent = None
    if rig.parent:
        try:
            parent = bench.rig(rig.parent)
        except NotFoundError:
            parent = None
    wanting = tuple(
        check
        for check in fit_check(parent or rig, rig)
        if check.verdict == "measure this" and not _asks_for_job(check)
    )
    return RigSheet(
        rig,
        parts_of(rig),
        changes_of(parent, rig) if parent else (),
        parent is not None,
        tuple(other.name for other in bench.rigs() if other.parent == rig.name),
        wanting,
        side_view(rig),
        tuple((one, finding) for one in reversed(stored_bring_ups(bench, rig.name))
              for finding in describe_result(one.result)),
    )  # fmt: skip


def _asks_for_job(check: Check) -> bool:
    """Whether a check wants the material or flow, which belong to a fit check, not to a rig."""
    return "(give one)" in check.why


def parts_of(rig: Rig) -> tuple[Part, ...]:
    """The record by part, in the record's own order."""
    titles: dict[str, list[Field]] = {}
    for tables, field in fields_of(Rig, ()):
        if field.path not in OWN:
            titles.setdefault(_title(tables), []).append(field)
    parts = [_part(rig, title, fields) for title, fields in titles.items()]
    parts.append(_listed(rig))
    return tuple(part for part in parts if part.lines or part.unknown)


def _title(tables: tuple[str, ...]) -> str:
    if not tables:
        return "The whole"
    if tables[0] == "axes":
        return f"Axis {tables[1]}"
    return tables[0].replace("_", " ").capitalize()


def _part(rig: Rig, title: str, fields: Sequence[Field]) -> Part:
    lines, unknown = [], []
    for plain in fields:
        value, field = look_up(rig, plain.path), plain
        own = FORM.get(field.path)
        label = own.label if own else field.label
        label = label.replace("True where ", "").replace("true where ", "")
        field = replace(field, label=capital(label), unit=_unit(own, field))
        if value is not None:
            lines.append(_line(rig, field, value))
        elif not _no_use(rig, field.path) and not field.path.startswith("parts."):
            unknown.append((field.label, field.help, field.path))
    return Part(title, tuple(lines), tuple(unknown))


def _unit(own: Field | None, field: Field) -> str:
    return (own.unit if own else "") or field.unit


def _no_use(rig: Rig, path: str) -> bool:
    """Whether a value belongs to another kind of drive or sensor than the one there."""
    table, _, name = path.rpartition(".")
    kind = look_up(rig, f"{table}.drive") or look_up(rig, f"{table}.kind")
    return name in APART.get(str(kind), ())


def _line(rig: Rig, field: Field, value: Any) -> Line:
    known = rig.known.get(field.path)
    unit = field.unit
    if field.path == "price" and rig.currency:
        unit = rig.currency
    return Line(
        field.path,
        field.label,
        _words(value),
        unit,
        number(known.u, 2) if known and known.u else "",
        ORIGIN[known.origin] if known else "",
        (known.note or "") if known else "",
    )


def _listed(rig: Rig) -> Part:
    """What a record holds as lists: fans, holes and slots."""
    lines = [
        Line(f"fans.{i}", f"Fan, {fan.purpose}", _fan(fan), "", "", "", "")
        for i, fan in enumerate(rig.fans)
    ]
    for name in ("part", "carriage"):
        pattern = getattr(rig.mounting, name, None)
        if pattern is not None:
            path = f"mounting.{name}"
            lines.append(Line(path, f"Mounting of the {name}", _pattern(pattern), "", "", "", ""))
    unknown = [] if rig.fans else [("Fans", "volts and current, from their labels", "fans")]
    if rig.mounting is None:
        unknown.append(
            ("Mounting pattern", "positions of holes and slots on part and carriage", "mounting")
        )
    return Part("Fans and holes", tuple(lines), tuple(unknown))


def _fan(fan: Fan) -> str:
    parts = [f"{fan.count} alike"] if fan.count > 1 else []
    parts += [
        f"{number(value)} {unit}"
        for value, unit in (
            (fan.volts_v, "V"),
            (fan.current_a, "A"),
            (fan.mass_g, "g"),
            (fan.airflow_m3_h, "m³/h"),
        )
        if value is not None
    ]
    return ", ".join(parts) or "on board"


def _pattern(pattern: Pattern) -> str:
    parts = []
    if pattern.holes:
        sizes = sorted({number(hole.diameter_mm) for hole in pattern.holes})
        parts.append(f"{len(pattern.holes)} holes of {' and '.join(sizes)} mm")
    if pattern.slots:
        parts.append(f"{len(pattern.slots)} slots")
    return ", ".join(parts) or "no holes"


def _words(value: Any) -> str:
    """A value of a record as it is read."""
    return _list_words(value) if isinstance(value, tuple) else value_text(value)


def _list_words(values: tuple[Any, ...]) -> str:
    if not values:
        return "none"
    if isinstance(values[0], Fan):
        return "; ".join(f"{fan.purpose}: {_fan(fan)}" for fan in values)
    plain = all(isinstance(item, (int, float)) for item in values)
    return "  ".join(number(item) for item in values) if plain else f"{len(values)} listed"


def changes_of(before: Rig, after: Rig) -> tuple[Change, ...]:
    """What an upgrade changed, in words."""
    parts = []
    for path, old, new in changed(before, after):
        label, unit, _ = words_of(descriptions(Rig).get(path, path))
        parts.append(Change(path, capital(label), _words(old), _words(new), unit))
    return tuple(parts)
