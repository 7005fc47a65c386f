"""``beadworth rig fit`` and ``beadworth rig view``: does it fit, and how does it look?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from beadworth.cli.load import load_material, load_rig, load_upgrade
from beadworth.cli.output import BenchOption, JsonOption, emit_json, print_table


def add_to(app: typer.Typer) -> None:
    """Put the commands on the rig noun."""
    app.command("fit")(fit)
    app.command("view")(view)


def fit(
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
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Check an upgrade against its parent rig: number, limit, margin, verdict and reason.

    What is unknown stays unknown, and the check says what to measure. Checks that touch
    mains, heaters or hot parts come with a caution.
    """
    from beadworth.fit import fit_answer, fit_check, unchanged
    from beadworth.rig import changed

    before = load_rig(parent, bench)
    after = load_upgrade(upgrade, before, bench)
    polymer = load_material(material, bench) if material else None
    checks = fit_check(before, after, polymer, temperature, flow)
    differences = changed(before, after)
    if json:
        emit_json(fit_answer(before, after, checks))
        return
    print_table(
        f"{after.name}, changed against {before.name}",
        ("field", "before", "after"),
        [(path, _short(old), _short(new)) for path, old, new in differences],
    )
    print_table(
        "Fit check",
        ("check", "value", "limit", "margin", "unit", "verdict"),
        [(c.name, c.value, c.limit, c.margin, c.unit, c.verdict) for c in checks],
    )
    before_too = unchanged(checks, fit_check(before, before, polymer, temperature, flow))
    for check in checks:
        if check.verdict != "fits":
            too = f" ({before.name} has it too)" if check.name in before_too else ""
            typer.echo(f"{check.name}: {check.verdict}{too}. {check.why}")
    for caution in dict.fromkeys(c.caution for c in checks if c.caution):
        typer.echo(f"Caution: {caution}")


def view(
    rig: Annotated[str, typer.Argument(help="Rig record (TOML), or a rig's name on the bench.")],
    out: Annotated[Path, typer.Option(metavar="FILE.svg", help="Picture to write.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Draw a rig's stack from the side, to scale, as an SVG picture."""
    from beadworth.rig import describe_stack, side_view

    record = load_rig(rig, bench)
    out.write_text(side_view(record), encoding="utf-8")
    if json:
        emit_json({"file": str(out), "description": describe_stack(record)})
    else:
        typer.echo(f"Written: {out}")


def _short(value: Any) -> Any:
    if value == ():
        return "none"
    if isinstance(value, tuple) and hasattr(value[0], "model_dump"):
        return f"{len(value)} listed"
    return str(value) if isinstance(value, (bool, tuple)) else value
