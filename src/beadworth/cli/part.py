"""``beadworth part``: cards of hot ends, extruders, guides and fans, to make rigs from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, command
from beadworth.cli.records import RecordNoun, add_record_commands

if TYPE_CHECKING:
    from beadworth.core import Record

app = typer.Typer(help="Keep cards of parts (hot ends, extruders, guides, fans) to make rigs from.")
PartArgument = Annotated[str, typer.Argument(help="Name of the card on the bench.")]


def _kind() -> type[Record]:
    from beadworth.rig import PartCard

    return PartCard


add_record_commands(
    app,
    RecordNoun(
        noun="part",
        example="Long melt zone",
        kind=_kind,
        save=lambda bench, part: bench.save_part(part),
        one=lambda bench, name: bench.part(name),
        all=lambda bench: bench.parts(),
        cells={
            "name": "name", "kind": "kind", "price": "price", "currency": "currency",
            "mass g": "mass_g",
        },
    ),
)  # fmt: skip


@command(app, "copy", 'part copy "My rig" --kind "hot end" --name "Stock hot end"')
def copy(
    call: Call,
    rig: Annotated[str, typer.Argument(help="A rig on the bench.")],
    kind: Annotated[
        str, typer.Option(metavar="KIND", help="hot end, extruder, guides or fan.")
    ] = "hot end",
    name: Annotated[str | None, typer.Option(help="Name of the card.")] = None,
) -> Answer:
    """Make a card of a part that a rig has, from what its record says."""
    from beadworth.workflow import store_card_of

    card = store_card_of(call.bench, rig, kind, name)
    return Answer(card, [f"On the bench: {card.name}"])


@command(app, "remove", 'part remove "Long melt zone"')
def remove(call: Call, name: PartArgument) -> Answer:
    """Take a card off the bench that no rig was made from."""
    from beadworth.workflow import remove_part

    data: dict[str, Any] = {"removed": remove_part(call.bench, name).name}
    return Answer(data, [f"Removed: {name}"])
