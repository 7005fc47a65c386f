"""``beadworth rig``: printers in one state, as records on the bench; does an upgrade fit?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli import bringup
from beadworth.cli.command import Answer, Call, Nouns, command, written
from beadworth.cli.load import load_material, load_rig, load_upgrade
from beadworth.cli.options import RigArgument
from beadworth.cli.records import RecordNoun, add_record_commands
from beadworth.cli.table import Table
from beadworth.core import write_file

if TYPE_CHECKING:
    from beadworth.core import Record

app = typer.Typer(help="Describe printers, check that an upgrade fits, bring it up.")


def _kind() -> type[Record]:
    from beadworth.rig import Rig

    return Rig


add_record_commands(
    app,
    RecordNoun(
        noun="rig",
        example="My rig",
        kind=_kind,
        save=lambda bench, rig: bench.save_rig(rig),
        one=lambda bench, name: bench.rig(name),
        all=lambda bench: bench.rigs(),
        cells={
            "name": "name",
            "parent": "parent",
            "nozzle mm": "hot_end.nozzle_mm",
            "melt zone mm": "hot_end.melt_zone_mm",
            "heater W": "hot_end.heater_w",
            "limit °C": "hot_end.temperature_limit_c",
        },
    ),
)


@command(app, "fit", "rig fit my-rig.toml upgrade.toml --material PLA --temperature 220 --flow 12")
def fit(
    call: Call,
    parent: Annotated[str, typer.Argument(help="Rig as it is: a TOML file, or a bench name.")],
    upgrade: Annotated[
        str, typer.Argument(help="What changes: a TOML file of those fields, or a bench rig.")
    ],
    material: Annotated[
        str | None, typer.Option(help="Generic polymer, a TOML file, or a bench material.")
    ] = None,
    temperature: Annotated[
        float | None, typer.Option(metavar="°C", help="Nozzle temperature wanted.")
    ] = None,
    flow: Annotated[float | None, typer.Option(metavar="MM³/S", help="Flow wanted.")] = None,
) -> Answer:
    """Check an upgrade against its parent rig: number, limit, margin, verdict and reason.

    What is unknown stays unknown, and the check says what to measure. Checks that touch
    mains, heaters or hot parts come with a caution.
    """
    from beadworth.rig import changed
    from beadworth.workflow import fit_answer, fit_check, unchanged

    before = load_rig(parent, call)
    after = load_upgrade(upgrade, before, call)
    polymer = load_material(material, call) if material else None
    checks = fit_check(before, after, polymer, temperature, flow)

    def describe() -> Iterator[str | Table]:
        yield Table(
            f"{after.name}, changed against {before.name}",
            ("field", "before", "after"),
            [(path, _short(old), _short(new)) for path, old, new in changed(before, after)],
        )
        names = ("value", "limit", "margin", "unit", "verdict")
        yield Table.of("Fit check", checks, {"check": "name"} | {name: name for name in names})
        before_too = unchanged(checks, fit_check(before, before, polymer, temperature, flow))
        for check in checks:
            if check.verdict != "fits":
                too = f" ({before.name} has it too)" if check.name in before_too else ""
                yield f"{check.name}: {check.verdict}{too}. {check.why}"
        for caution in dict.fromkeys(c.caution for c in checks if c.caution):
            yield f"Caution: {caution}"

    return Answer(fit_answer(before, after, checks), describe())


@command(app, "view", "rig view my-rig.toml --out stack.svg")
def view(
    call: Call,
    rig: RigArgument,
    out: Annotated[Path, typer.Option(metavar="FILE.svg", help="Picture to write.")],
) -> Answer:
    """Draw a rig's stack from the side, to scale, as an SVG picture."""
    from beadworth.rig import describe_stack, side_view

    record = load_rig(rig, call)
    write_file(out, side_view(record))
    return Answer({"file": str(out), "description": describe_stack(record)}, written(out))


def _short(value: Any) -> Any:
    if value == ():
        return "none"
    if isinstance(value, tuple) and hasattr(value[0], "model_dump"):
        return f"{len(value)} listed"
    return str(value) if isinstance(value, (bool, tuple)) else value


app.add_typer(bringup.app, cls=Nouns, name="bringup")
