"""``beadworth capacity``: ceilings, comparison, speeds, next coupons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, Next, command, notes, progress
from beadworth.cli.load import is_table, load_fit
from beadworth.cli.options import parse_ladder, read_bytes
from beadworth.cli.table import Table, tenths
from beadworth.core import RESERVE
from beadworth.text import percent

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Comparison, Fit, GroupFit, SpeedRow, SpeedSheet

app = typer.Typer(help="Read ceilings, print speeds, and what two rigs differ by.")

SourceArgument = Annotated[
    str, typer.Argument(metavar="FILE.csv|TRIAL", help="Readings table (CSV), or a trial id.")
]
LossOption = Annotated[
    float | None,
    typer.Option(help="Loss at which the ceiling is read, 0.005 to 0.2 (default 0.02)."),
]


@command(app, "fit", "capacity fit how-fast-1", "capacity fit readings.csv --at 215,225")
def fit(
    call: Call,
    source: SourceArgument,
    loss: LossOption = None,
    at: Annotated[
        str | None,
        typer.Option(metavar="°C", help="More temperatures to read a ceiling at: 215,225."),
    ] = None,
) -> Answer:
    """Fit the loss curve and read the ceiling at each temperature, with its 95 % interval."""
    from beadworth.workflow import ceiling_at, fit_to_json

    with progress("Fitting"):
        found = load_fit(source, call, loss)
        more = [
            ceiling_at(found, group.rig, group.material, temperature)
            for group in found.groups
            for temperature in (parse_ladder(at, "--at") if at else ())
        ]
    asked = {"ceilings_asked": more} if more else {}
    return Answer(fit_to_json(found) | asked, describe_fit(found, more))


def describe_fit(found: Fit, more: list[Ceiling]) -> Iterator[str | Table]:
    """Ceilings as a table, then what is to be said of each rig and material."""
    from beadworth.report import ceiling_words

    yield Table.of(
        f"Ceilings at {percent(found.ceilings[0].loss, 1)} loss (95 %)",
        [*found.ceilings, *more],
        {
            "rig": "rig", "material": "material", "°C": "temperature_c",
            "ceiling mm³/s": tenths("flow_mm3_s"), "low": tenths("low"), "high": tenths("high"),
            "finding": ceiling_words,
        },
    )  # fmt: skip
    for group in found.groups:
        yield from _describe_group(group)


def _describe_group(group: GroupFit) -> Iterator[str]:
    from beadworth.workflow import describe_lack_of_fit, describe_method

    yield (
        f"{group.rig}, {group.material}: coupons scatter {percent(group.sd_relative, 2)}. "
        f"{describe_method(group)}"
    )
    yield describe_lack_of_fit(group)
    if group.law is not None:
        yield group.law.sentence
    yield from notes(group.notes)


@command(
    app,
    "compare",
    "capacity compare how-fast-1",
    "capacity compare readings.csv --price 60",
    "capacity compare stock-1 --with upgrade-1",
)
def compare(
    call: Call,
    source: SourceArgument,
    baseline: Annotated[str | None, typer.Option(help="Rig compared against.")] = None,
    candidate: Annotated[str | None, typer.Option(help="Upgraded rig.")] = None,
    material: Annotated[str | None, typer.Option(help="Where several were weighed.")] = None,
    apart: Annotated[
        str | None,
        typer.Option(
            "--with",
            metavar="FILE.csv|TRIAL",
            help="Where the candidate was weighed in another trial: that one.",
        ),
    ] = None,
    loss: LossOption = None,
    price: Annotated[
        float | None, typer.Option(help="Price of the upgrade; left out: the rig's record.")
    ] = None,
) -> Answer:
    """Say what the candidate gains at each temperature, where the readings can tell at all.

    Both rigs may be in one trial, or the stock weighed then and the upgrade now (--with).
    """
    from beadworth.workflow import (
        comparison_apart,
        table_comparison,
        table_comparison_apart,
        trial_comparison,
    )

    options: dict[str, Any] = {"material": material, "price": price}
    with progress("Comparing"):
        if apart and not is_table(source) and not is_table(apart):
            snapshots = (call.bench.snapshot(source), call.bench.snapshot(apart))
            found = comparison_apart(*snapshots, baseline, candidate, loss, **options)
        elif apart:
            first = load_fit(source, call, loss)
            second = load_fit(apart, call, loss or first.loss)
            found = table_comparison_apart(first, second, baseline, candidate, **options)
        elif is_table(source):
            fitted = load_fit(source, call, loss)
            found = table_comparison(fitted, baseline, candidate, **options)
        else:
            snapshot = call.bench.snapshot(source)
            found = trial_comparison(snapshot, baseline, candidate, loss, **options)
    return Answer(found, _describe_comparison(found))


def _describe_comparison(found: Comparison) -> Iterator[str | Table]:
    yield found.sentence
    yield Table.of(
        f"{found.candidate} less {found.baseline}, at {percent(found.loss, 1)} loss (95 %)",
        found.differences,
        {
            "°C": "temperature_c", "mm³/s": tenths("difference_mm3_s"), "low": tenths("low"),
            "high": tenths("high"),
            "%": lambda d: None if d.percent.value is None else d.percent.value * 100,
            "mm/s": "speed_mm_s.value", "P(better)": "probability_better",
            "per mm³/s": "money_per_mm3_s.value", "finding": "sentence",
        },
    )  # fmt: skip
    yield from notes(found.notes)


@command(app, "speeds", "capacity speeds how-fast-1 --widths 0.4,0.6 --layers 0.2,0.28")
def speeds(
    call: Call,
    source: SourceArgument,
    reserve: Annotated[
        float, typer.Option(help="Safety margin below the ceiling, as a fraction of it.")
    ] = RESERVE,
    widths: Annotated[
        str | None, typer.Option(metavar="MM", help="Line widths: 0.4,0.45,0.6.")
    ] = None,
    layers: Annotated[
        str | None, typer.Option(metavar="MM", help="Layer heights: 0.12,0.2,0.28.")
    ] = None,
    loss: LossOption = None,
    every: Annotated[
        bool, typer.Option("--all", help="Print every speed; left out: those of usual beads.")
    ] = False,
) -> Answer:
    """Turn ceilings into the speeds people type in, by line width and layer height."""
    from beadworth.workflow import table_speeds, trial_speeds

    options: dict[str, Any] = {"reserve": reserve}
    if widths:
        options["widths_mm"] = parse_ladder(widths, "--widths")
    if layers:
        options["layers_mm"] = parse_ladder(layers, "--layers")
    with progress("Turning ceilings into speeds"):
        if is_table(source):
            found = table_speeds(load_fit(source, call, loss), **options)
        else:
            found = trial_speeds(call.bench.snapshot(source), loss, **options)
    return Answer(found, _describe_speeds(found, every=every))


SPEEDS = 10
"""Printed where not all are asked for."""
USUAL_MM = (0.45, 0.2)
"""Line width and layer height that the speeds printed first are nearest to (common practice)."""


def usual_speeds(rows: Sequence[SpeedRow], most: int = SPEEDS) -> list[SpeedRow]:
    """Speeds of the most usual beads, each at every temperature of every rig, ``most`` at most."""
    beads = sorted(
        {(r.width_mm, r.layer_mm) for r in rows},
        key=lambda b: (abs(b[0] - USUAL_MM[0]) + abs(b[1] - USUAL_MM[1]), b),
    )
    conditions = len({(r.rig, r.material, r.temperature_c) for r in rows})
    chosen = beads[: max(1, most // max(conditions, 1))]
    return [r for r in rows if (r.width_mm, r.layer_mm) in chosen][:most]


def _describe_speeds(found: SpeedSheet, *, every: bool) -> Iterator[str | Table]:
    shown = list(found.rows) if every else usual_speeds(found.rows)
    more = len(found.rows) - len(shown)
    yield Table.of(
        f"Flow to stay under, a safety margin of {percent(found.reserve, 0)} below the ceiling",
        found.settings,
        {
            "rig": "rig", "material": "material", "°C": "temperature_c",
            "flow mm³/s": "flow_mm3_s", "feed mm/s": "feed_mm_s", "heat W": "power_w",
            "heater W": "rated_w",
        },
    )  # fmt: skip
    yield Table.of(
        "Top speeds",
        shown,
        {
            "rig": "rig", "°C": "temperature_c", "width mm": "width_mm", "layer mm": "layer_mm",
            "mm/s": "speed_mm_s", "low": "low_mm_s", "high": "high_mm_s",
            "by w × h": "plain_speed_mm_s",
        },
    )  # fmt: skip
    if more:
        yield f"{more} more speeds, of other line widths and layer heights: --all prints them."
    yield from notes(found.notes)


@command(app, "next", "capacity next how-fast-1 --coupons 8 --add", "capacity next readings.csv")
def next_(
    call: Call,
    source: SourceArgument,
    coupons: Annotated[int, typer.Option(help="Coupons you are ready to make, at most.")] = 6,
    add: Annotated[
        bool, typer.Option("--add", help="Add them to the trial's sheet as an amendment.")
    ] = False,
    reason: Annotated[
        str, typer.Option(help="Why they are added; recorded with the amendment.")
    ] = "chosen to narrow the ceilings most",
    loss: LossOption = None,
) -> Answer:
    """Choose the coupons that would shrink the intervals most, and say by how much."""
    from beadworth.core import InputError, to_json
    from beadworth.workflow import (
        add_coupons,
        table_next_coupons,
        trial_next_coupons,
        trial_question,
    )

    amendment = None
    question = None
    if is_table(source):
        if add:
            raise InputError(
                "a bare file has no sheet to add to.",
                source,
                remedy="Import it as a trial, or leave --add out.",
            )
        found = table_next_coupons(read_bytes(Path(source)), source, coupons, loss)
    else:
        with progress("Choosing coupons"):
            snapshot = call.bench.snapshot(source)
            question = trial_question(snapshot, loss)
            found = trial_next_coupons(snapshot, coupons, loss)
            if add:
                settings = [
                    (c.rig, c.temperature_c, c.flow_mm3_s)
                    for c in found.coupons
                    for _ in range(c.count)
                ]
                amendment = add_coupons(call.bench, source, settings, reason)
    columns = {"rig": "rig", "material": "material", "°C": "temperature_c", "mm³/s": "flow_mm3_s"}
    table = Table.of("Next coupons", found.coupons, columns | {"count": "count"})
    data = to_json(found) | {"amendment": amendment.number if amendment else None}
    data |= {"question": question}
    said = [question.sentence] if question else []
    if amendment is None:
        return Answer(data, [*said, found.sentence, table])
    added = f"Added as amendment {amendment.number}: {len(amendment.coupons)} coupons."
    following = Next(("trial", "program", source, "--out", "programs"))
    return Answer(data, [*said, found.sentence, table, added], following)
