"""An upgrade from end to end: a rig before and after, and what each stage of the job knows of it.

An upgrade is a rig that names its parent. Nothing is stored for it: its stages read what fit
check, bring-up, trials, prints, worth and wear hold of its two rigs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, Literal

from beadworth.core import BeadworthError, NotFoundError
from beadworth.fit import Verdict, fit_check
from beadworth.store import stored_prints
from beadworth.text import capital, count, join_words, number
from beadworth.wear import wear_summary
from beadworth.workflow.bringup import BRINGUP_KIND, bring_ups_of
from beadworth.workflow.wear import WEAR_KIND, wear_entries_of
from beadworth.workflow.worth import WORTH_KIND, worths_of

if TYPE_CHECKING:
    from beadworth.material import Material
    from beadworth.rig import Rig
    from beadworth.store import Bench, Note, StoredPrint, TrialOutline

StageName = Literal["fit", "bring-up", "trial", "speed", "prints", "worth", "wear", "publish"]
State = Literal["done", "begun", "open"]


VERDICTS: tuple[tuple[Verdict, str], ...] = (
    ("does not fit", "do not fit"),
    ("look closer", "to look at"),
    ("measure this", "to measure"),
    ("fits", "fit"),
)


@dataclass(frozen=True)
class Stage:
    """One stage of the job for one upgrade."""

    name: StageName
    title: str
    state: State
    fact: str
    """What is known, in a sentence."""
    subject: str | None = None
    """What it is about: a trial, a case; None where it is about the rig itself."""


@dataclass(frozen=True)
class Upgrade:
    """A rig before and after a change, and how far the job is."""

    after: Rig
    before: Rig | None
    """None for a rig that was not upgraded from another on the bench."""
    stages: tuple[Stage, ...]
    trials: tuple[TrialOutline, ...]
    """Trials of either rig, those of both first, then the newest."""
    apart: tuple[TrialOutline | None, TrialOutline | None] = (None, None)
    """Newest weighed trial of the rig before, and of the rig after, where none is of both."""

    @property
    def next(self) -> Stage | None:
        """The first stage that is not done; None where all are."""
        return next((stage for stage in self.stages if stage.state != "done"), None)


@dataclass(frozen=True)
class BenchView:
    """What a bench holds of all upgrades, fetched once."""

    rigs: dict[str, Rig]
    materials: dict[str, Material]
    trials: tuple[TrialOutline, ...]
    """Newest first."""
    notes: dict[str, list[Note]]
    """By kind, oldest first."""
    prints: tuple[StoredPrint, ...]
    """Every print, the one given last first."""

    def about(self, kind: str, subject: str) -> list[Note]:
        """Notes of a kind about one rig."""
        return [note for note in self.notes[kind] if note.subject == subject]


NOTES: Final = (BRINGUP_KIND, WORTH_KIND, WEAR_KIND)


def bench_view(bench: Bench) -> BenchView:
    """Everything on a bench that stages of upgrades are read from."""
    rigs, materials = bench.records()
    notes: dict[str, list[Note]] = {kind: [] for kind in NOTES}
    for note in bench.notes(NOTES):
        notes[note.kind].append(note)
    return BenchView(rigs, materials, tuple(bench.outlines()), notes, tuple(stored_prints(bench)))


def upgrades(view: BenchView) -> list[tuple[Rig, Rig | None]]:
    """Every rig that was upgraded, after and before, by name; with none, every rig as it is."""
    rigs = view.rigs
    found = [(rig, rigs.get(rig.parent)) for rig in rigs.values() if rig.parent]
    return found or [(rig, None) for rig in rigs.values()]


def newest_upgrade(view: BenchView) -> Upgrade | None:
    """The upgrade of the newest trial that names a rig, the person's own before the demo's."""
    own_first = sorted(view.trials, key=lambda t: (not t.simulated, t.created_at), reverse=True)
    named = (name for trial in own_first for name in _rigs_of(trial) if name in view.rigs)
    name = next(named, None) or next((after.name for after, _ in upgrades(view)), None)
    return upgrade(view, name) if name else None


def upgrade(view: BenchView, rig: str) -> Upgrade:
    """An upgrade by the name of the rig it made.

    Raises
    ------
    NotFoundError
        No such rig on the bench.
    """
    if rig not in view.rigs:
        known = join_words(sorted(view.rigs)) if view.rigs else "none yet"
        raise NotFoundError(
            f"no rig is called {rig!r}.", "upgrade", rig, f"On this bench: {known}."
        )
    after = view.rigs[rig]
    before = view.rigs.get(after.parent or "")
    trials = _trials_of(view.trials, after, before)
    apart = _apart(trials, after, before)
    stages = (
        _fit(after, before),
        _bring_up(view, after),
        _trial(trials, after, apart),
        _speed(trials),
        _prints(view, after, before),
        _worth(view, after),
        _wear(view, after),
        _publish(trials),
    )
    return Upgrade(after, before, stages, trials, apart)


def _trials_of(
    trials: Sequence[TrialOutline], after: Rig, before: Rig | None
) -> tuple[TrialOutline, ...]:
    names = {after.name, before.name if before else after.name}

    def of(trial: TrialOutline) -> set[str]:
        return names.intersection(_rigs_of(trial))

    found = [trial for trial in trials if of(trial)]
    return tuple(
        sorted(found, key=lambda t: (len(of(t)), after.name in of(t), t.created_at), reverse=True)
    )


def _rigs_of(trial: TrialOutline) -> tuple[str, ...]:
    """Rigs that a trial is of: of its plan, the candidate first, else those that were weighed."""
    if trial.spec is not None:
        spec = trial.spec
        return (spec.candidate, spec.baseline) if spec.candidate else (spec.baseline,)
    return tuple(dict.fromkeys((*(group.rig for group in trial.groups), *trial.live_rigs)))


def _apart(
    trials: Sequence[TrialOutline], after: Rig, before: Rig | None
) -> tuple[TrialOutline | None, TrialOutline | None]:
    """The newest weighed trial of either rig, where no trial is of both."""
    if before is None:
        return None, None
    if any({before.name, after.name} <= set(_rigs_of(trial)) for trial in trials):
        return None, None
    first = next((t for t in trials if before.name in _rigs_of(t) and t.fitted), None)
    return first, next((t for t in trials if after.name in _rigs_of(t) and t.fitted), None)


def _fit(after: Rig, before: Rig | None) -> Stage:
    title = "Does it fit?"
    if before is None:
        return Stage("fit", title, "open", "No rig before it is recorded, so nothing to compare.")
    try:
        checks = fit_check(before, after, None, None, None)
    except BeadworthError as error:
        return Stage("fit", title, "open", error.problems[0].what)
    verdicts = [check.verdict for check in checks]
    told = [f"{verdicts.count(v)} {words}" for v, words in VERDICTS if v in verdicts]
    sure = all(verdict == "fits" for verdict in verdicts)
    fact = f"{count(len(checks), 'check')}: {join_words(told)}."
    return Stage("fit", title, "done" if sure else "begun", fact)


def _bring_up(view: BenchView, after: Rig) -> Stage:
    title = "Bring it up"
    stored = bring_ups_of(view.about(BRINGUP_KIND, after.name))
    if not stored:
        return Stage("bring-up", title, "open", "Steps, offsets and heater not measured yet.")
    last = stored[-1]
    fact = f"{count(len(stored), 'bring-up')} stored, the last on {last.at:%Y-%m-%d}."
    if last.not_done:
        return Stage("bring-up", title, "begun", f"{fact} {last.not_done[0]}")
    return Stage("bring-up", title, "done", fact)


def _trial(
    trials: Sequence[TrialOutline],
    after: Rig,
    apart: tuple[TrialOutline | None, TrialOutline | None],
) -> Stage:
    title = "How much can it melt?"
    if not trials:
        return Stage("trial", title, "open", "No trial of it yet.")
    if apart[0] and not apart[1]:
        fact = f"The rig before is weighed, {after.name} not yet: its ceilings can be compared."
        return Stage("trial", title, "begun", fact)
    trial = trials[0]
    if trial.planned is None and not trial.readings:
        fact = "Weighed live." if trial.live else "Weighed live; no live weighing counts yet."
        return Stage("trial", title, "done" if trial.live else "begun", fact, trial.id)
    planned = trial.planned or trial.readings
    fact = f"{trial.readings} of {count(planned, 'coupon')} weighed."
    state: State = "done" if trial.readings >= planned else "begun"
    return Stage("trial", title, state, fact, trial.id)


def _speed(trials: Sequence[TrialOutline]) -> Stage:
    title = "How fast?"
    known = next((t for t in trials if t.fitted), None)
    if known is None:
        return Stage("speed", title, "open", "Follows from the ceiling.")
    return Stage("speed", title, "done", "Speeds for every bead follow from its trial.", known.id)


def _prints(view: BenchView, after: Rig, before: Rig | None) -> Stage:
    title = "Which prints?"
    names = {after.name, before.name if before else after.name}
    stored = view.prints
    replayed = [one for one in stored if one.last is not None and one.last.get("rig") in names]
    if replayed:
        return Stage("prints", title, "done", f"{count(len(replayed), 'print')} replayed on it.")
    fact = "No print given yet."
    if stored:
        fact = f"{count(len(stored), 'print')} on the bench, none replayed on it."
    return Stage("prints", title, "open", fact)


def _worth(view: BenchView, after: Rig) -> Stage:
    title = "Worth it?"
    for stored in worths_of(view.notes[WORTH_KIND]):
        if stored.case.candidate == after.name:
            verdict = str(stored.result.get("verdict", "calculated"))
            return Stage(
                "worth", title, "done", f"{capital(verdict)}: {stored.case.name}.", stored.case.name
            )
    return Stage("worth", title, "open", "Not calculated yet.")


def _wear(view: BenchView, after: Rig) -> Stage:
    title = "Months later"
    entries = wear_entries_of(view.about(WEAR_KIND, after.name))
    if not entries:
        return Stage("wear", title, "open", "No hours or checks recorded yet.")
    hours = wear_summary(entries, date.today()).total_h
    fact = f"{number(hours, 3)} h, {count(len(entries), 'entry', 'entries')}."
    return Stage("wear", title, "begun", fact)


def _publish(trials: Sequence[TrialOutline]) -> Stage:
    title = "Publish"
    known = next((t for t in trials if t.fitted), None)
    if known is None:
        return Stage("publish", title, "open", "A page, a PDF, figures and open data.")
    fact = "Ready: page, PDF, figures and open data."
    return Stage("publish", title, "begun", fact, known.id)
