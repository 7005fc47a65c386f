"""Live weighings as notes of a trial: what was run, the trace as it came, what it said.

Three kinds of notes. The first says what runs on which rig, and is written before the first
reading. The trace follows in pieces, appended as the balance is read, so that a computer that
stops loses the piece under way and nothing else. The finding comes last; a later release may read
the same trace again and add another, and the newest counts.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from beadworth.core import from_json, from_mapping, to_json, to_mapping
from beadworth.material import Material
from beadworth.ramp import GAP_S, Check, RampSpec, Section, Trace, failed_checks, use_words
from beadworth.rig import Rig
from beadworth.store import ledger
from beadworth.store.models import NoteRow
from beadworth.store.packing import packed, unpacked
from beadworth.store.trials import of_trial
from beadworth.store.values import Note, State
from beadworth.trial import JointErrors, Reading

if TYPE_CHECKING:
    from beadworth.store.store import Bench

LIVE_KIND: Final = "live-weighing"
FOUND_KIND: Final = "live-found"
TRACE_KIND: Final = "live-trace"


@dataclass(frozen=True)
class LiveFinding:
    """What a trace said when it was read."""

    readings: tuple[Reading, ...]
    joint: JointErrors
    checks: tuple[Check, ...]
    hang_mg: float
    hang_s: float
    wander: float
    minutes: float
    grams: float
    rows: int
    """Of the trace."""
    longest_gap_s: float
    """Longest silence in it."""
    ended: str = ""
    """How the recording ended, in words; empty: a table that was read."""
    note: str = ""
    """What the person saw."""
    read_by: str = ""
    """Release that read it."""

    @property
    def silence_s(self) -> float:
        """The longest silence where it is long enough to be told, else 0."""
        return self.longest_gap_s if self.longest_gap_s > GAP_S else 0.0

    @property
    def failed(self) -> tuple[str, ...]:
        """Names of the checks that failed."""
        return failed_checks(self.checks)


@dataclass(frozen=True)
class StoredLive:
    """A live weighing on the bench."""

    number: int
    trial: str
    at: datetime
    """When it was begun, UTC."""
    author: str | None
    spec: RampSpec
    rig: Rig
    """As it was then."""
    material: Material
    balance: str
    """Name of the balance on the cable; empty: a table that was read."""
    note: str
    state: State
    reason: str
    """Why it no longer counts."""
    packed: Mapping[str, str]
    """Program and steps, compressed: unpacked when they are asked for."""
    finding: LiveFinding | None = None
    """None while it runs, or where the recording stopped without an end."""
    found_at: datetime | None = None

    @property
    def name(self) -> str:
        """What messages call it."""
        return f"live weighing {self.number}"

    @property
    def program(self) -> str:
        """The program that ran; empty where steps came in that this release does not make."""
        return unpacked(self.packed["program"])

    @property
    def sections(self) -> tuple[Section, ...]:
        """The steps that ran, whatever a later release makes of the same ramp."""
        return tuple(
            from_json(Section, one, self.name) for one in json.loads(unpacked(self.packed["steps"]))
        )

    @property
    def simulated(self) -> bool:
        """Whether its rig or material is invented."""
        return self.rig.simulated or self.material.simulated

    @property
    def counts(self) -> bool:
        """Whether its readings may be used: read, no check failed, not voided."""
        return self.state == "current" and self.finding is not None and not self.finding.failed

    @property
    def standing(self) -> str:
        """Where it stands, in a few words."""
        if self.state != "current":
            return f"{self.state}: {self.reason}"
        if self.finding is None:
            return "not read yet"
        return use_words(self.finding.checks)


def begin(
    bench: Bench,
    trial: str,
    spec: RampSpec,
    sections: Sequence[Section],
    rig: Rig,
    material: Material,
    program: str,
    *,
    balance: str = "",
    note: str = "",
) -> int:
    """Put a live weighing on a trial before its first reading; its number.

    Raises
    ------
    NotFoundError
        No such trial.
    """
    bench.trial(trial)
    data = {
        "spec": to_mapping(spec),
        "rig": to_mapping(rig),
        "material": to_mapping(material),
        "balance": balance,
        "note": note,
        "packed": {"program": packed(program), "steps": packed(json.dumps(to_json(sections)))},
    }
    return bench.add_note(LIVE_KIND, trial, data).id


def append(bench: Bench, number: int, trace: Trace, first: int) -> None:
    """Append rows to a trace; ``first``: how many there are already."""
    data = {
        "first": first,
        "time_s": [round(float(t), 4) for t in trace.time_s],
        "mass_g": [float(m) for m in trace.mass_g],
        "stable": None if trace.stable is None else [int(s) for s in trace.stable],
    }
    bench.add_note(TRACE_KIND, str(number), data)


def store_finding(bench: Bench, one: StoredLive, finding: LiveFinding) -> None:
    """Store what a trace said."""
    bench.add_note(FOUND_KIND, one.trial, {"number": one.number, "finding": to_json(finding)})


def trace_of(bench: Bench, number: int) -> Trace | None:
    """The trace as far as it was stored, None where nothing was; a piece sent twice counts once."""
    return traces_of(bench, (number,)).get(number)


def traces_of(bench: Bench, numbers: Sequence[int]) -> dict[int, Trace]:
    """The traces of live weighings by their numbers, in one statement."""
    pieces: dict[int, dict[int, Any]] = defaultdict(dict)
    for note in bench.notes((TRACE_KIND,), [str(number) for number in numbers]):
        pieces[int(note.subject)][note.data["first"]] = note.data
    return {number: _joined([rows[first] for first in sorted(rows)])
            for number, rows in pieces.items()}  # fmt: skip


def _joined(rows: Sequence[Mapping[str, Any]]) -> Trace:
    stable = [s for row in rows for s in row["stable"] or ()]
    time = np.array([t for row in rows for t in row["time_s"]], dtype=np.float64)
    return Trace(
        time,
        np.array([m for row in rows for m in row["mass_g"]], dtype=np.float64),
        np.array(stable, dtype=bool) if len(stable) == time.size else None,
    )


def one(bench: Bench, number: int) -> StoredLive:
    """One live weighing by its number.

    Raises
    ------
    NotFoundError
        None of that number.
    """
    every = of_notes(bench.notes((LIVE_KIND, FOUND_KIND))).values()
    found = {live.number: live for several in every for live in several}
    return ledger.by_number(found, number, "live weighing", "Record one first.")


def by_trial(
    session: Session, trial: str | Collection[str] | None = None
) -> Mapping[str, list[StoredLive]]:
    """The live weighings of every trial (or of one, or several), in one statement."""
    query = select(NoteRow).where(
        NoteRow.kind.in_((LIVE_KIND, FOUND_KIND)), of_trial(NoteRow.subject, trial)
    )
    rows = session.scalars(query.order_by(NoteRow.id))
    return of_notes(Note(r.id, r.kind, r.subject, r.at, r.data, r.author) for r in rows)


def of_notes(notes: Iterable[Note]) -> Mapping[str, list[StoredLive]]:
    """The live weighings that notes hold, by trial, in the order begun."""
    found: dict[int, StoredLive] = {}
    for note in notes:
        data = note.data
        if note.kind == FOUND_KIND:
            if data["number"] in found:
                finding = from_json(LiveFinding, data["finding"], f"live weighing {data['number']}")
                found[data["number"]] = replace(
                    found[data["number"]], finding=finding, found_at=note.at
                )
        elif "voids" in data:
            if data["voids"] in found:
                found[data["voids"]] = replace(
                    found[data["voids"]], state="voided", reason=data["reason"]
                )
        else:
            found[note.id] = _begun(note)
    trials: dict[str, list[StoredLive]] = defaultdict(list)
    for live in found.values():
        trials[live.trial].append(live)
    return trials


def _begun(note: Note) -> StoredLive:
    data: dict[str, Any] = note.data
    name = f"live weighing {note.id}"
    return StoredLive(
        note.id, note.subject, note.at, note.author,
        from_mapping(RampSpec, data["spec"], name),
        from_mapping(Rig, data["rig"], name),
        from_mapping(Material, data["material"], name),
        data["balance"], data["note"], "current", "", data["packed"],
    )  # fmt: skip


def void(bench: Bench, one: StoredLive, reason: str) -> None:
    """Let a live weighing no longer count; it stays, with the reason."""
    bench.add_note(LIVE_KIND, one.trial, {"voids": one.number, "reason": reason.strip()})
