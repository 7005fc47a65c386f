"""``beadworth capacity``: ceilings, comparison, speeds, next coupons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.output import (
    BenchOption,
    JsonOption,
    emit_json,
    numbers,
    print_table,
    progress,
    read_bytes,
)
from beadworth.text import percent

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
    if _is_file(source):
        from beadworth import capacity
        from beadworth.trial import decode, read_readings_csv

        readings = read_readings_csv(decode(read_bytes(Path(source)), source), source)
        return capacity.fit(readings, loss=0.02 if loss is None else loss)
    from beadworth.store import open_bench
    from beadworth.workflow import trial_fit

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
    from beadworth.report import ceiling_words

    print_table(
        f"Ceilings at {percent(ceilings[0].loss, 1)} loss (95 %)",
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
        f"{group.rig}, {group.material}: {lead.name} carries {percent(lead.weight, 0)} of the "
        f"evidence; coupons scatter {percent(group.sd_relative, 2)}."
    )
    if group.lack_of_fit_p is not None:
        typer.echo(f"Lack of fit against replicate scatter: p = {group.lack_of_fit_p:.3f}.")
    if group.law is not None:
        typer.echo(group.law.sentence)
    for note in group.notes:
        typer.echo(f"Note: {note}")


@app.command("compare")
def compare(
    source: SourceArgument,
    baseline: Annotated[str | None, typer.Option(help="Rig compared against.")] = None,
    candidate: Annotated[str | None, typer.Option(help="Upgraded rig.")] = None,
    material: Annotated[str | None, typer.Option(help="Where several were weighed.")] = None,
    loss: LossOption = None,
    price: Annotated[
        float | None, typer.Option(help="Price of the upgrade; left out: the rig's record.")
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Say what the candidate gains at each temperature, where the readings can tell at all."""
    from dataclasses import asdict

    asked: dict[str, Any] = {"material": material, "price": price}
    with progress("Comparing"):
        if _is_file(source):
            from beadworth import capacity

            result = fit_of(source, loss, bench)
            rigs = sorted({group.rig for group in result.groups})
            first = baseline or rigs[0]
            others = [rig for rig in rigs if rig != first]
            second = candidate or (others[0] if others else first)
            found = capacity.compare(result, first, second, **asked)
        else:
            from beadworth.store import open_bench
            from beadworth.workflow import trial_comparison

            with open_bench(bench) as store:
                found = trial_comparison(store, source, baseline, candidate, loss, **asked)
    if json:
        emit_json(asdict(found))
        return
    typer.echo(found.sentence)
    print_table(
        f"{found.candidate} less {found.baseline}, at {percent(found.loss, 1)} loss (95 %)",
        ("°C", "mm³/s", "low", "high", "%", "mm/s", "P(better)", "per mm³/s", "in words"),
        [
            (
                d.temperature_c,
                d.difference_mm3_s,
                d.low,
                d.high,
                d.percent.value * 100 if d.percent.value is not None else None,
                d.speed_mm_s.value,
                d.probability_better,
                d.money_per_mm3_s.value,
                d.sentence,
            )
            for d in found.differences
        ],
    )
    for note in found.notes:
        typer.echo(f"Note: {note}")


def _is_file(source: str) -> bool:
    return Path(source).is_file() or source.endswith((".csv", ".tsv", ".txt"))


@app.command("speeds")
def speeds(
    source: SourceArgument,
    reserve: Annotated[float, typer.Option(help="Fraction kept below the ceiling.")] = 0.1,
    widths: Annotated[
        str | None, typer.Option(metavar="MM", help="Line widths: 0.4,0.45,0.6.")
    ] = None,
    layers: Annotated[
        str | None, typer.Option(metavar="MM", help="Layer heights: 0.12,0.2,0.28.")
    ] = None,
    loss: LossOption = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Turn ceilings into the speeds people type in, by line width and layer height."""
    from dataclasses import asdict

    from beadworth.capacity import LAYERS_MM, WIDTHS_MM

    asked: dict[str, Any] = {
        "reserve": reserve,
        "widths_mm": numbers(widths, "--widths") if widths else WIDTHS_MM,
        "layers_mm": numbers(layers, "--layers") if layers else LAYERS_MM,
    }
    with progress("Turning ceilings into speeds"):
        if _is_file(source):
            from beadworth import capacity

            sheet = capacity.speeds(fit_of(source, loss, bench), **asked)
        else:
            from beadworth.store import open_bench
            from beadworth.workflow import trial_speeds

            with open_bench(bench) as store:
                sheet = trial_speeds(store, source, loss, **asked)
    if json:
        emit_json(asdict(sheet))
        return
    print_table(
        f"Flow to stay under, {percent(sheet.reserve, 0)} kept in reserve",
        ("rig", "material", "°C", "flow mm³/s", "feed mm/s", "heat W", "heater W"),
        [
            (s.rig, s.material, s.temperature_c, s.flow_mm3_s, s.feed_mm_s, s.power_w, s.rated_w)
            for s in sheet.settings
        ],
    )
    print_table(
        "Top speeds",
        ("rig", "°C", "width mm", "layer mm", "mm/s", "low", "high", "w × h says"),
        [
            (
                row.rig,
                row.temperature_c,
                row.width_mm,
                row.layer_mm,
                row.speed_mm_s,
                row.low_mm_s,
                row.high_mm_s,
                row.plain_speed_mm_s,
            )
            for row in sheet.rows
        ],
    )
    for note in sheet.notes:
        typer.echo(f"Note: {note}")


@app.command("next")
def next_(
    source: SourceArgument,
    coupons: Annotated[int, typer.Option(help="Coupons you are ready to make.")] = 6,
    add: Annotated[
        bool, typer.Option("--add", help="Add them to the trial's sheet as an amendment.")
    ] = False,
    reason: Annotated[
        str, typer.Option(help="Why they are added; recorded with the amendment.")
    ] = "chosen to narrow the ceilings most",
    loss: LossOption = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Choose the coupons that would shrink the intervals most, and say by how much."""
    from dataclasses import asdict

    from beadworth.core import InputError, Problem

    amendment = None
    if _is_file(source):
        if add:
            raise InputError(
                Problem("a bare file has no sheet to add to.", source,
                        remedy="Import it as a trial, or leave --add out.")
            )  # fmt: skip
        from beadworth import capacity
        from beadworth.trial import decode, read_readings_csv

        readings = read_readings_csv(decode(read_bytes(Path(source)), source), source)
        chosen = capacity.next_coupons(readings, coupons, loss=0.02 if loss is None else loss)
    else:
        from beadworth.store import open_bench
        from beadworth.workflow import add_coupons, trial_next

        with open_bench(bench) as store, progress("Choosing coupons"):
            chosen = trial_next(store, source, coupons, loss)
            if add:
                settings = [
                    (c.rig, c.temperature_c, c.flow_mm3_s)
                    for c in chosen.coupons
                    for _ in range(c.count)
                ]
                amendment = add_coupons(store, source, settings, reason)
    if json:
        emit_json(asdict(chosen) | {"amendment": amendment.number if amendment else None})
        return
    typer.echo(chosen.sentence)
    print_table(
        "Next coupons",
        ("rig", "material", "°C", "mm³/s", "count"),
        [(c.rig, c.material, c.temperature_c, c.flow_mm3_s, c.count) for c in chosen.coupons],
    )
    if amendment:
        typer.echo(f"Added as amendment {amendment.number}: {len(amendment.coupons)} coupons.")
