"""The bench: everything one workshop has measured, added to and never overwritten."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from beadworth.core import ConflictError
from beadworth.material import Material
from beadworth.rig import PartCard, Rig
from beadworth.store import copies, snapshots, upkeep
from beadworth.store import readings as reading_rows
from beadworth.store import records as record_rows
from beadworth.store import trials as trial_rows
from beadworth.store.access import AccessOfBench
from beadworth.store.entries import Together
from beadworth.store.opening import require_there
from beadworth.store.outlines import Outlines
from beadworth.store.trouble import own_words
from beadworth.store.values import (
    BackupReport,
    CheckReport,
    Note,
    RecordVersion,
    StoredReading,
    TrialOutline,
    TrialRecord,
    TrialSnapshot,
)
from beadworth.trial import Amendment, Coupon, Plan, Reading, TrialSpec

T = TypeVar("T")


def open_bench(where: str | Path | None = None, *, make: bool = True) -> Bench:
    """Open a bench, making it and bringing its tables up to date where needed.

    Parameters
    ----------
    where : path or database URL, optional
        Left out: ``BEADWORTH_BENCH``, else the platform's data folder.
    make : bool
        False makes no file where there is none, until something is stored.

    Raises
    ------
    BenchError
        Not a bench, of a later release, not writable, or no server there.
    """
    return Bench(where, make=make)


class Bench(AccessOfBench):
    """One open bench. A context manager; its methods may be called from several threads.

    Every method that stores something returns only once it is committed to disk.
    """

    @cached_property
    def _together(self) -> Together:
        return Together(self._write)

    @cached_property
    def _outlines(self) -> Outlines:
        return Outlines()

    # rigs, materials and part cards

    def save_rig(self, rig: Rig) -> None:
        """Store a rig; where one of that name differs, as its next version."""
        with self._write() as session:
            record_rows.save(session, "rig", rig)

    def rig(self, name: str) -> Rig:
        """The newest version of a rig; NotFoundError names those there are."""
        with self._read() as session:
            return record_rows.newest(session, "rig", Rig, name)

    def rigs(self) -> list[Rig]:
        """The newest version of every rig, by name."""
        with self._read() as session:
            return record_rows.every(session, "rig", Rig)

    def rig_history(self, name: str) -> list[RecordVersion]:
        """Every version of a rig, oldest first."""
        with self._read() as session:
            return record_rows.history(session, "rig", Rig, name)

    def save_material(self, material: Material) -> None:
        """Store a material; where one of that name differs, as its next version."""
        with self._write() as session:
            record_rows.save(session, "material", material)

    def material(self, name: str) -> Material:
        """The newest version of a material; NotFoundError names those there are."""
        with self._read() as session:
            return record_rows.newest(session, "material", Material, name)

    def materials(self) -> list[Material]:
        """The newest version of every material, by name."""
        with self._read() as session:
            return record_rows.every(session, "material", Material)

    def material_history(self, name: str) -> list[RecordVersion]:
        """Every version of a material, oldest first."""
        with self._read() as session:
            return record_rows.history(session, "material", Material, name)

    def save_part(self, part: PartCard) -> None:
        """Store a part card; where one of that name differs, as its next version."""
        with self._write() as session:
            record_rows.save(session, "part", part)

    def part(self, name: str) -> PartCard:
        """The newest version of a part card; NotFoundError names those there are."""
        with self._read() as session:
            return record_rows.newest(session, "part", PartCard, name)

    def parts(self) -> list[PartCard]:
        """The newest version of every part card, by name."""
        with self._read() as session:
            return record_rows.every(session, "part", PartCard)

    def part_history(self, name: str) -> list[RecordVersion]:
        """Every version of a part card, oldest first."""
        with self._read() as session:
            return record_rows.history(session, "part", PartCard, name)

    def remove_record(self, kind: str, name: str, ask: Callable[[], object] | None = None) -> None:
        """Take a rig or a part card out of sight.

        ``ask`` raises where it is used, which takes the removal back; nobody else can write to the
        bench while it looks, and it still finds the record there.
        """
        with self._write() as session:
            record_rows.remove(session, kind, name)
            if ask is not None:
                ask()

    def records(self) -> tuple[dict[str, Rig], dict[str, Material]]:
        """The newest version of every rig and every material, by name."""
        with self._read() as session:
            return record_rows.newest_by_name(session)

    # trials

    def create_trial(self, spec: TrialSpec, plan: Plan) -> TrialRecord:
        """A new trial with its plan; its id is made from the question."""
        with self._write() as session:
            return trial_rows.create(session, spec, plan)

    def create_trial_from_readings(
        self, question: str, readings: Sequence[Reading], source: str
    ) -> TrialRecord:
        """A trial of checked readings alone, without a plan: all of them or none."""
        with self._write() as session:
            trial = trial_rows.create_bare(session, question, readings)
            reading_rows.add(session, snapshots.one(session, trial), readings, source)
            return trial_rows.one(session, trial)

    def create_trial_without_plan(self, question: str, names: Collection[str]) -> TrialRecord:
        """A trial for a live weighing alone; ``names``: its rig and material."""
        with self._write() as session:
            trial = trial_rows.create_empty(session, question, set(names))
            return trial_rows.one(session, trial)

    def snapshot(self, trial: str) -> TrialSnapshot:
        """One trial with its run sheet, readings, amendments, rigs and materials."""
        with self._read() as session:
            return snapshots.one(session, trial)

    def snapshots(self, trials: Collection[str] | None = None) -> list[TrialSnapshot]:
        """Every trial (or those named) with all that belongs to it, newest first."""
        with self._read() as session:
            return snapshots.every(session, trials)

    def trial(self, trial: str) -> TrialRecord:
        """One trial; NotFoundError names those there are."""
        with self._read() as session:
            return trial_rows.one(session, trial)

    def trials(self) -> list[TrialRecord]:
        """Every trial, newest first."""
        with self._read() as session:
            return trial_rows.every(session)

    def outlines(self) -> list[TrialOutline]:
        """Every trial in short, newest first; quick however many readings there are."""
        with self._read_once() as session:
            return self._outlines.every(session)

    def replan(self, trial: str, spec: TrialSpec, plan: Plan) -> TrialRecord:
        """Another plan for a trial; ConflictError once measuring has started."""
        with self._write() as session:
            return trial_rows.replan(session, trial, spec, plan)

    def amend(self, trial: str, reason: str, coupons: Sequence[Coupon], what: str) -> Amendment:
        """Add coupons to a plan, recorded with the reason."""
        with self._write() as session:
            return trial_rows.amend(session, trial, reason, coupons, what)

    def amendments(self, trial: str) -> list[Amendment]:
        """The amendments of a trial, oldest first."""
        with self._read() as session:
            return trial_rows.amendments(session, trial)

    def coupons(self, trial: str) -> list[Coupon]:
        """The run sheet: the plan's coupons and those of its amendments."""
        with self._read() as session:
            return trial_rows.coupons(session, trial)

    # readings

    def record_reading(
        self,
        trial: str,
        coupon: str,
        mass_g: float,
        tare_g: float | None = None,
        diameter_mm: float | None = None,
        note: str | None = None,
        entry_key: str | None = None,
    ) -> StoredReading:
        """Enter a weighing of a planned coupon.

        Parameters
        ----------
        entry_key : str, optional
            Chosen by who sends it; sent again under the same key it is the reading it was.

        Raises
        ------
        NotFoundError
            No such trial or coupon.
        ConflictError
            The coupon has a reading that counts.
        ReadingsError
            A mass that cannot be what was fed.
        """
        weighing = reading_rows.Weighing(mass_g, tare_g, diameter_mm, note, entry_key)
        return self._together.enter(trial, coupon, weighing)

    def void_reading(self, reading_id: int, reason: str) -> StoredReading:
        """Let a reading no longer count; it stays, with the reason."""
        with self._write() as session:
            return reading_rows.void(session, reading_id, reason)

    def supersede_reading(
        self,
        reading_id: int,
        mass_g: float,
        tare_g: float | None = None,
        diameter_mm: float | None = None,
        note: str | None = None,
        reason: str = "weighed again",
        entry_key: str | None = None,
    ) -> StoredReading:
        """Put a new weighing of the same coupon in a reading's place; the old one stays."""
        weighing = reading_rows.Weighing(mass_g, tare_g, diameter_mm, note, entry_key)
        with self._write() as session:
            return reading_rows.supersede(session, reading_id, weighing, reason)

    def add_readings(
        self, trial: str, readings: Sequence[Reading], source: str, checked_against: str | None
    ) -> list[StoredReading]:
        """Add readings that were checked against a trial's plan: all of them, or none.

        Parameters
        ----------
        checked_against : str or None
            Digest of the plan with its amendments, as the trial's record gives it.

        Raises
        ------
        ConflictError
            The plan is another by now, or a coupon has a reading that counts.
        """
        with self._write() as session:
            snapshot = snapshots.one(session, trial)
            if snapshot.record.digest != checked_against:
                raise ConflictError(
                    "the plan was changed while the table was read.",
                    f"trial {trial}",
                    remedy="Import it again; nothing was imported.",
                )
            return reading_rows.add(session, snapshot, readings, source)

    def readings(self, trial: str) -> list[StoredReading]:
        """Every reading of a trial in order of entry, those that do not count too."""
        with self._read() as session:
            trial_rows.plans(session, trial)
            return snapshots.readings(session, trial)[trial]

    def current_readings(self, trial: str) -> list[Reading]:
        """The readings that count now."""
        return [stored.reading for stored in self.readings(trial) if stored.state == "current"]

    # notes

    def add_note(
        self, kind: str, subject: str, data: dict[str, Any], entry_key: str | None = None
    ) -> Note:
        """Store a dated document about something (a rig's bring-up, a wear entry, …).

        Sent again under the same ``entry_key`` it is the note it was.
        """
        with self._write() as session:
            return record_rows.add_note(session, kind, subject, data, entry_key)

    def notes(
        self,
        kind: str | Collection[str],
        subject: str | Collection[str] | None = None,
        after: int = 0,
    ) -> list[Note]:
        """The documents of a kind or several (about one subject or several), oldest first.

        ``after`` leaves out those up to a number: what was added since.
        """
        kinds = [kind] if isinstance(kind, str) else list(kind)
        subjects = [subject] if isinstance(subject, str) else subject
        with self._read() as session:
            return record_rows.notes(session, kinds, subjects, after)

    # upkeep

    def backup(self, to: Path) -> BackupReport:
        """Copy the whole bench to a new file while it may be in use, and check the copy."""
        if not self._made:
            require_there(Path(self.name))
        with own_words(self.name):
            return copies.backup(self._engine, self.name, to)

    def check(self) -> CheckReport:
        """Look for damage: the file itself, digests of plans, readings without coupons."""
        with self._read() as session:
            return upkeep.check(session)
