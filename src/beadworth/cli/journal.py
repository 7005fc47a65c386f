"""``beadworth journal``: dated pages about a rig or a trial, with photos."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from beadworth.cli.kept import Book, state
from beadworth.cli.output import BenchOption, JsonOption, emit_json, read_bytes
from beadworth.core import InputError, Problem

if TYPE_CHECKING:
    from beadworth.workflow import NewPhoto

app = typer.Typer(
    help="Keep a journal of a rig or a trial: what was done, what went wrong, photos."
)
JOURNAL = Book(about="subject", name="journal", entry="page", entries="pages")
SubjectArgument = Annotated[str, typer.Argument(help="A rig's name or a trial's id.")]
PageArgument = Annotated[int, typer.Argument(help="Its number in the list.")]


@app.command("add")
def add(
    subject: SubjectArgument,
    stage: Annotated[
        Literal["unboxing", "fit", "bring-up", "trial", "witness", "months later"],
        typer.Option(help="Where in the work it belongs."),
    ],
    title: Annotated[str, typer.Option(help="What happened, in a line.")],
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day, as 2026-11-25; left out: today.")
    ] = None,
    text: Annotated[str, typer.Option(help="As it went.")] = "",
    problem: Annotated[str, typer.Option(help="What went wrong.")] = "",
    solved: Annotated[str, typer.Option(help="How it was solved.")] = "",
    lost_h: Annotated[float | None, typer.Option(metavar="H", help="Time it cost.")] = None,
    photo: Annotated[
        list[str] | None,
        typer.Option(metavar="FILE=WORDS", help="Photo, and what it shows in words; repeat."),
    ] = None,
    shown: Annotated[
        bool, typer.Option("--shown/--not-shown", help="Show this page in a dossier.")
    ] = False,
    instead_of: Annotated[
        int | None, typer.Option(metavar="N", help="Page whose place this takes; it stays.")
    ] = None,
    reason: Annotated[str, typer.Option(help="Why, where it takes another's place.")] = "",
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Add a page. Photos are stripped of everything but their pixels, place and owner included."""
    from datetime import date

    from beadworth.store import open_bench
    from beadworth.workflow import add_page, supersede_page

    data: dict[str, Any] = {
        "on": on or str(date.today()), "stage": stage, "title": title, "text": text,
        "problem": problem, "solved": solved, "shown": shown,
    }  # fmt: skip
    if lost_h is not None:
        data["lost_h"] = lost_h
    photos = _photos(photo or [])
    with open_bench(bench) as store:
        kept = (
            add_page(store, subject, data, photos)
            if instead_of is None
            else supersede_page(store, subject, instead_of, data, reason, photos)
        )
    if json:
        emit_json(kept.to_json())
    else:
        many = len(kept.record.photos)
        with_photos = f", {many} photo{'s' if many > 1 else ''}" if many else ""
        typer.echo(f"Page {kept.id} of {subject}: {kept.record.title}{with_photos}")


@app.command("list")
def list_(subject: SubjectArgument, bench: BenchOption = None, json: JsonOption = False) -> None:
    """List the pages by the day they tell of, those that no longer count with their reason."""
    from beadworth.store import open_bench
    from beadworth.workflow import journal_entries

    with open_bench(bench) as store:
        pages = journal_entries(store, subject)
    columns = {
        "stage": lambda kept: kept.record.stage,
        "title": lambda kept: kept.record.title,
        "lost h": lambda kept: kept.record.lost_h,
        "photos": lambda kept: len(kept.record.photos),
        "shown": lambda kept: "yes" if kept.record.shown else "no",
        "state": state,
    }
    JOURNAL.tell(subject, f"Journal of {subject}", pages, columns, as_json=json)
    lost = sum(k.record.lost_h or 0.0 for k in pages if k.state == "current")
    if lost and not json:
        typer.echo(f"Time lost to problems: {lost:g} h.")


@app.command("show")
def show(
    subject: SubjectArgument,
    page: PageArgument,
    shown: Annotated[bool, typer.Option("--shown/--not-shown", help="Show it, or not.")] = True,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Choose whether a page is shown in dossiers."""
    from beadworth.store import open_bench
    from beadworth.workflow import show_page

    with open_bench(bench) as store:
        kept = show_page(store, subject, page, shown)
    if json:
        emit_json(kept.to_json())
    else:
        typer.echo(f"Page {kept.id} is {'' if shown else 'not '}shown in dossiers.")


@app.command("void")
def void(
    subject: SubjectArgument,
    page: PageArgument,
    reason: Annotated[str, typer.Option(help="Why it no longer counts.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Let a page no longer count; it stays in the journal with the reason, and in no dossier."""
    from beadworth.store import open_bench
    from beadworth.workflow import void_page

    with open_bench(bench) as store:
        void_page(store, subject, page, reason)
    JOURNAL.tell_void(subject, page, reason, as_json=json)


@app.command("photo")
def photo_(
    sha256: Annotated[str, typer.Argument(help="Digest of the photo, as the list gives it.")],
    out: Annotated[Path, typer.Option(metavar="FILE.jpg", help="File to write.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write a photo of the journal to a file."""
    from beadworth.store import open_bench, photo

    with open_bench(bench) as store:
        found = photo(store, sha256)
    out.write_bytes(found.data)
    if json:
        emit_json({"file": str(out), "width_px": found.width_px, "height_px": found.height_px})
    else:
        typer.echo(f"Written: {out}")


def _photos(given: list[str]) -> list[NewPhoto]:
    made = []
    for item in given:
        name, _, words = item.partition("=")
        if not words.strip():
            raise InputError(
                Problem("this photo has no words for whoever cannot see it.", "--photo", item,
                        f"Write {name or 'FILE'}=what it shows, in quotes.")
            )  # fmt: skip
        made.append((Path(name).name, read_bytes(Path(name)), words.strip()))
    return made
