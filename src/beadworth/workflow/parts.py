"""Part cards on the bench: who uses one, rigs made from them, and taking one away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, get_args

from beadworth.core import (
    ConflictError,
    InputError,
    Place,
    RecordError,
    from_mapping,
    to_mapping,
)
from beadworth.rig import PartCard, PartKind, Rig, card_of, changed, upgrade, with_parts
from beadworth.text import join_words
from beadworth.workflow.rigs import taken

if TYPE_CHECKING:
    from beadworth.store import Bench


def rigs_with_part(rigs: Sequence[Rig], name: str) -> list[str]:
    """Names of the rigs that were made from a card."""
    return [rig.name for rig in rigs if rig.parts and name in to_mapping(rig.parts).values()]


def rig_with_parts(bench: Bench, before: str, parts: Sequence[str], name: str | None = None) -> Rig:
    """A rig with other parts, from their cards; nothing is stored.

    Raises
    ------
    NotFoundError
        No such rig or card.
    RecordError
        Two parts for one place.
    """
    parent = bench.rig(before)
    cards = {card.name: card for card in bench.parts()}
    chosen = [cards[one] if one in cards else bench.part(one) for one in parts]
    called = name or f"{parent.name}, {join_words([card.name for card in chosen])}"[:80]
    return with_parts(parent, chosen, called, known_cards=cards)


def upgraded(
    bench: Bench, before: str, changes: Mapping[str, Any], parts: Sequence[str] = ()
) -> Rig:
    """The rig that new parts, from cards and by single values, make of another; nothing stored.

    Values lie over what the cards say. The price left out is that of the cards.

    Raises
    ------
    NotFoundError
        No rig or card of that name.
    RecordError
        Values a rig cannot have; no change but name and price; a name that is taken.
    """
    parent = bench.rig(before)
    changes = dict(changes)
    after = parent
    if parts:
        after = rig_with_parts(bench, before, parts, changes.get("name"))
        changes.setdefault("name", after.name)
        for name in ("price", "currency", "supplied_by"):
            changes.setdefault(name, getattr(after, name))
        changes = {name: value for name, value in changes.items() if value is not None}
    refuse_taken_name(bench, str(changes.get("name", "")))
    after = upgrade(after, {"parent": parent.name, **changes}, "upgrade")
    if not changed(parent, after):
        raise RecordError(
            "nothing changes.",
            where="upgrade",
            remedy="Choose a part, or open the one that is new and say what differs.",
        )
    return after


def make_upgrade(
    bench: Bench, before: str, changes: Mapping[str, Any], parts: Sequence[str] = ()
) -> Rig:
    """The same, put on the bench."""
    after = upgraded(bench, before, changes, parts)
    bench.save_rig(after)
    return after


def refuse_taken_name(bench: Bench, name: str) -> None:
    """An upgrade must not become, unasked, a new version of a rig that is there."""
    if name in bench.records()[0]:
        raise RecordError(
            f"a rig called {name!r} is on the bench already.",
            where="upgrade, field name",
            path=Place("upgrade", field=("name",)),
            value=name,
            remedy="Choose another name.",
        )


def card_of_rig(bench: Bench, rig: str, kind: str) -> dict[str, Any]:
    """What a rig knows of one of its parts, as the data of a card without a name.

    Raises
    ------
    InputError
        No kind of part.
    """
    kinds: dict[str, PartKind] = {one: one for one in get_args(PartKind)}
    if kind not in kinds:
        raise InputError(
            f"{kind!r} is no kind of part.", "kind", kind, f"Give one of: {', '.join(kinds)}."
        )
    return card_of(bench.rig(rig), kinds[kind])


def store_card_of(bench: Bench, rig: str, kind: str, name: str | None = None) -> PartCard:
    """A card of a part that a rig has, put on the bench.

    Raises
    ------
    InputError
        No kind of part.
    ConflictError
        A card of that name is there already.
    """
    data = card_of_rig(bench, rig, kind)
    card = from_mapping(PartCard, {"name": name or f"{kind} of {rig}"[:80], **data}, "part")
    if card.name in [one.name for one in bench.parts()]:
        raise taken("part", card.name)
    bench.save_part(card)
    return card


def remove_part(bench: Bench, name: str) -> PartCard:
    """Take a card away that no rig was made from.

    Raises
    ------
    NotFoundError
        No such card.
    ConflictError
        A rig was made from it.
    """
    card = bench.part(name)

    def ask() -> None:
        if users := rigs_with_part(bench.rigs(), name):
            raise ConflictError(
                f"{name} is a part of {join_words(users)}.",
                f"part {name}",
                name,
                "A card stays as long as a rig was made from it.",
            )

    bench.remove_record("part", name, ask)
    return card
