"""``beadworth worth``: is the upgrade worth it, and for whom?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.load import load_fit, load_rig
from beadworth.cli.output import (
    BenchOption,
    JsonOption,
    emit_json,
    print_table,
    progress,
    read_text,
)
from beadworth.cli.worth_told import show_answer

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.worth import Answer, Asked, PrintUse, Sources, WorthCase

app = typer.Typer(help="Worth: hours an upgrade saves on your own prints, its cost, break-even.")


@app.command("compare")
def compare(
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
        bool, typer.Option("--keep", help="Keep the case and its answer on the bench.")
    ] = False,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Hours saved on your own prints, what that costs, when it pays, for whom, against what.

    Every figure has its interval. What an hour is worth to you is never assumed: leave it out
    and there is no break-even, only the worth an hour would need.
    """
    from beadworth.worth import REPLAYS, ask, work_out

    quick = {
        "baseline": baseline, "candidate": candidate, "prints": prints, "trial": capacity,
        "candidate_trial": candidate_capacity, "parts": parts, "currency": currency,
        "fitting_hours": fitting_hours, "fitting_hour": fitting_hour,
        "printer_hour": printer_hour, "months": months,
        "feeds": "raised" if raised else None, "seed": seed,
    }  # fmt: skip
    asked_case = _case(case, quick)
    folder = case.parent if case is not None else Path()
    with progress("Replaying", REPLAYS * len(asked_case.prints)) as bar:
        task = bar.task_ids[0]
        asked = ask(asked_case, _sources(folder, bench), lambda: bar.advance(task))
        found = work_out(asked)
    if keep:
        _keep(asked, found, bench)
    if json:
        emit_json(found.to_json())
    else:
        show_answer(found)


@app.command("list")
def list_(bench: BenchOption = None, json: JsonOption = False) -> None:
    """List the worth cases on the bench, with what each came to."""
    from beadworth.store import open_bench
    from beadworth.workflow import kept_cases

    with open_bench(bench) as store:
        kept = kept_cases(store)
    if json:
        emit_json(
            {
                "cases": [
                    {"name": k.case.name, "at": k.at.isoformat(timespec="seconds"),
                     "sentence": k.result["sentence"], "verdict": k.result["verdict"]}
                    for k in kept
                ]
            }
        )  # fmt: skip
        return
    rows = [(k.case.name, f"{k.at:%Y-%m-%d}", k.result["sentence"]) for k in kept]
    print_table("Worth cases", ("name", "kept", "what it came to"), rows)


@app.command("show")
def show(
    name: Annotated[str, typer.Argument(help="Name of the case on the bench.")],
    toml: Annotated[
        bool, typer.Option("--toml", help="The case as TOML, ready to change.")
    ] = False,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Show a kept case, worked out from the times replayed when it was kept."""
    from beadworth.core import to_toml
    from beadworth.store import open_bench
    from beadworth.workflow import kept_case
    from beadworth.worth import work_out

    with open_bench(bench) as store:
        kept = kept_case(store, name)
    if toml:
        typer.echo(to_toml(kept.case), nl=False)
    elif json:
        emit_json(work_out(kept.asked).to_json())
    else:
        show_answer(work_out(kept.asked))


@app.command("profiles")
def profiles(json: JsonOption = False) -> None:
    """Print the usual profiles as TOML, to be copied into a case and edited.

    Where to start from, by common practice and without a source; nobody's hour has a worth
    in them, since that is yours to say.
    """
    import tomli_w

    from beadworth.core import to_mapping
    from beadworth.worth import USUAL

    data = {"profiles": [to_mapping(profile) for profile in USUAL]}
    if json:
        emit_json(data)
    else:
        typer.echo(tomli_w.dumps(data), nl=False)


def _case(file: Path | None, quick: dict[str, Any]) -> WorthCase:
    """The case of a file with what was typed laid over it, or of the quick form alone."""
    from beadworth.core import InputError, Problem, parse_toml
    from beadworth.worth import case_from_mapping

    data: dict[str, Any] = {}
    source = "command line"
    if file is not None:
        source = str(file)
        data = parse_toml(read_text(file), source)
    elif not quick["baseline"] or not quick["candidate"] or not quick["prints"]:
        raise InputError(
            Problem("neither a case nor two rigs and a print were given.", source, None,
                    "Give CASE.toml, or --baseline, --candidate and --print FILE=N at least.")
        )  # fmt: skip
    typed = {name: value for name, value in quick.items() if value is not None}
    for name, table in (("parts", "cost"), ("fitting_hours", "cost"), ("fitting_hour", "cost"),
                        ("printer_hour", "time")):  # fmt: skip
        if name in typed:
            data[table] = {**data.get(table, {}), name: typed.pop(name)}
    if "prints" in typed:
        typed["prints"] = [_print(text) for text in typed["prints"]]
    data.update(typed)
    data.setdefault("name", f"{data.get('candidate')} against {data.get('baseline')}")
    return case_from_mapping(data, source)


def _print(text: str) -> dict[str, Any]:
    from beadworth.core import InputError, Problem

    file, _, count = text.rpartition("=")
    try:
        return {"file": file, "per_year": float(count)} if file else {"file": text}
    except ValueError:
        raise InputError(
            Problem(f"{count!r} is no number of prints a year.", f"--print {text}", count,
                    "Write FILE=N, for example bracket.gcode=120.")
        ) from None  # fmt: skip


def _sources(folder: Path, bench: str | None) -> Sources:
    """Files beside the case, else names on the bench."""
    from functools import lru_cache

    from beadworth.material import GENERIC
    from beadworth.worth import Sources

    @lru_cache(maxsize=8)
    def fit(name: str) -> Fit:
        found = load_fit(_beside(folder, name), bench)
        assert found is not None
        return found

    def print_file(use: PrintUse) -> Path:
        if use.file is not None:
            return Path(_beside(folder, use.file))
        from beadworth.store import PrintShelf, open_bench

        with open_bench(bench) as store:
            shelf = PrintShelf(store)
            return shelf.file(shelf.one(use.print or ""))

    def density(name: str) -> float | None:
        if name in GENERIC:
            return GENERIC[name].density_g_cm3
        from beadworth.store import open_bench
        from beadworth.workflow import material_density

        with open_bench(bench) as store:
            return material_density(store, name)

    return Sources(lambda name: load_rig(_beside(folder, name), bench), fit, print_file, density)


def _beside(folder: Path, name: str) -> str:
    """A name as a file beside the case, where there is one; else as it is."""
    beside = folder / name
    return str(beside) if beside.is_file() else name


def _keep(asked: Asked, found: Answer, bench: str | None) -> None:
    from beadworth.store import open_bench
    from beadworth.workflow import keep_worth

    with open_bench(bench) as store:
        keep_worth(store, asked, found)
    typer.echo(f"On the bench: {asked.case.name}", err=True)
