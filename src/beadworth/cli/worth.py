"""``beadworth worth``: is the upgrade worth it, and for whom?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, command, notes, progress
from beadworth.cli.load import load_fit, load_material, load_rig
from beadworth.cli.options import read_text
from beadworth.cli.table import Table
from beadworth.text import percent

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.worth import Answer as WorthAnswer
    from beadworth.worth import (
        PredictedCeilings,
        PredictionRequest,
        PrintUse,
        Sources,
        Worth,
        WorthCase,
    )
    from beadworth.worth import Table as OptionsTable

app = typer.Typer(help="Compare the hours an upgrade saves with what it costs.")


@command(
    app,
    "compare",
    "worth compare my-upgrade.toml --keep",
    "worth compare --baseline my-rig.toml --candidate upgraded.toml --print bracket.gcode=120 "
    "--capacity how-fast-1 --parts 60 --currency EUR",
)
def compare(
    call: Call,
    case: Annotated[
        Path | None,
        typer.Argument(metavar="[CASE.toml]", help="Worth case; or the quick form, below."),
    ] = None,
    baseline: Annotated[
        str | None, typer.Option(help="Rig as it is: a TOML file, or a bench name.")
    ] = None,
    candidate: Annotated[
        str | None, typer.Option(help="Upgraded rig: a TOML file, or a bench name.")
    ] = None,
    prints: Annotated[
        list[str] | None,
        typer.Option("--print", metavar="FILE=N", help="A print, and how many a year; repeat."),
    ] = None,
    capacity: Annotated[
        str | None,
        typer.Option(metavar="FIT.json|FILE.csv|TRIAL", help="Ceilings of both rigs."),
    ] = None,
    candidate_capacity: Annotated[
        str | None,
        typer.Option(metavar="FIT.json|FILE.csv|TRIAL", help="Where the upgraded rig has its own."),
    ] = None,
    material: Annotated[
        str | None,
        typer.Option(help="Of the prints: predicts the ceilings of a rig that nobody weighed."),
    ] = None,
    parts: Annotated[
        float | None, typer.Option(help="Price of the parts; left out: the rig record's.")
    ] = None,
    currency: Annotated[str | None, typer.Option(metavar="EUR", help="Of every amount.")] = None,
    fitting_hours: Annotated[
        float | None, typer.Option(metavar="H", help="Hours of fitting and tuning.")
    ] = None,
    fitting_hour: Annotated[
        float | None, typer.Option(metavar="AMOUNT", help="What such an hour is worth to you.")
    ] = None,
    printer_hour: Annotated[
        float | None,
        typer.Option(metavar="AMOUNT", help="What an hour of printer time is worth to you."),
    ] = None,
    months: Annotated[
        float | None, typer.Option(help="Time in which it should pay (default 24).")
    ] = None,
    raised: Annotated[
        bool, typer.Option("--raised", help="Speeds raised to the ceiling, on both rigs.")
    ] = False,
    seed: Annotated[int | None, typer.Option(help="Seed of the draws (default 1).")] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Record the case and its answer on the bench.")
    ] = False,
) -> Answer:
    """Hours saved on your own prints, what that costs, when it pays, for whom, against what.

    Every figure has its interval. What an hour is worth to you is never assumed: leave it out
    and there is no break-even, only the worth an hour would need.
    """
    from beadworth.workflow import REPLAYS, replay_case, store_worth

    quick = {
        "baseline": baseline, "candidate": candidate, "prints": prints, "trial": capacity,
        "candidate_trial": candidate_capacity, "material": material,
        "parts": parts, "currency": currency,
        "fitting_hours": fitting_hours, "fitting_hour": fitting_hour,
        "printer_hour": printer_hour, "months": months,
        "feeds": "raised" if raised else None, "seed": seed,
    }  # fmt: skip
    typed = _case(case, quick)
    folder = case.parent if case is not None else Path()
    with progress("Replaying", REPLAYS * len(typed.prints)) as show:
        inputs, found = replay_case(typed, _sources(folder, call), lambda: show(advance=1))
    if keep:
        store_worth(call.bench, inputs, found)
        typer.echo(f"On the bench: {typed.name}", err=True)
    return Answer(found, _describe(found))


@command(app, "list", "worth list")
def list_(call: Call) -> Answer:
    """List the worth cases on the bench, with what each came to."""
    from beadworth.workflow import stored_worths

    stored = stored_worths(call.bench)
    cases = [
        {"name": one.case.name, "at": one.at.isoformat(timespec="seconds"),
         "sentence": one.result["sentence"], "verdict": one.result["verdict"]}
        for one in stored
    ]  # fmt: skip
    rows = [(one.case.name, f"{one.at:%Y-%m-%d}", one.result["sentence"]) for one in stored]
    return Answer({"cases": cases}, [Table("Worth cases", ("name", "recorded", "finding"), rows)])


@command(app, "show", 'worth show "My upgrade"', 'worth show "My upgrade" --toml')
def show(
    call: Call,
    name: Annotated[str, typer.Argument(help="Name of the case on the bench.")],
    toml: Annotated[
        bool, typer.Option("--toml", help="The case as TOML, ready to change.")
    ] = False,
) -> Answer:
    """Show a recorded case, calculated from the times replayed when it was recorded."""
    from beadworth.core import to_toml
    from beadworth.workflow import stored_worth, worth_answer

    stored = stored_worth(call.bench, name)
    found = worth_answer(stored.asked)
    return Answer(found, _describe(found), raw=to_toml(stored.case) if toml else None)


@command(app, "profiles", "worth profiles", uses_bench=False)
def profiles(call: Call) -> Answer:
    """Print the usual profiles as TOML, to be copied into a case and edited.

    Where to start from, by common practice and without a source; no hour has a worth
    in them, since that is yours to say.
    """
    import tomli_w

    from beadworth.core import to_json
    from beadworth.workflow import USUAL

    data = {"profiles": to_json(USUAL)}
    return Answer(data, raw=tomli_w.dumps(data))


def _case(file: Path | None, quick: dict[str, Any]) -> WorthCase:
    """The case of a file with what was typed laid over it, or of the quick form alone."""
    from beadworth.core import InputError, parse_toml
    from beadworth.workflow import case_from_mapping

    data: dict[str, Any] = {}
    source = "command line"
    if file is not None:
        source = str(file)
        data = parse_toml(read_text(file), source)
    elif not quick["baseline"] or not quick["candidate"] or not quick["prints"]:
        raise InputError(
            "neither a case nor two rigs and a print were given.",
            source,
            None,
            "Give CASE.toml, or --baseline, --candidate and --print FILE=N at least.",
        )
    typed = {name: value for name, value in quick.items() if value is not None}
    for name, table in (("parts", "cost"), ("fitting_hours", "cost"), ("fitting_hour", "cost"),
                        ("printer_hour", "time")):  # fmt: skip
        if name in typed:
            data[table] = {**data.get(table, {}), name: typed.pop(name)}
    if "prints" in typed:
        typed["prints"] = [_print(text) for text in typed["prints"]]
    material = typed.pop("material", None)
    if material is not None:
        prints = typed.get("prints", data.get("prints", []))
        typed["prints"] = [{"material": material} | of for of in prints]
    data.update(typed)
    data.setdefault("name", f"{data.get('candidate')} against {data.get('baseline')}")
    return case_from_mapping(data, source)


def _print(text: str) -> dict[str, Any]:
    from beadworth.core import InputError

    file, _, count = text.rpartition("=")
    try:
        return {"file": file, "per_year": float(count)} if file else {"file": text}
    except ValueError:
        raise InputError(
            f"{count!r} is no number of prints a year.",
            f"--print {text}",
            count,
            "Write FILE=N, for example bracket.gcode=120.",
        ) from None


def _sources(folder: Path, call: Call) -> Sources:
    """Files beside the case, else names on the bench."""
    from functools import lru_cache

    from beadworth.core import NotFoundError
    from beadworth.workflow import PrintShelf, Sources, predict_unweighed

    @lru_cache(maxsize=8)
    def fit(name: str) -> Fit:
        return load_fit(_beside(folder, name), call)

    def print_file(use: PrintUse) -> Path:
        if use.file is not None:
            return Path(_beside(folder, use.file))
        shelf = PrintShelf(call.bench)
        return shelf.file(shelf.one(use.print or ""))

    def density(name: str) -> float | None:
        try:
            return load_material(_beside(folder, name), call).density_g_cm3
        except NotFoundError:
            return None

    def predicted(asked: PredictionRequest) -> PredictedCeilings:
        material = load_material(_beside(folder, asked.material), call)
        taught = fit(asked.trial) if asked.trial else None
        return predict_unweighed(call.bench, asked, material, taught)

    return Sources(
        lambda name: load_rig(_beside(folder, name), call), fit, print_file, density, predicted
    )


def _beside(folder: Path, name: str) -> str:
    """A name as a file beside the case, where there is one; else as it is."""
    beside = folder / name
    return str(beside) if beside.is_file() else name


def _describe(found: WorthAnswer) -> Iterator[str | Table]:
    """The sentence first, then money, prints, what matters, for whom, against what."""
    from beadworth.workflow import outcome_words, whom_sentence

    worth = found.worth
    yield worth.sentence
    yield f"{worth.break_even.words} {worth.verdict_words}"
    if worth.simulated:
        yield "An invented case: nothing here was measured."
    yield _money_table(worth)
    yield _prints_table(worth)
    outcome = "net" if "net" in worth.tornado else "hours_saved"
    yield Table.of(
        f"What matters to {outcome_words(outcome, worth.months)}: "
        "each input moved alone over its interval",
        worth.tornado[outcome].swings[:8],
        {"input": "label", "from": "low_input", "to": "high_input", "at the low end": "at_low",
         "at the high end": "at_high"},
    )  # fmt: skip
    yield f"For whom: {whom_sentence(found.profiles)}"
    yield Table(
        "Who it is for",
        ("profile", "verdict", "hours saved a year", "break-even, months", "first option"),
        [
            (p.profile.name, p.worth.verdict_label, p.worth.hours_saved_per_year.value,
             p.worth.break_even.months.value, p.first_option)
            for p in found.profiles
        ],
    )  # fmt: skip
    yield _options_table(found.table)
    if found.table.no_score:
        yield found.table.no_score
    yield from notes(worth.notes)


def _money_table(worth: Worth) -> Table:
    from beadworth.workflow import money, with_interval

    currency = worth.currency
    rows = [
        ("hours saved a year", with_interval(worth.hours_saved_per_year, "h")),
        ("printing a week", with_interval(worth.hours_a_week, "h")),
        ("needed to pay", with_interval(worth.hours_a_week_needed, "h a week")),
        ("cost", money(worth.cost, currency)),
        ("saved a year", money(worth.money_per_year, currency)),
        (f"net over {worth.months:g} months", money(worth.net, currency)),
        *((f"cost per {item.of}", money(item.result, currency)) for item in worth.costs_per),
    ]
    return Table("What it buys", ("what", "value (95 % interval)"), rows)


def _prints_table(worth: Worth) -> Table:
    from beadworth.text import duration
    from beadworth.workflow import limit_words

    return Table(
        "Your prints",
        ("print", "a year", "before", "after", "what it goes to now", "and then"),
        [
            (p.name, p.per_year.value, duration(p.before_s.value or 0.0),
             duration(p.after_s.value or 0.0), limit_words(p.limits_before),
             limit_words(p.limits_after))
            for p in worth.prints
        ],
    )  # fmt: skip


def _options_table(table: OptionsTable) -> Table:
    from beadworth.workflow import option_effect, with_interval

    names = [c.name for c in table.criteria if c.name != "cost"]
    weights = ", ".join(f"{name} {percent(share, 0)}" for name, share in table.shares.items())
    return Table(
        "Other options" + ("" if table.no_score else f" (weights: {weights})"),
        ("option", "cost", *names, "evidence", "net", "score", "dominated by"),
        [
            (row.name, round(row.cost.middle, 2),
             *(option_effect(row.effects.get(name)) for name in names),
             row.grade, with_interval(row.net), row.score, ", ".join(row.dominated_by))
            for row in table.rows
        ],
    )  # fmt: skip
