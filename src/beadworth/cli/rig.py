"""``beadworth rig``: printers in one state, as records on the bench; does an upgrade fit?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli import bringup
from beadworth.cli.command import Answer, Call, Next, Nouns, command, written
from beadworth.cli.load import load_material, load_rig, load_upgrade
from beadworth.cli.options import RigArgument
from beadworth.cli.records import RecordNoun, add_record_commands
from beadworth.cli.table import Table
from beadworth.core import write_file

if TYPE_CHECKING:
    from beadworth.core import Record
    from beadworth.workflow import Bench

app = typer.Typer(help="Describe printers, check that an upgrade fits, bring it up.")


def _kind() -> type[Record]:
    from beadworth.rig import Rig

    return Rig


def _questions(bench: Bench, rig: Any) -> list[str]:
    from beadworth.workflow import question_words, questions_about

    return question_words(questions_about(bench, rig))


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
        question=_questions,
    ),
)


@command(
    app,
    "new",
    'rig new "My rig" --layout "moving bed" --reach "220 220 250" --limit 260 --ptfe no',
)
def new(
    call: Call,
    name: Annotated[str, typer.Argument(help="Name of the printer, as you would say it aloud.")],
    reach: Annotated[
        str,
        typer.Option(metavar="MM", help="Reach of the nozzle in x, y, z: '220 220 250'."),
    ],
    layout: Annotated[
        str | None,
        typer.Option(help="moving bed, fixed gantry, coupled belts or lifting gantry."),
    ] = None,
    drive: Annotated[str | None, typer.Option(help="direct or bowden.")] = None,
    nozzle: Annotated[float, typer.Option(metavar="MM", help="Nozzle diameter.")] = 0.4,
    melt_zone: Annotated[
        float | None, typer.Option(metavar="MM", help="Heated length of the bore.")
    ] = None,
    limit: Annotated[
        float | None, typer.Option(metavar="°C", help="Highest temperature its maker allows.")
    ] = None,
    ptfe: Annotated[
        str | None, typer.Option(metavar="yes|no", help="A PTFE liner reaches the melt zone.")
    ] = None,
) -> Answer:
    """Start a rig from a typical layout and a few answers.

    What the layout brings is typical, not measured, and marked so in the record.
    """
    from beadworth.text import parse_numbers
    from beadworth.workflow import question_words, start_rig_record

    rig, odd = start_rig_record(
        call.bench,
        {
            "name": name,
            "layout": layout,
            "reach_mm": parse_numbers(reach),
            "drive": drive,
            "nozzle_mm": nozzle,
            "melt_zone_mm": melt_zone,
            "temperature_limit_c": limit,
            "ptfe_in_melt_zone": {"yes": True, "no": False}.get(ptfe, ptfe) if ptfe else None,
        },
    )
    typical = sum(one.origin == "assumed" for one in rig.known.values())
    said = [f"On the bench: {rig.name}"]
    if typical:
        said.append(f"{typical} values are typical of the layout, not measured.")
    said += [f"In question: {line}" for line in question_words(odd)]
    return Answer(rig, said)


@command(
    app, "with", 'rig with "My rig" "Long melt zone" "Light extruder" --name "My rig, upgraded"'
)
def with_(
    call: Call,
    rig: Annotated[str, typer.Argument(help="The rig as it is, on the bench.")],
    parts: Annotated[list[str], typer.Argument(help="Cards of the new parts.")],
    name: Annotated[
        str | None, typer.Option(help="Name of the new rig; left out: the old one and the parts.")
    ] = None,
) -> Answer:
    """Make the rig that comes of putting other parts on one, from their cards.

    What a card does not say is unknown, and so is what was measured with the old part.
    """
    from beadworth.rig import changed
    from beadworth.workflow import make_upgrade

    before = call.bench.rig(rig)
    after = make_upgrade(call.bench, rig, {"name": name} if name else {}, parts)
    rows = [(path, _short(old), _short(new)) for path, old, new in changed(before, after)]
    table = Table(f"{after.name}, changed against {rig}", ("field", "before", "after"), rows)
    said: list[str | Table] = [f"On the bench: {after.name}", table]
    return Answer(after, said, Next(("rig", "fit", rig, after.name)))


@command(app, "remove", 'rig remove "My rig"')
def remove(call: Call, name: RigArgument) -> Answer:
    """Take a rig off the bench that nothing there is about."""
    from beadworth.workflow import remove_rig

    return Answer({"removed": remove_rig(call.bench, name).name}, [f"Removed: {name}"])


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
