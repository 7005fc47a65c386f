"""``beadworth wear``: the log of a rig over months, its charts, rates and reminders."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from beadworth.cli.command import Answer, Call, command
from beadworth.cli.entries import EntryList
from beadworth.cli.options import DayOption
from beadworth.cli.table import Table
from beadworth.core import InputError, make_folder, write_file, written_whole
from beadworth.text import disarmed

if TYPE_CHECKING:
    from datetime import date

    from beadworth.wear import ChartSettings, WearSummary

app = typer.Typer(help="Log hours, checks and failures over months; see what is due.")
LOG = EntryList(about="rig", name="log", entry="entry", entries="entries")
RigArgument = Annotated[str, typer.Argument(help="A rig's name on the bench.")]
KindArgument = Annotated[
    Literal["hours", "check", "adjustment", "replacement", "failure", "reminder"],
    typer.Argument(help="What is logged."),
]


@command(
    app,
    "add",
    'wear add "My rig" hours --hours 120',
    'wear add "My rig" check "play at the bed" --value 0.06 --unit mm --place "x carriage"',
)
def add(
    call: Call,
    rig: RigArgument,
    kind: KindArgument,
    what: Annotated[
        str, typer.Argument(help="Check, or part changed or failed; nothing for hours.")
    ] = "",
    on: DayOption = None,
    hours: Annotated[
        float | None, typer.Option(metavar="H", help="Print hours since the entry before.")
    ] = None,
    from_print: Annotated[
        str | None,
        typer.Option("--print", metavar="ID", help="Hours of a print last replayed on this rig."),
    ] = None,
    copies: Annotated[int | None, typer.Option(help="How often that print was printed.")] = None,
    value: Annotated[float | None, typer.Option(help="What a check read.")] = None,
    unit: Annotated[str | None, typer.Option(help="Unit of that reading.")] = None,
    place: Annotated[str, typer.Option(help="Where, or at which setting.")] = "",
    because: Annotated[
        Literal["failed", "precaution", "upgrade"] | None,
        typer.Option(help="Why it was replaced; only failures count as such."),
    ] = None,
    every_h: Annotated[
        float | None, typer.Option(metavar="H", help="Remind every so many print hours.")
    ] = None,
    every_days: Annotated[
        int | None, typer.Option(metavar="DAYS", help="Remind every so many days.")
    ] = None,
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    instead_of: Annotated[
        int | None, typer.Option(metavar="N", help="Entry whose place this takes; it stays.")
    ] = None,
    reason: Annotated[str, typer.Option(help="Why, where it takes another's place.")] = "",
) -> Answer:
    """Add an entry: hours, a check, an adjustment, a replacement, a failure, a reminder.

    Checks offered by name are play at the bed (mm), belt tension (N or Hz) and repeat coupon
    (g, at one fixed setting); any other name is a check of your own, in your own unit.
    """
    from datetime import date

    from beadworth.workflow import add_wear, describe_entry, supersede_wear

    data = {
        "on": on or str(date.today()), "kind": kind, "what": what, "place": place, "value": value,
        "unit": unit, "hours_h": hours, "from_print": from_print, "copies": copies,
        "because": because, "every_h": every_h, "every_days": every_days, "note": note,
    }  # fmt: skip
    given = {key: value for key, value in data.items() if value not in (None, "")}
    stored = (
        add_wear(call.bench, rig, given)
        if instead_of is None
        else supersede_wear(call.bench, rig, instead_of, given, reason)
    )
    return Answer(stored, [f"Entry {stored.id} of {rig}: {describe_entry(stored.record)}"])


@command(app, "list", 'wear list "My rig"')
def list_(call: Call, rig: RigArgument) -> Answer:
    """List every entry in the order entered, those that no longer count with their reason."""
    from beadworth.workflow import describe_entry, wear_log

    return LOG.listed(
        rig,
        f"Wear log of {rig}",
        wear_log(call.bench, rig),
        {
            "kind": "record.kind",
            "what": lambda stored: describe_entry(stored.record),
            "note": "record.note",
        },
    )


@command(app, "void", 'wear void "My rig" 4 --reason "read the wrong counter"')
def void(
    call: Call,
    rig: RigArgument,
    entry: Annotated[int, typer.Argument(help="Its number in the list.")],
    reason: Annotated[str, typer.Option(help="Why it no longer counts.")],
) -> Answer:
    """Let an entry no longer count; it stays in the log with the reason."""
    from beadworth.workflow import void_wear

    void_wear(call.bench, rig, entry, reason)
    return LOG.voided(rig, entry, reason)


@command(
    app,
    "summary",
    'wear summary "My rig"',
    'wear summary "My rig" --check "play at the bed, x carriage" --baseline 8 --charts charts',
)
def summary(
    call: Call,
    rig: RigArgument,
    check: Annotated[
        str | None, typer.Option(help="Check the next five options are for, as 'name, place'.")
    ] = None,
    baseline: Annotated[
        int | None, typer.Option(metavar="N", help="Readings of its baseline; left out: ten.")
    ] = None,
    target: Annotated[float | None, typer.Option(help="Level to compare it with.")] = None,
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="Leave out its readings before this day.")
    ] = None,
    weight: Annotated[
        float | None, typer.Option(help="Of the newest reading in the fading average.")
    ] = None,
    more_rules: Annotated[
        bool, typer.Option("--more-rules", help="Steps and runs of it are signals too.")
    ] = False,
    charts: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Write every chart there, SVG and CSV.")
    ] = None,
) -> Answer:
    """Sum up a log: hours, failure rate with bounds, checks against limits, lives, what is due."""
    from beadworth.core import to_json
    from beadworth.workflow import rig_wear

    settings = _settings(check, baseline, target, since, weight, more_rules)
    found = rig_wear(call.bench, rig, settings)
    _known_checks(found, settings)
    files = _write_charts(found, charts) if charts else []
    return Answer(
        {"rig": rig, **to_json(found), "charts": files},
        [*_describe_summary(rig, found), *(f"Written: {name}" for name in files)],
    )


@command(app, "compare", 'wear compare "My rig" "play at the bed" --on 2026-03-05')
def compare(
    call: Call,
    rig: RigArgument,
    check: Annotated[str, typer.Argument(help="The check, by name or as 'name, place'.")],
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of the change; its readings come after.")
    ] = None,
    at: Annotated[
        int | None, typer.Option(metavar="N", help="Entry that is the change, by its number.")
    ] = None,
) -> Answer:
    """Compare a check before a change with the same check after it.

    Read at three or more places, readings are paired by place; else all readings of the one
    place are compared.
    """
    from beadworth.core import to_json
    from beadworth.workflow import compare_wear

    if (on is None) == (at is None):
        raise InputError(
            "the change is not named.",
            "--on, --at",
            None,
            "Give the day, or the number of the entry: one of them.",
        )
    when = at if at is not None else _day(on or "", "--on")
    unit, found = compare_wear(call.bench, rig, check, when)
    how = "pairs" if found.kind == "paired" else "readings"
    return Answer(
        {"rig": rig, "check": check, "on": on, "at": at, "unit": unit, **to_json(found),
         "resolved": found.resolved, "sentence": found.sentence(unit)},
        [
            found.sentence(unit),
            f"{found.before} {how} before and {found.after} after; t {found.t:.3g}, "
            f"{found.dof:.3g} degrees of freedom, p {found.p:.2g}"
            " (how often chance alone gives a change at least this large).",
        ],
    )  # fmt: skip


def _describe_summary(rig: str, found: WearSummary) -> Iterator[str | Table]:
    yield f"{rig}: {found.total_h:.4g} h printed, {found.entries} entries."
    if found.rate is not None:
        yield found.rate.sentence
    for report in found.series:
        yield report.sentence
    for part in found.parts:
        life = part.life.sentence if part.life else part.cannot_tell
        rate = part.rate.sentence if part.rate else ""
        yield f"{part.lives.part}: {' '.join(filter(None, (life, rate)))}"
    if found.due:
        yield Table(
            "What is due",
            ("what", "place", "last done", "next"),
            [
                (due.what, due.place, str(due.last) if due.last else "not yet", due.words)
                for due in found.due
            ],
        )


def _settings(
    check: str | None, baseline: int | None, target: float | None, since: str | None,
    weight: float | None, more_rules: bool,
) -> dict[str, ChartSettings]:  # fmt: skip
    from beadworth.workflow import ChartSettings

    given = {"--baseline": baseline, "--target": target, "--since": since, "--weight": weight,
             "--more-rules": more_rules or None}  # fmt: skip
    if check is None:
        stray = [name for name, value in given.items() if value is not None]
        if stray:
            raise InputError(
                "the check is not named.",
                ", ".join(stray),
                None,
                "Name it: --check 'play at the bed, x carriage'.",
            )
        return {}
    usual = ChartSettings()
    return {
        check: ChartSettings(
            baseline, target, _day(since, "--since") if since else None,
            usual.weight if weight is None else weight, more_rules,
        )
    }  # fmt: skip


def _known_checks(found: WearSummary, settings: dict[str, ChartSettings]) -> None:
    names = [report.series.name for report in found.series]
    for name in settings:
        if name not in names:
            raise InputError(
                f"there is no check {name!r} in this log.",
                "--check",
                name,
                f"Those there are: {'; '.join(names) or 'none yet'}.",
            )


def _write_charts(found: WearSummary, folder: Path) -> list[str]:
    import csv

    from beadworth.report import render_svg, wear_charts

    make_folder(folder)
    names = []
    for chart in wear_charts(found):
        picture = folder / f"{chart.name}.svg"
        write_file(picture, render_svg(chart))
        table = folder / f"{chart.name}.csv"
        columns = list(dict.fromkeys(key for row in chart.rows for key in row))
        with written_whole(table) as part, part.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns)
            writer.writeheader()
            writer.writerows(
                {
                    key: disarmed(said) if isinstance(said, str) else said
                    for key, said in row.items()
                }
                for row in chart.rows
            )
        names += [str(picture), str(table)]
    return names


def _day(text: str, where: str) -> date:
    from datetime import date

    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{text!r} is not a day.", where, text, "Write it as 2026-11-25."
        ) from None
