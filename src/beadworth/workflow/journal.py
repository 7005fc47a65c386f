"""The journal of a rig or a trial on the bench: dated pages with photos."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from beadworth.core import BeadworthError, NotFoundError, Place, Problem, RecordError
from beadworth.report import PublishedPage
from beadworth.store import StoredEntry, clean_photo, ledger, photo, photos_by_digest, store_photo
from beadworth.wear import JournalEntry, journal_entry

if TYPE_CHECKING:
    from beadworth.store import Bench, Note
    from beadworth.workflow.sections import SectionInputs

JOURNAL_KIND: Final = "journal"
SOURCE: Final = "journal page"
NewPhoto = tuple[str, bytes, str]
"""A file's name, its bytes, and what it shows in words."""


def journal_entries(bench: Bench, subject: str) -> list[StoredEntry[JournalEntry]]:
    """Every page about a rig or a trial, by its day, those that do not count too.

    Raises
    ------
    NotFoundError
        No rig and no trial of that name.
    """
    journal_subject(bench, subject)
    pages = ledger.every(bench, JOURNAL_KIND, subject, JournalEntry)
    return sorted(pages, key=lambda page: (page.record.on, page.id))


def published_pages(notes: Sequence[Note]) -> list[StoredEntry[JournalEntry]]:
    """Pages that count and are marked to be shown, of journal notes, by day."""
    pages = [
        page
        for page in ledger.entries(notes, JournalEntry)
        if page.state == "current" and page.record.shown
    ]
    return sorted(pages, key=lambda page: (page.record.on, page.id))


def add_journal_page(
    bench: Bench, subject: str, data: Mapping[str, Any], photos: Sequence[NewPhoto] = (),
    today: date | None = None, entry_key: str | None = None,
) -> StoredEntry[JournalEntry]:  # fmt: skip
    """Put a page into a journal, with its photos; all of it or, with every fault named, nothing.

    Sent again under the same ``entry_key`` it is the page it was.

    Raises
    ------
    NotFoundError
        No rig and no trial of that name.
    RecordError
        What is wrong with the page or its photos.
    """
    journal_subject(bench, subject)
    entry = _with_photos(bench, data, photos, today)
    made = ledger.add(bench, JOURNAL_KIND, subject, entry, entry_key=entry_key)
    return ledger.one(bench, JOURNAL_KIND, subject, JournalEntry, made)


def supersede_journal_page(
    bench: Bench, subject: str, page_id: int, data: Mapping[str, Any], reason: str,
    photos: Sequence[NewPhoto] = (), today: date | None = None,
) -> StoredEntry[JournalEntry]:  # fmt: skip
    """Put a corrected page in another's place; the old one stays, with the reason.

    Photos of the old page stay where ``data`` names them under ``photos``.
    """
    journal_subject(bench, subject)
    ledger.require_current(ledger.one(bench, JOURNAL_KIND, subject, JournalEntry, page_id), reason)
    entry = _with_photos(bench, data, photos, today)
    made = ledger.add(bench, JOURNAL_KIND, subject, entry, page_id, reason.strip())
    return ledger.one(bench, JOURNAL_KIND, subject, JournalEntry, made)


def void_journal_page(bench: Bench, subject: str, page_id: int, reason: str) -> None:
    """Let a page no longer count; it stays, with the reason, and is shown in no dossier."""
    journal_subject(bench, subject)
    ledger.void(bench, JOURNAL_KIND, subject, JournalEntry, page_id, reason)


def show_journal_page(
    bench: Bench, subject: str, page_id: int, shown: bool
) -> StoredEntry[JournalEntry]:
    """Choose whether a page is shown in dossiers: a new page in the old one's place."""
    journal_subject(bench, subject)
    old = ledger.one(bench, JOURNAL_KIND, subject, JournalEntry, page_id)
    if old.record.shown == shown and old.state == "current":
        return old
    reason = "shown in the dossier" if shown else "no longer shown in the dossier"
    ledger.require_current(old, reason)
    record = old.record.model_copy(update={"shown": shown})
    made = ledger.add(bench, JOURNAL_KIND, subject, record, page_id, reason)
    return ledger.one(bench, JOURNAL_KIND, subject, JournalEntry, made)


def journal_subject(bench: Bench, subject: str) -> str:
    """What a journal is about: "rig" or "trial".

    Raises
    ------
    NotFoundError
        Neither has that name.
    """
    try:
        bench.rig(subject)
    except NotFoundError:
        pass
    else:
        return "rig"
    try:
        bench.trial(subject)
    except NotFoundError:
        names = [rig.name for rig in bench.rigs()] + [trial.id for trial in bench.outlines()]
        raise NotFoundError(
            f"there is no rig and no trial {subject!r} on the bench.",
            "journal",
            subject,
            f"Those there are: {', '.join(names[:12]) or 'none yet'}.",
        ) from None
    return "trial"


def gather_journal(inputs: SectionInputs) -> tuple[PublishedPage, ...] | None:
    """The pages chosen to be shown of a trial and its rigs, for its dossier."""
    subjects = [inputs.snapshot.record.id, *inputs.rig_names]
    pages = published_pages(inputs.notes(JOURNAL_KIND, subjects))
    named = [item.sha256 for page in pages for item in page.record.photos]
    data = photos_by_digest(inputs.bench, named) if named else {}
    return tuple(
        PublishedPage(
            page.record,
            tuple((data[item.sha256].data, item.alt) for item in page.record.photos),
        )
        for page in pages
    ) or None  # fmt: skip


def add_photo(bench: Bench, content: bytes) -> StoredPhoto:
    """Store a photo, stripped to its pixels, for a page to name by its digest.

    Raises
    ------
    InputError
        Bytes that are no photo, or one that is too large.
    """
    made = clean_photo(content, "photo")
    store_photo(bench, made)
    return StoredPhoto(made.sha256, made.width_px, made.height_px, len(made.data))


@dataclass(frozen=True)
class StoredPhoto:
    """A photo as it is stored."""

    sha256: str
    width_px: int
    height_px: int
    bytes: int


def _with_photos(
    bench: Bench, data: Mapping[str, Any], photos: Sequence[NewPhoto], today: date | None
) -> JournalEntry:
    """The page checked with its photos made ready, and only then the photos stored."""
    problems: list[Problem] = []
    ready = []
    for name, content, alt in photos:
        if not alt.strip():
            problems.append(
                Problem("this photo has no alternative text for whoever cannot see it.",
                        Place.of_field(name, "alt"), None, "Say in a sentence what it shows.")
            )  # fmt: skip
        try:
            ready.append((clean_photo(content, name), alt.strip()))
        except BeadworthError as error:
            problems += error.problems
    named = list(data.get("photos", ()))
    for item in named:
        digest = item.get("sha256") if isinstance(item, Mapping) else None
        try:
            photo(bench, str(digest))
        except NotFoundError as error:
            problems += error.problems
    new = [{"sha256": made.sha256, "alt": alt or "?"} for made, alt in ready]
    entry = None
    try:
        entry = journal_entry({**data, "photos": [*named, *new]}, SOURCE, today or date.today())
    except RecordError as error:
        problems = [*error.problems, *problems]
    if entry is None or problems:
        raise RecordError(problems)
    for made, _ in ready:
        store_photo(bench, made)
    return entry
