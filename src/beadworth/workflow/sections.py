"""What the sections of a report draw on beyond the trial itself, fetched once and when needed."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.rig import Rig
    from beadworth.store import Bench, Note, TrialSnapshot

SECTION_NOTES: Final = {
    "typical": "package",
    "worth": "worth",
    "wear": "wear",
    "journal": "journal",
    "bringup": "bringup",
    "replays": "print-replay",
    "witness": "witness",
    "cause": "cause",
}
"""The kind of notes that a section reads."""


@dataclass(frozen=True)
class SectionInputs:
    """A trial, its fit and the notes beside it, for the functions that gather a section."""

    bench: Bench
    snapshot: TrialSnapshot
    rigs: tuple[Rig, ...]
    """Those weighed, the baseline first."""
    fit: Fit | None
    """None where no reading counts."""
    sections: Collection[str] = tuple(SECTION_NOTES)
    """Those wanted: notes that only others read are not fetched."""

    @property
    def rig_names(self) -> list[str]:
        """Names of the trial's rigs: those weighed, and those planned before any reading."""
        spec = self.snapshot.record.spec
        planned = [spec.baseline, spec.candidate] if spec else []
        return list(dict.fromkeys(n for n in (*(r.name for r in self.rigs), *planned) if n))

    @cached_property
    def _notes(self) -> dict[str, list[Note]]:
        kinds = {SECTION_NOTES[key] for key in self.sections if key in SECTION_NOTES}
        found: dict[str, list[Note]] = {kind: [] for kind in kinds}
        for note in self.bench.notes(kinds):
            found[note.kind].append(note)
        return found

    def notes(self, kind: str, subjects: Collection[str] | None = None) -> list[Note]:
        """Notes of a kind (about some subjects), oldest first; all kinds come in one statement."""
        notes = self._notes[kind]
        return notes if subjects is None else [note for note in notes if note.subject in subjects]
