"""``beadworth journal``: dated pages about a rig or a trial, with photos."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from beadworth.cli.command import Answer, Call, command, written
from beadworth.cli.entries import EntryList
from beadworth.cli.options import DayOption, read_bytes
from beadworth.core import InputError, write_file

if TYPE_CHECKING:
    from beadworth.workflow import NewPhoto

app = typer.Typer(help="Write down what was done and what went wrong, with photos.")
JOURNAL = EntryList(about="subject", name="journal", entry="page", entries="pages")
SubjectArgument = Annotated[str, typer.Argument(help="A rig's name or a trial's id.")]
PageArgument = Annotated[int, typer.Argument(help="Its number in the list.")]


@command(
    app,
    "add",
    'journal add "My rig" --stage fit --title "It touched the fan" --problem "2 mm too tall" '
    '--solved "filed" --lost-h 1.5 --photo "fan.jpg=a bracket beside a fan"',
)
def add(
    call: Call,
    subject: SubjectArgument,
    stage: Annotated[
        Literal["receipt", "fit", "bring-up", "trial", "print check", "months later"],
        typer.Option(help="Where in the work it belongs."),
    ],
    title: Annotated[str, typer.Option(help="What happened, in a line.")],
    on: DayOption = None,
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
) -> Answer:
    """Add a page. Photos are stripped of everything but their pixels, place and owner included."""
    from datetime import date

    from beadworth.text import count
    from beadworth.workflow import add_journal_page, supersede_journal_page

    data: dict[str, Any] = {
        "on": on or str(date.today()), "stage": stage, "title": title, "text": text,
        "problem": problem, "solved": solved, "shown": shown,
    }  # fmt: skip
    if lost_h is not None:
        data["lost_h"] = lost_h
    photos = _photos(photo or [])
    stored = (
        add_journal_page(call.bench, subject, data, photos)
        if instead_of is None
        else supersede_journal_page(call.bench, subject, instead_of, data, reason, photos)
    )
    page = stored.record
    with_photos = f", {count(len(page.photos), 'photo')}" if page.photos else ""
    return Answer(stored, [f"Page {stored.id} of {subject}: {page.title}{with_photos}"])


@command(app, "list", 'journal list "My rig"')
def list_(call: Call, subject: SubjectArgument) -> Answer:
    """List the pages by the day they tell of, those that no longer count with their reason."""
    from dataclasses import replace

    from beadworth.workflow import journal_entries

    pages = journal_entries(call.bench, subject)
    answer = JOURNAL.listed(
        subject,
        f"Journal of {subject}",
        pages,
        {
            "stage": "record.stage",
            "title": "record.title",
            "lost h": "record.lost_h",
            "photos": lambda stored: len(stored.record.photos),
            "shown": lambda stored: "yes" if stored.record.shown else "no",
        },
    )
    lost = sum(stored.record.lost_h or 0.0 for stored in pages if stored.state == "current")
    said = [f"Time lost to problems: {lost:g} h."] if lost else []
    return replace(answer, blocks=[*answer.blocks, *said])


@command(app, "show", 'journal show "My rig" 3', 'journal show "My rig" 3 --not-shown')
def show(
    call: Call,
    subject: SubjectArgument,
    page: PageArgument,
    shown: Annotated[bool, typer.Option("--shown/--not-shown", help="Show it, or not.")] = True,
) -> Answer:
    """Choose whether a page is shown in dossiers."""
    from beadworth.workflow import show_journal_page

    stored = show_journal_page(call.bench, subject, page, shown)
    words = f"Page {stored.id} is {'' if shown else 'not '}shown in dossiers."
    return Answer(stored, [words])


@command(app, "void", 'journal void "My rig" 3 --reason "of another rig"')
def void(
    call: Call,
    subject: SubjectArgument,
    page: PageArgument,
    reason: Annotated[str, typer.Option(help="Why it no longer counts.")],
) -> Answer:
    """Let a page no longer count; it stays in the journal with the reason, and in no dossier."""
    from beadworth.workflow import void_journal_page

    void_journal_page(call.bench, subject, page, reason)
    return JOURNAL.voided(subject, page, reason)


@command(app, "photo", "journal photo 3f2a --out fan.jpg")
def photo_(
    call: Call,
    sha256: Annotated[str, typer.Argument(help="Digest of the photo, as the list gives it.")],
    out: Annotated[Path, typer.Option(metavar="FILE.jpg", help="File to write.")],
) -> Answer:
    """Write a photo of the journal to a file."""
    from beadworth.workflow import photo

    found = photo(call.bench, sha256)
    write_file(out, found.data)
    return Answer(
        {"file": str(out), "width_px": found.width_px, "height_px": found.height_px}, written(out)
    )


def _photos(given: list[str]) -> list[NewPhoto]:
    photos = []
    for item in given:
        name, _, description = item.partition("=")
        if not description.strip():
            raise InputError(
                "this photo has no alternative text for whoever cannot see it.",
                "--photo",
                item,
                f"Write {name or 'FILE'}=what it shows, in quotes.",
            )
        photos.append((Path(name).name, read_bytes(Path(name)), description.strip()))
    return photos
