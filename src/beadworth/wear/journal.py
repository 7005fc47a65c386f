"""One dated page of a journal: what was done at a stage, what went wrong, what it cost in time."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Final, Literal

from pydantic import Field, field_validator

from beadworth.core import Place, Problem, Record, RecordError, from_mapping
from beadworth.wear.entry import EARLIEST

Stage = Literal["receipt", "fit", "bring-up", "trial", "print check", "months later"]
STAGES: Final[tuple[Stage, ...]] = (
    "receipt", "fit", "bring-up", "trial", "print check", "months later",
)  # fmt: skip
FORMER_STAGES: Final = {"unboxing": "receipt", "witness": "print check"}
LONGEST_LOSS_H: Final = 2000.0


class JournalPhoto(Record):
    """A photo of a journal page, by the digest of what is kept of it."""

    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    alt: Annotated[str, Field(min_length=1, max_length=400)] = Field(
        description="what the picture shows, for whoever cannot see it"
    )


class JournalEntry(Record):
    """One dated page of a journal."""

    on: date = Field(description="day it happened, as 2026-11-25")
    stage: Stage = Field(description="receipt, fit, bring-up, trial, print check or months later")
    title: Annotated[str, Field(max_length=120)] = Field(description="what happened, in a line")
    text: Annotated[str, Field(max_length=20_000)] = Field("", description="as it went")
    problem: Annotated[str, Field(max_length=4000)] = Field("", description="what went wrong")
    solved: Annotated[str, Field(max_length=4000)] = Field("", description="how it was solved")
    lost_h: float | None = Field(None, description="time it cost, h")
    photos: Annotated[tuple[JournalPhoto, ...], Field(max_length=12)] = ()
    shown: bool = Field(False, description="true to show this page in a dossier")
    simulated: bool = Field(False, description="true for invented pages")

    @field_validator("stage", mode="before")
    @classmethod
    def _renamed(cls, stage: object) -> object:
        """Pages of the first release."""
        return FORMER_STAGES.get(stage, stage) if isinstance(stage, str) else stage


def journal_entry(data: dict[str, Any], source: str, today: date) -> JournalEntry:
    """Make a page from plain data.

    Raises
    ------
    RecordError
        Everything that is wrong with it, each with field, value and remedy.
    """
    entry = from_mapping(JournalEntry, data, source)
    problems = page_faults(entry, source, today)
    if problems:
        raise RecordError(problems)
    return entry


def page_faults(entry: JournalEntry, source: str, today: date) -> list[Problem]:
    """What is wrong with a page as it stands on a day."""
    found: list[Problem] = []

    def wrong(field: str, what: str, value: Any, remedy: str) -> None:
        found.append(Problem(what, Place.of_field(source, field), value, remedy))

    if not entry.title.strip():
        wrong("title", "a page needs a title.", entry.title, "Say in a line what happened.")
    if entry.on > today:
        said = f"{entry.on} has not come yet (today is {today})."
        wrong("on", said, str(entry.on), "Date it when it happened.")
    if entry.on < EARLIEST:
        wrong("on", f"{entry.on} is before any printer of this kind.", str(entry.on),
              "Correct the year.")  # fmt: skip
    if entry.lost_h is not None and not 0 <= entry.lost_h <= LONGEST_LOSS_H:
        wrong("lost_h", f"{entry.lost_h:g} h is not from 0 to {LONGEST_LOSS_H:g} h.",
              entry.lost_h, "Enter the hours the problem cost; 0.5 is half an hour.")  # fmt: skip
    if (entry.solved.strip() or entry.lost_h) and not entry.problem.strip():
        wrong("problem", "time was lost or something solved, and no problem is named.", None,
              "Say what went wrong.")  # fmt: skip
    return found
