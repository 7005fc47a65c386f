"""``beadworth capacity``: ceilings, comparison, speeds, next coupons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.output import (
    BenchOption,
    JsonOption,
    emit_json,
    numbers,
    print_table,
    progress,
    read_text,
)

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Fit

app = typer.Typer(help="Capacity: loss over flow, ceilings with intervals, what rigs differ by.")

SourceArgument = Annotated[
    str, typer.Argument(metavar="FILE.csv|TRIAL", help="Readings table (CSV), or a trial id.")
]
LossOption = Annotated[
    float | None,
    typer.Option(help="Loss at which the ceiling is read, 0.005 to 0.2 (default 0.02)."),
]


def fit_of(source: str, loss: float | None, bench: str | None) -> Fit:
    """The fit of a bare file, or of a trial on the bench."""
    if Path(source).is_file() or source.endswith((".csv", ".tsv", ".txt")):
        from beadworth import capacity
        from beadworth.trial import read_readings_csv

        readings = read_readings_csv(read_text(Path(source)), source)
        return capacity.fit(readings, loss=0.02 if loss is None else loss)
    from beadworth.bench import open_bench
    from beadworth.bench.assemble import trial_fit

    with open_bench(bench) as store:
        return trial_fit(store, source, loss)


@app.command("fit")
def fit(
    source: SourceArgument,
    loss: LossOption = None,
    at: Annotated[
        str | None,
        typer.Option(metavar="°C", help="More temperatures to read a ceiling at: 215,225."),
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Fit the loss curve and read the ceiling at each temperature, with its 95 % interval."""
    with progress("Fitting"):
        result = fit_of(source, loss, bench)
        asked = numbers(at, "--at") if at else ()
        extra = [
            result.ceiling(group.rig, group.material, temperature)
            for group in result.groups
            for temperature in asked
        ]
    if json:
        data = result.to_json()
        if extra:
            from dataclasses import asdict

            data["ceilings_asked"] = [asdict(ceiling) for ceiling in extra]
        emit_json(data)
        return
    _print_ceilings([*result.ceilings, *extra])
    for group in result.groups:
        _print_group(group)


def _print_ceilings(ceilings: list[Ceiling]) -> None:
    from beadworth.dossier.sentences import ceiling_words

    print_table(
        f"Ceilings at {ceilings[0].loss:.1%} loss (95 %)",
        ("rig", "material", "°C", "ceiling mm³/s", "low", "high", "in words"),
        [
            (
                c.rig,
                c.material,
                c.temperature_c,
                c.flow_mm3_s,
                c.low,
                c.high,
                ceiling_words(c),
            )
            for c in ceilings
        ],
    )


def _print_group(group: object) -> None:
    from beadworth.capacity import GroupFit

    assert isinstance(group, GroupFit)
    lead = max(group.families, key=lambda family: family.weight)
    typer.echo(
        f"{group.rig}, {group.material}: {lead.name} carries {lead.weight:.0%} of the evidence; "
        f"coupons scatter {group.sd_relative:.2%}."
    )
    if group.lack_of_fit_p is not None:
        typer.echo(f"Lack of fit against replicate scatter: p = {group.lack_of_fit_p:.3f}.")
    if group.law is not None:
        typer.echo(group.law.sentence)
    for note in group.notes:
        typer.echo(f"Note: {note}")
