"""Part cards: a hot end, an extruder, guides, a fan, each under a name of its own.

People change parts, not tables. A card holds one part as it is bought: its price, its mass and
what is known of it. A rig before or after an upgrade is made by putting cards on another rig.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from beadworth.core import Problem, Record, RecordError, from_mapping, to_mapping
from beadworth.rig.axes import Guide
from beadworth.rig.change import OWN, without_stale
from beadworth.rig.drive import Extruder
from beadworth.rig.electrics import Fan
from beadworth.rig.fields import Currency, NotNegative, Positive
from beadworth.rig.hot_end import HotEnd
from beadworth.rig.record import Rig

PartKind = Literal["hot end", "extruder", "guides", "fan"]
TABLES: Final[dict[PartKind, str]] = {
    "hot end": "hot_end",
    "extruder": "extruder",
    "guides": "guide",
    "fan": "fan",
}
"""The table of a card that holds what is known of a part of each kind."""
SLOTS: Final[dict[PartKind, str]] = {
    "hot end": "hot_end",
    "extruder": "extruder",
    "guides": "guides",
    "fan": "fan",
}
"""Where a rig's record names the card (``parts.hot_end``)."""


class PartCard(Record):
    """One part as it is bought."""

    name: Annotated[str, Field(min_length=1, max_length=80)] = Field(description="name of your own")
    kind: PartKind = Field(description="what it is")
    price: NotNegative | None = Field(None, description="price; of one, where it is a fan")
    currency: Currency | None = Field(None, description="ISO 4217 code of the price")
    mass_g: Positive | None = Field(
        None,
        description="mass, g; an extruder's with its motor; of guides what moves with the "
        "carriage; of one fan",
    )
    hot_end: HotEnd | None = Field(None, description="a hot end")
    extruder: Extruder | None = Field(None, description="an extruder")
    guide: Guide | None = Field(None, description="guides of one axis")
    axes: tuple[Literal["x", "y", "z"], ...] = Field(
        ("x",), min_length=1, description="guides: axes they are for"
    )
    fan: Fan | None = Field(None, description="a fan")
    supplied_by: str | None = Field(None, description="who supplied it, for the disclosure line")
    source: str | None = Field(None, description="where the values come from")
    simulated: bool = Field(False, description="true for an invented part of the demo")
    note: str | None = Field(None, description="note")

    @model_validator(mode="after")
    def _one_part(self) -> Self:
        own = TABLES[self.kind]
        others = [name for name in TABLES.values() if name != own and getattr(self, name)]
        if others:
            raise PydanticCustomError(
                "beadworth",
                "the card of a part of kind {kind!r} has a table {table}.",
                {
                    "kind": self.kind,
                    "table": " and ".join(others),
                    "remedy": f"One card is one part: describe it under {own}, and give the other "
                    "a card of its own.",
                },
            )
        inner = getattr(self, own)
        twice = [name for name in ("mass_g", "price") if getattr(inner, name, None) is not None]
        if twice:
            raise PydanticCustomError(
                "beadworth",
                "{fields} inside the table {table}.",
                {
                    "fields": " and ".join(twice),
                    "table": own,
                    "remedy": "Give price and mass_g once, beside the name of the card.",
                },
            )
        return self

    def part(self) -> dict[str, Any]:
        """The part's own table as a rig holds it, mass and price in it where it has a place."""
        kinds: dict[PartKind, type[Record]] = {
            "hot end": HotEnd, "extruder": Extruder, "guides": Guide, "fan": Fan,
        }  # fmt: skip
        kind = kinds[self.kind]
        data = to_mapping(getattr(self, TABLES[self.kind]) or kind())
        for name in ("mass_g", "price", "source"):
            value = getattr(self, name)
            if name in kind.model_fields and value is not None:
                data[name] = value
        return data


def with_parts(
    parent: Rig,
    cards: Sequence[PartCard],
    name: str,
    *,
    known_cards: Mapping[str, PartCard] | None = None,
) -> Rig:
    """The rig that comes of putting parts on another.

    A part replaces the one of its kind whole: what its card does not say is unknown, and so is
    what was measured with the old part (how far the nozzle hangs below the carriage, after a new
    hot end; the moving mass, after guides whose predecessors have no card with a mass). E in mm³
    is a setting of the controller and stays.

    Parameters
    ----------
    parent : Rig
        The rig as it is; the child names it.
    cards : sequence of PartCard
        One of a kind at most; several fans where they cool different things.
    name : str
        Name of the new rig.
    known_cards : mapping, optional
        Cards by name, where the mass of replaced guides is looked up.

    Returns
    -------
    Rig
        Its price is that of all parts, where each has one in one currency.

    Raises
    ------
    RecordError
        No card, or two for one place.
    """
    _require_each_its_place(cards)
    data = {key: value for key, value in to_mapping(parent).items() if key not in OWN}
    data |= {"name": name, "parent": parent.name, **_priced(cards)}
    known: dict[str, Any] = dict(data.get("known", {}))
    fitted: dict[str, str] = dict(data.get("parts", {}))
    for card in cards:
        gone = _put(data, card, parent, known_cards or {})
        known = {p: k for p, k in known.items() if not f"{p}.".startswith(tuple(gone))}
        fitted[SLOTS[card.kind]] = card.name
    data["known"] = known
    whole = without_stale(parent, data)
    whole["parts"] = fitted
    return from_mapping(Rig, whole, name)


def _require_each_its_place(cards: Sequence[PartCard]) -> None:
    if not cards:
        raise RecordError(
            Problem("no part is named.", "parts", None, "Name the card of each new part.")
        )
    places: dict[tuple[str, ...], str] = {}
    problems = []
    for card in cards:
        spots: list[tuple[str, ...]] = [(card.kind,)]
        if card.kind == "guides":
            spots = [(card.kind, axis) for axis in card.axes]
        elif card.kind == "fan":
            spots = [(card.kind, (card.fan or Fan()).purpose)]
        for spot in spots:
            if spot in places:
                problems.append(
                    Problem(
                        f"{places[spot]} and {card.name} are both for one place: {' '.join(spot)}.",
                        "parts",
                        card.name,
                        "Name one of them.",
                    )
                )
            places[spot] = card.name
    if problems:
        raise RecordError(problems)


def _priced(cards: Sequence[PartCard]) -> dict[str, Any]:
    """Price, currency and supplier of all parts together; nothing where one has no price."""
    told: dict[str, Any] = {}
    prices = [
        None if card.price is None else card.price * (card.fan.count if card.fan else 1)
        for card in cards
    ]
    currencies = {card.currency for card in cards}
    if None not in prices and len(currencies) == 1:
        told["price"] = sum(price for price in prices if price is not None)
        if currency := next(iter(currencies)):
            told["currency"] = currency
    suppliers = list(dict.fromkeys(card.supplied_by for card in cards if card.supplied_by))
    if suppliers:
        told["supplied_by"] = "; ".join(suppliers)
    return told


def _put(
    data: dict[str, Any], card: PartCard, parent: Rig, known_cards: Mapping[str, PartCard]
) -> list[str]:
    """Put a part in the place of the old one; beginnings of paths nothing is known of any more."""
    part = card.part()
    if card.kind == "hot end":
        data["hot_end"] = part
        if "toolhead" in data:
            data["toolhead"] = {k: v for k, v in data["toolhead"].items() if k != "nozzle_z_mm"}
        return ["hot_end.", "toolhead.nozzle_z_mm."]
    if card.kind == "extruder":
        volumetric = parent.extruder.volumetric_e
        data["extruder"] = part if volumetric is None else part | {"volumetric_e": volumetric}
        return ["extruder."]
    if card.kind == "fan":
        purpose = part["purpose"]
        data["fans"] = [fan for fan in data.get("fans", []) if fan["purpose"] != purpose] + [part]
        return ["fans."]
    old = known_cards.get(parent.parts.guides or "") if parent.parts else None
    axes = dict(data.get("axes", {}))
    gone = []
    for axis in card.axes:
        table = dict(axes.get(axis, {})) | {"guide": part}
        gone += [f"axes.{axis}.guide.", f"axes.{axis}.moving_mass_g."]
        before = table.pop("moving_mass_g", None)
        if before and old and old.mass_g and card.mass_g and axis in old.axes:
            table["moving_mass_g"] = before + card.mass_g - old.mass_g
        axes[axis] = table
    data["axes"] = axes
    return gone


def card_of(rig: Rig, kind: PartKind) -> dict[str, Any]:
    """What a rig knows of one of its parts, as the data of a card without a name."""
    data: dict[str, Any] = {"kind": kind}
    if kind == "guides":
        guides = {a: axis.guide for a in "xyz" if (axis := getattr(rig.axes, a)) and axis.guide}
        first = next(iter(guides.values()), None)
        part = to_mapping(first) if first else {}
        data["axes"] = [a for a, guide in guides.items() if guide == first] or ["x"]
    elif kind == "fan":
        part = to_mapping(rig.fans[0]) if rig.fans else {}
    else:
        part = to_mapping(getattr(rig, SLOTS[kind]))
        part.pop("volumetric_e", None)
    for name in ("mass_g", "price", "source"):
        if name in part:
            data[name] = part.pop(name)
    if rig.currency and "price" in data:
        data["currency"] = rig.currency
    return data | {TABLES[kind]: part}
