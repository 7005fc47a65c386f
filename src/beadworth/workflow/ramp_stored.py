"""Live weighings on the bench: begun, their trace appended, read, voided; what they say again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Final

import numpy as np

from beadworth.capacity import Ceiling, Fit
from beadworth.core import ConflictError, FitError, InputError, flat
from beadworth.ramp import RampSpec, Trace, analyse_trace, read_trace_csv, write_trace_csv
from beadworth.report import PublishedLive, ceiling_words, software_versions
from beadworth.store import LiveFinding, StoredLive, live
from beadworth.text import capital, duration, join_words
from beadworth.workflow.capacity import loss_of
from beadworth.workflow.journal import add_journal_page
from beadworth.workflow.ramp import Ramp, fit_weighing, named_ramp, weighed_entries

if TYPE_CHECKING:
    from beadworth.ramp import LiveWeighing
    from beadworth.report import ReadingEntry
    from beadworth.store import Bench, TrialSnapshot
    from beadworth.workflow.sections import SectionInputs

FROM_TABLE: Final = "read from a table"
STOPPED: Final = "recording stopped without an end; what came in the last 4 s may be missing"


@dataclass(frozen=True)
class LiveLine:
    """A live weighing in a list."""

    number: int
    trial: str
    begun: datetime
    author: str | None
    rig: str
    material: str
    temperatures_c: tuple[float, ...]
    standing: str
    """used; kept but not used, and which check failed; voided, and why; not read yet."""


@dataclass(frozen=True)
class LiveLines:
    """Live weighings on the bench, in the order begun."""

    live_weighings: tuple[LiveLine, ...]


@dataclass(frozen=True)
class LiveView:
    """One live weighing: what ran, what was found, the ceilings it gives by itself."""

    line: LiveLine = field(metadata=flat())
    ramp: RampSpec
    balance: str
    note: str
    rows: int
    """Of the trace on the bench."""
    finding: LiveFinding | None
    """Null while it is not read."""
    ceilings: tuple[Ceiling, ...]
    """Empty where a check failed, or it is not read."""


def begin_live(
    bench: Bench,
    ramp: Ramp,
    *,
    trial: str | None = None,
    question: str = "",
    balance: str = "",
    note: str = "",
) -> StoredLive:
    """Put a live weighing on a trial before its first reading.

    Parameters
    ----------
    trial : str, optional
        Left out: a new trial of ``question``, without a plan.

    Raises
    ------
    NotFoundError
        No such trial.
    LimitError
        A ramp outside what rig, material or cup allow.
    """
    made = ramp.program()
    steps = ramp.sections or made.sections
    program = made.text if steps == made.sections else ""  # nobody has the one that ran
    if not trial:
        names = (ramp.rig.name, ramp.material.name)
        asked = question.strip() or (
            f"How much flow does {ramp.rig.name} take of {ramp.material.name}, weighed live?"
        )
        trial = bench.create_trial_without_plan(asked, names).id
    number = live.begin(
        bench, trial, ramp.spec, steps, ramp.rig, ramp.material, program,
        balance=balance, note=note.strip(),
    )  # fmt: skip
    return live.one(bench, number)


def store_trace(
    bench: Bench,
    ramp: Ramp,
    table: str,
    source: str,
    *,
    trial: str | None = None,
    question: str = "",
    note: str = "",
) -> StoredLive:
    """Store a trace from a table with what it says, also where a check fails.

    Raises
    ------
    ReadingsError
        A table that is no trace, or not of this ramp; nothing was stored.
    """
    trace = read_trace_csv(table, source)
    analyse_trace(
        trace, ramp.spec, sections=ramp.sections,
        filament_diameter_mm=ramp.rig.filament_diameter_mm,
    )  # fmt: skip
    one = begin_live(bench, ramp, trial=trial, question=question, note=note)
    live.append(bench, one.number, trace, 0)
    return read_live(bench, one.number, ended=FROM_TABLE)


def read_live(bench: Bench, number: int, *, ended: str = STOPPED, note: str = "") -> StoredLive:
    """Read the trace of a live weighing, store what it says, and put it into the journal.

    Raises
    ------
    NotFoundError
        None of that number.
    ConflictError
        It was voided.
    ReadingsError
        A trace that is too short, or not of this ramp; it stays on the bench, unread.
    """
    one = live.one(bench, number)
    if one.state != "current":
        raise ConflictError(f"{one.name} was voided: {one.reason}.", "live weighing", number,
                            "Record another.")  # fmt: skip
    trace = read_trace_csv(live_table(bench, number), one.name)
    found = _analysed(one, trace)
    gaps = np.diff(trace.time_s)
    live.store_finding(
        bench,
        one,
        LiveFinding(
            found.readings, found.joint, found.checks, found.noise.hang_mg, found.noise.hang_s,
            found.wander, found.minutes, found.grams, trace.time_s.size,
            round(float(gaps.max()), 2), ended, note.strip(),
            software_versions().get("beadworth", ""),
        ),
    )  # fmt: skip
    stored = live.one(bench, number)
    _into_journal(bench, stored)
    return stored


def _analysed(one: StoredLive, trace: Trace) -> LiveWeighing:
    return analyse_trace(
        trace, named_ramp(one.spec, one.rig, one.material), sections=one.sections,
        filament_diameter_mm=one.rig.filament_diameter_mm, prefix=f"L{one.number}-",
    )  # fmt: skip


def live_table(bench: Bench, number: int) -> str:
    """The trace of a live weighing as a table (CSV), as far as it is on the bench.

    Raises
    ------
    NotFoundError
        None of that number.
    """
    live.one(bench, number)
    trace = live.trace_of(bench, number)
    return "time_s,mass_g\n" if trace is None else write_trace_csv(trace)


def live_rows(bench: Bench, number: int) -> int:
    """How many readings of a live weighing's trace are on the bench."""
    trace = live.trace_of(bench, number)
    return 0 if trace is None else trace.time_s.size


def live_weighings(bench: Bench, trial: str | None = None) -> list[StoredLive]:
    """The live weighings on the bench (or of a trial), in the order begun."""
    notes = bench.notes((live.LIVE_KIND, live.FOUND_KIND), trial)
    found = [one for several in live.of_notes(notes).values() for one in several]
    return sorted(found, key=lambda one: one.number)


def live_weighing(bench: Bench, number: int) -> StoredLive:
    """One live weighing by its number; NotFoundError names those there are."""
    return live.one(bench, number)


def unread_live(bench: Bench, number: int) -> StoredLive:
    """A live weighing that is not read yet, to record on.

    Raises
    ------
    NotFoundError
        None of that number.
    ConflictError
        It was read or voided.
    """
    one = live.one(bench, number)
    if one.finding is not None or one.state != "current":
        raise ConflictError(f"{one.name} is over: {one.standing}.", "live weighing", number,
                            "Record another.")  # fmt: skip
    return one


def live_analysis(bench: Bench, number: int) -> tuple[Trace, LiveWeighing] | None:
    """Trace and analysis of a live weighing that was read, for its chart; None where it was not."""
    one = live.one(bench, number)
    trace = live.trace_of(bench, number) if one.finding else None
    return None if trace is None else (trace, _analysed(one, trace))


def void_live(bench: Bench, number: int, reason: str) -> StoredLive:
    """Let a live weighing no longer count; it stays, with the reason.

    Raises
    ------
    InputError
        No reason.
    ConflictError
        It was voided before.
    """
    one = live.one(bench, number)
    if not reason.strip():
        raise InputError("no reason is given.", "reason", reason,
                         "Say why it no longer counts; it stays with it.")  # fmt: skip
    if one.state != "current":
        raise ConflictError(f"{one.name} does not count already ({one.reason}).", "live weighing",
                            number, "Pick one that counts.")  # fmt: skip
    live.void(bench, one, reason)
    return live.one(bench, number)


def live_fit(one: StoredLive, loss: float | None = None) -> Fit | None:
    """The fit of one live weighing by itself, None where it does not count or carries no curve."""
    if not one.counts or one.finding is None:
        return None
    try:
        found = one.finding
        return fit_weighing(found.readings, found.joint, one.rig, one.material, loss)
    except FitError:
        return None


def live_entries(one: StoredLive, fit: Fit | None) -> tuple[ReadingEntry, ...]:
    """Its bins with their losses, for the chart of loss."""
    return weighed_entries(one.finding.readings, fit) if one.finding else ()


def ramp_of_live(one: StoredLive) -> Ramp:
    """The ramp that runs, or ran, with rig and material as they were then."""
    return Ramp(one.spec, one.rig, one.material, one.sections)


def live_line(one: StoredLive) -> LiveLine:
    """A live weighing in short."""
    return LiveLine(
        one.number, one.trial, one.at, one.author, one.rig.name, one.material.name,
        one.spec.temperatures_c, one.standing,
    )  # fmt: skip


def live_view(bench: Bench, one: StoredLive) -> LiveView:
    """A live weighing as an answer."""
    fit = live_fit(one)
    return LiveView(
        live_line(one), one.spec, one.balance, one.note,
        live_rows(bench, one.number), one.finding, fit.ceilings if fit else (),
    )  # fmt: skip


def describe_live(one: StoredLive, fit: Fit | None) -> list[str]:
    """What a live weighing found, in sentences."""
    said = [f"{capital(one.name)}: {one.standing}."]
    if fit is not None:
        told = join_words(f"{c.temperature_c:g} °C {ceiling_words(c)}" for c in fit.ceilings)
        said.append(f"Ceilings by itself: {told}.")
    if one.finding is not None:
        gap = one.finding.silence_s
        silence = f", the longest silence {duration(gap)}" if gap else ""
        said.append(f"{one.finding.rows} readings in {one.finding.minutes:.0f} min of steps, "
                    f"{one.finding.grams:.1f} g{silence}.")  # fmt: skip
        said += [f"{capital(c.name)} failed: {c.found} {c.remedy}"
                 for c in one.finding.checks if c.verdict == "failed"]  # fmt: skip
        said += [f"Seen: {note}" for note in (one.note, one.finding.note) if note]
    return said


def _into_journal(bench: Bench, one: StoredLive) -> None:
    text = "\n".join(describe_live(one, live_fit(one)))
    title = f"Live weighing {one.number}, {one.rig.name}: {one.standing}"
    page = {
        "on": datetime.now(UTC).date(), "stage": "trial", "title": title[:120], "text": text,
        "simulated": one.simulated,
    }  # fmt: skip
    add_journal_page(bench, one.trial, page)


def published_live(bench: Bench, lives: Sequence[StoredLive], loss: float) -> list[PublishedLive]:
    """Live weighings of a trial with their traces, as dossier and data package show them."""
    traces = live.traces_of(bench, [one.number for one in lives]) if lives else {}
    made = []
    for one in lives:
        trace = traces.get(one.number)
        if one.finding is None or trace is None:
            continue
        fit = live_fit(one, loss)
        made.append(
            PublishedLive(
                one.number, one.at.date().isoformat(), one.state, one.reason, one.spec,
                one.sections, one.rig.name, one.material.name, trace, one.finding.readings,
                one.finding.joint, one.finding.checks, one.finding.hang_mg, one.finding.hang_s,
                one.finding.wander, one.finding.grams, one.finding.minutes, one.standing,
                fit.ceilings if fit else (),
                " ".join(note for note in (one.note, one.finding.note) if note),
            )
        )  # fmt: skip
    return made


def gather_live(inputs: SectionInputs) -> tuple[PublishedLive, ...] | None:
    """The live weighings of a trial, for its dossier."""
    snapshot: TrialSnapshot = inputs.snapshot
    return tuple(published_live(inputs.bench, snapshot.live, loss_of(snapshot))) or None
