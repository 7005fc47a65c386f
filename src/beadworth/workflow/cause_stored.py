"""Readings of walls on the bench: stored with their photos, listed, voided, told of a journal."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from beadworth.cause import (
    Bounds,
    CannotTell,
    CauseAnswer,
    CauseReading,
    Interval,
    PrintedSide,
    Question,
    RankedCause,
    RingingFound,
    cause_rows,
)
from beadworth.core import ConflictError, from_mapping
from beadworth.report import PublishedCause
from beadworth.store import StoredEntry, ledger, store_photo
from beadworth.text import fixed
from beadworth.workflow.journal import add_journal_page

if TYPE_CHECKING:
    from beadworth.store import Bench
    from beadworth.wear import JournalEntry
    from beadworth.workflow.cause import WallRead
    from beadworth.workflow.sections import SectionInputs

CAUSE_KIND: Final = "cause"


@dataclass(frozen=True)
class PrintedSides:
    """The walls of a print that a photo can show; numbers count from 1 in this order."""

    walls: tuple[PrintedSide, ...]


@dataclass(frozen=True)
class CauseList:
    """The readings of walls on a bench."""

    readings: tuple[StoredEntry[CauseReading], ...]
    """In the order stored; those that do not count too."""


@dataclass(frozen=True)
class WallFound:
    """One photographed wall, as it was read."""

    side: PrintedSide
    layer_px: float
    """Pixels a layer."""
    length_mm: float
    """Between the corners, by the layer lines."""
    notes: tuple[str, ...]


@dataclass(frozen=True)
class CauseView:
    """What photos of a print's walls say of a rig."""

    number: int | None
    """Of the reading on the bench; None: not recorded."""
    print_name: str = field(metadata={"json": "print"})
    walls: tuple[WallFound, ...]
    verdict: str
    causes: tuple[RankedCause, ...]
    """The most probable first."""
    second: RankedCause | None
    """What stands beside the first cause."""
    ringing: RingingFound | None
    """None where there is none (probability 0.5 or less)."""
    ringing_probability: float
    cannot_tell: tuple[CannotTell, ...]
    questions: tuple[Question, ...]
    """To look at, for nothing."""
    tests: tuple[Question, ...]
    """To make: what would decide."""


def cause_view(
    answer: CauseAnswer, walls: Sequence[WallRead], print_name: str, number: int | None = None
) -> CauseView:
    """An answer as page-less interfaces give it; ``number``: of the reading it was recorded as."""
    found = tuple(
        WallFound(one.side, one.found.layer_px, one.found.length_mm, one.notes) for one in walls
    )
    return CauseView(
        number, print_name, found, answer.verdict, answer.causes, answer.second, answer.ringing,
        answer.ringing_probability, answer.unseen, answer.questions, answer.tests,
    )  # fmt: skip


def store_cause(
    bench: Bench, rig: str, print_name: str, walls: Sequence[WallRead], answer: CauseAnswer,
    answers: Mapping[str, bool] | None = None, on: date | None = None,
) -> StoredEntry[CauseReading]:  # fmt: skip
    """Store a reading with its photos, shrunk and without what the camera wrote into them.

    A reading of an invented rig is an invented one.

    Raises
    ------
    NotFoundError
        No such rig on the bench.
    """
    record = cause_record(
        print_name, walls, answer, answers, on, simulated=bench.rig(rig).simulated
    )
    for one in walls:
        store_photo(bench, one.photo.small)
    made = ledger.add(bench, CAUSE_KIND, rig, record)
    return ledger.one(bench, CAUSE_KIND, rig, CauseReading, made)


def cause_record(
    print_name: str, walls: Sequence[WallRead], answer: CauseAnswer,
    answers: Mapping[str, bool] | None = None, on: date | None = None, *, simulated: bool,
) -> CauseReading:  # fmt: skip
    """A reading as it is stored; ``simulated``: an invented one."""
    return from_mapping(
        CauseReading,
        {
            **_plain(answer), "on": str(on or date.today()), "print_name": print_name,
            "walls": [_stored_wall(one) for one in walls], "answers": dict(answers or {}),
            "simulated": simulated,
        },
        "reading of a wall",
    )  # fmt: skip


def _plain(answer: CauseAnswer) -> dict[str, Any]:
    def bounds(found: Any) -> dict[str, float] | None:
        return None if found is None else asdict(found)

    def plain(cause: RankedCause) -> dict[str, Any]:
        return {"name": cause.name, "probability": cause.probability, "unit": cause.unit,
                "period": bounds(cause.period), "size_um": bounds(cause.size_um),
                "measured": cause.measured}  # fmt: skip

    ringing = answer.ringing
    return {
        "verdict": answer.verdict,
        "causes": [plain(cause) for cause in answer.causes],
        "second": None if answer.second is None else plain(answer.second),
        "ringing": None if ringing is None else {
            "probability": ringing.probability, "hertz": bounds(ringing.hertz),
            "damping": bounds(ringing.damping), "size_um": bounds(ringing.size_um),
        },
        "ringing_probability": answer.ringing_probability,
        "cannot_tell": unseen_lines(answer),
    }  # fmt: skip


def _stored_wall(one: WallRead) -> dict[str, Any]:
    return {
        "photo_sha256": one.photo.small.sha256,
        "alt": f"A printed wall, {one.side.name}.",
        "side": one.side.name,
        "corners": [list(corner) for corner in one.corners],
        "layer_px": one.found.layer_px,
        **asdict(one.side.wall),
    }


def cause_readings(bench: Bench, rig: str | None = None) -> list[StoredEntry[CauseReading]]:
    """Every reading of walls, or of one rig, in the order stored; those that do not count too."""
    if rig is not None:
        bench.rig(rig)
        return ledger.every(bench, CAUSE_KIND, rig, CauseReading)
    return ledger.entries(bench.notes(CAUSE_KIND), CauseReading)


def one_cause(bench: Bench, number: int) -> StoredEntry[CauseReading]:
    """One reading by its number.

    Raises
    ------
    NotFoundError
        None of that number.
    """
    found = {entry.id: entry for entry in cause_readings(bench)}
    return ledger.by_number(
        found, number, "reading of a wall", "Read a photo of a wall first.", "reading"
    )


def void_cause(bench: Bench, number: int, reason: str) -> StoredEntry[CauseReading]:
    """Let a reading no longer count; it stays, with the reason."""
    entry = one_cause(bench, number)
    ledger.void(bench, CAUSE_KIND, entry.subject, CauseReading, number, reason)
    return one_cause(bench, number)


def unseen_lines(answer: CauseAnswer) -> list[str]:
    """What these photos cannot tell and what would, sources of one reason together."""
    by_reason: dict[tuple[str, float | None], list[str]] = {}
    for one in answer.unseen:
        by_reason.setdefault((one.reason, one.needs_mm), []).append(one.source)
    return [
        f"{'; '.join(sources)}: {reason}"
        + (f"; {needs_mm:.0f} mm of straight wall would show it." if needs_mm else ".")
        for (reason, needs_mm), sources in by_reason.items()
    ]


def describe_bounds(found: Bounds | Interval | None, unit: str = "") -> str:
    """A value with its interval: ``40.0 (39.6 to 40.4) mm``; empty where there is none."""
    if found is None:
        return ""
    digits = max(0, 2 - math.floor(math.log10(max(abs(found.value), 1e-9))))
    low, value, high = (fixed(v, min(digits, 4)) for v in (found.low, found.value, found.high))
    return f"{value} ({low} to {high}){unit and ' ' + unit}"


def gather_causes(inputs: SectionInputs) -> tuple[PublishedCause, ...] | None:
    """Readings of walls of a trial's rigs that count, for its dossier."""
    entries = ledger.entries(inputs.notes(CAUSE_KIND, inputs.rig_names), CauseReading)
    return tuple(
        PublishedCause(one.id, one.subject, one.record,
                       tuple(cause_rows(one.id, one.subject, one.record)))
        for one in entries if one.state == "current"
    ) or None  # fmt: skip


def journal_of_cause(
    bench: Bench, entry: StoredEntry[CauseReading], on: date | None = None
) -> StoredEntry[JournalEntry]:
    """Put a reading into its rig's journal, with its photos; not shown in dossiers.

    Raises
    ------
    ConflictError
        A reading that does not count.
    """
    if entry.state != "current":
        raise ConflictError(
            f"reading {entry.id} does not count ({entry.reason}).", "reading", entry.id,
            "Read the photo again first.",
        )  # fmt: skip
    record = entry.record
    lines = [record.verdict, f"Read from {record.print_name}: {record.walls[0].side}."]
    lines += [f"Cannot tell: {one}" for one in record.cannot_tell]
    data = {
        "on": on or date.today(),
        "stage": "print check",
        "title": f"What the wall showed: {record.causes[0].name}"[:120],
        "text": "\n".join(lines),
        "photos": [{"sha256": one.photo_sha256, "alt": one.alt} for one in record.walls],
        "simulated": record.simulated,
    }
    return add_journal_page(bench, entry.subject, data)
