"""Surveys on the bench: their rows as notes, added as they come, and read back."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.replay import SurveySummary, summarize_survey

if TYPE_CHECKING:
    from beadworth.replay import Job
    from beadworth.store import Bench

SURVEY_KIND = "survey"


class SurveyOnBench:
    """One survey being added to a bench."""

    def __init__(self, bench: Bench, table: Path, job: Job) -> None:
        self._bench, self._name = bench, table.stem
        capacity = None
        if job.fit is not None:
            text = json.dumps(job.fit, sort_keys=True)
            capacity = hashlib.sha256(text.encode()).hexdigest()[:12]
        self._about = {"table": str(table.resolve()), "rig": job.rig["name"], "capacity": capacity}

    def lacking(self, rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
        """Those of some rows that the bench does not hold yet."""
        held = {
            json.dumps(row, sort_keys=True)
            for note in self._bench.notes(SURVEY_KIND, self._name)
            if note.data["about"] == self._about
            for row in note.data["rows"]
        }
        return [row for row in rows if json.dumps(row, sort_keys=True) not in held]

    def add(self, rows: list[dict[str, Any]]) -> None:
        """Keep rows, as one note."""
        self._bench.add_note(SURVEY_KIND, self._name, {"about": self._about, "rows": rows})


@dataclass(frozen=True)
class StoredSurvey:
    """A survey on the bench: its table, what it was held against, its rows (the last per file)."""

    name: str
    table: str
    rig: str
    capacity: str | None
    at: datetime
    rows: tuple[dict[str, Any], ...]

    @cached_property
    def summary(self) -> SurveySummary:
        """What its rows say together."""
        return summarize_survey(self.rows, known=self.capacity is not None)


def surveys(bench: Bench) -> list[StoredSurvey]:
    """The surveys a bench holds, the one added to last first."""
    held: dict[tuple[str, str, str | None], tuple[Any, dict[str, dict[str, Any]]]] = {}
    for note in bench.notes(SURVEY_KIND):
        about = note.data["about"]
        name = (about["table"], about["rig"], about["capacity"])
        rows = held.pop(name, (note, {}))[1]
        rows.update((row["file"], row) for row in note.data["rows"])
        held[name] = (note, rows)
    return [
        StoredSurvey(note.subject, *name, note.at, tuple(rows.values()))
        for name, (note, rows) in reversed(held.items())
    ]
