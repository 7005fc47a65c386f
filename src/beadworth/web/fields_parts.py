"""The forms of part cards, and of an upgrade: what people change is a part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from typing import Final, get_args

from beadworth.rig import PartCard, PartKind, Rig
from beadworth.web.fields_records import RIG
from beadworth.web.forms import Field, Group, fields, typed_from
from beadworth.web.record_fields import fields_of

PARTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "New hot end",
        "What its drawing or data sheet says.",
        (
            "hot_end.melt_zone_mm", "hot_end.bore_mm", "hot_end.nozzle_mm",
            "hot_end.temperature_limit_c", "hot_end.ptfe_in_melt_zone", "hot_end.heater_w",
            "hot_end.mass_g",
        ),
    ),
    (
        "New extruder",
        "",
        (
            "extruder.drive", "extruder.steps_per_mm", "extruder.max_feed_mm_s",
            "extruder.grip_force_n", "extruder.retract_mm", "extruder.retract_mm_s",
            "extruder.mass_g",
        ),
    ),
    (
        "New guides, belts, motors or frame",
        "What the controller is then set to.",
        (
            "motion.print_acceleration_mm_s2", "motion.travel_acceleration_mm_s2",
            "motion.corner_deviation_mm", "toolhead.mass_g",
        ),
    ),
)  # fmt: skip
OTHERS = {
    "hot_end.mass_g": Field("hot_end.mass_g", "Mass of the hot end", "g"),
    "extruder.mass_g": Field("extruder.mass_g", "Mass of what rides with the toolhead", "g"),
    "toolhead.mass_g": Field("toolhead.mass_g", "Mass of the whole toolhead", "g"),
}


KINDS: Final[tuple[PartKind, ...]] = get_args(PartKind)
CARD: Final[dict[PartKind, tuple[str, ...]]] = {
    "hot end": (
        "hot_end.melt_zone_mm", "hot_end.nozzle_mm", "hot_end.temperature_limit_c",
        "hot_end.ptfe_in_melt_zone", "hot_end.heater_w", "hot_end.heater_v",
    ),
    "extruder": (
        "extruder.drive", "extruder.steps_per_mm", "extruder.max_feed_mm_s",
        "extruder.grip_force_n",
    ),
    "guides": ("guide.kind", "guide.spacing_mm", "guide.preload_n", "guide.friction"),
    "fan": ("fan.purpose", "fan.airflow_m3_h", "fan.volts_v", "fan.current_a"),
}  # fmt: skip
"""What the card of a part is asked first; the rest of its table is folded."""
MASS: Final[dict[PartKind, str]] = {
    "hot end": "Of the whole hot end.",
    "extruder": "With its motor.",
    "guides": "Of what moves with the carriage.",
    "fan": "Of one.",
}


@cache
def card_groups(kind: PartKind) -> tuple[Group, ...]:
    """The form of a card: name, price, mass and a few fields; more on demand."""
    table = {"hot end": "hot_end", "guides": "guide"}.get(kind, kind)
    named = {field.path: field for field in fields(RIG)}
    every = {
        field.path: named.get(field.path, field)
        for tables, field in fields_of(PartCard, ())
        if tables[:1] == (table,)
    }
    plain = {path: _plainly(field, table) for path, field in every.items()}
    outside = (f"{table}.mass_g", f"{table}.price", f"{table}.source", "extruder.volumetric_e")
    first = (
        Field("name", "Name", kind="text", required=True, help="One of your own."),
        Field("price", "Price", help="In the currency beside it."),
        Field("currency", "Currency", kind="text", help="ISO 4217, as EUR."),
        Field("mass_g", "Mass", "g", MASS[kind]),
        *(replace(plain[path], wanted="") for path in CARD[kind]),
    )
    rest = [f for path, f in plain.items() if path not in (*CARD[kind], *outside)]
    own = (
        Field("supplied_by", "Who supplied it", kind="text",
              help="Printed on the dossier as the disclosure line."),
        Field("source", "Where the values come from", kind="text"),
        Field("note", "Note", kind="long"),
    )  # fmt: skip
    more = [Group("More of it", "Leave empty what you do not know.", tuple(rest), folded=True)]
    return (
        Group("The part", "", first),
        *(more if rest else ()),
        Group("Supplier and source", "", own, folded=True),
    )


def _plainly(field: Field, table: str) -> Field:
    """A field without the table its label names: the card is that table."""
    label = field.label.removeprefix(f"{table.replace('_', ' ').capitalize()}, ")
    return replace(field, label=label[:1].upper() + label[1:])


def chosen_parts(cards: Iterable[PartCard], typed: Mapping[str, str]) -> list[str]:
    """The cards chosen in the form of an upgrade."""
    names = {card.name for card in cards}
    picked = [typed.get(field.path, "") for field in _choices(cards)]
    return [name for name in picked if name in names]


def chosen_at(kind: PartKind) -> str:
    """The field of an upgrade's form in which the card of a kind is chosen."""
    return f"part.{kind.replace(' ', '_')}"


def _choices(cards: Iterable[PartCard]) -> tuple[Field, ...]:
    of: dict[PartKind, list[str]] = {kind: [] for kind in KINDS}
    for card in cards:
        of[card.kind].append(card.name)
    return tuple(
        Field(
            chosen_at(kind), kind.capitalize(), kind="choice",
            choices=tuple((name, name) for name in names), empty="as before",
        )
        for kind, names in of.items() if names
    )  # fmt: skip


def part_groups(before: Rig, cards: Iterable[PartCard] = ()) -> tuple[Group, ...]:
    """The form over a rig: its present values stand as examples in the empty boxes."""
    choices = _choices(cards)
    known = {field.path: field for field in fields(RIG)} | OTHERS
    here = typed_from((Group("", "", tuple(known.values())),), before.model_dump(mode="json"))

    def shown(path: str) -> Field:
        field, value = known[path], here.get(path, "")
        empty = f"as before: {value}" if value else "as before"
        return replace(field, required=False, wanted="", example=value, empty=empty)

    first = Group(
        "What it is called",
        "",
        (
            Field("name", "Name of the upgraded rig", kind="text", required=not choices,
                  example="left out: the rig and the parts" if choices else
                  f"{before.name}, upgraded"),
            Field("price", "Price of the new parts",
                  help="Left empty: what their cards say." if choices else
                  "In the currency beside it."),
            Field("currency", "Currency", kind="text", example=before.currency or "EUR",
                  help="ISO 4217, as EUR."),
        ),
    )  # fmt: skip
    parts = (
        Group(title, intro, tuple(map(shown, paths)), folded=True) for title, intro, paths in PARTS
    )
    from_cards = Group("New parts, from their cards", "", choices)
    return (*((from_cards,) if choices else ()), first, *parts)
