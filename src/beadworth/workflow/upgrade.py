"""What the bench knows of an upgrade beyond its trial: its fit, its bring-up, prints replayed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.core import BeadworthError
from beadworth.report import BroughtUp, FitFound, ReplayedPrint
from beadworth.store import REPLAYED

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.rig import Rig
    from beadworth.store import Bench, TrialRecord


def gather_fit(
    bench: Bench, record: TrialRecord, rigs: tuple[Rig, ...], fit: Fit | None
) -> FitFound | None:
    """The checks of a rig of the trial against its parent in the trial, at what was tried."""
    from beadworth.fit import fit_check, unchanged

    spec, by_name = record.spec, {rig.name: rig for rig in rigs}
    pair = next(((by_name[r.parent], r) for r in rigs if r.parent in by_name), None)
    if pair is None or spec is None:
        return None
    parent, child = pair
    celsius = sorted(spec.temperatures_c)[(len(spec.temperatures_c) - 1) // 2]
    flow = _flow(fit, child.name, celsius) or max(spec.flows_mm3_s)
    try:
        material = bench.material(spec.material)
        checks = fit_check(parent, child, material, celsius, flow)
        before = fit_check(parent, parent, material, celsius, flow)
    except BeadworthError:  # a record edited since, so that nothing can be checked
        return None
    return FitFound(child.name, checks, unchanged(checks, before), celsius, flow)


def _flow(fit: Fit | None, rig: str, celsius: float) -> float | None:
    """The ceiling of a rig as read at a temperature."""
    found = [
        c.flow_mm3_s
        for c in (fit.ceilings if fit else ())
        if (c.rig, c.temperature_c, c.basis) == (rig, celsius, "readings")
    ]
    return round(found[0], 1) if found and found[0] else None


def gather_bringup(
    bench: Bench, record: TrialRecord, rigs: tuple[Rig, ...], fit: Fit | None
) -> tuple[BroughtUp, ...] | None:
    """The newest bring-up results kept with the rigs of a trial."""
    from beadworth.bringup import told_result
    from beadworth.workflow.bringup import chosen, kept

    made = []
    for rig in rigs:
        there = kept(bench, rig.name)
        if there:
            findings = tuple(told_result(chosen(bench, rig.name)))
            made.append(BroughtUp(rig.name, there[-1].at.date().isoformat(), findings))
    return tuple(made) or None


def gather_replays(
    bench: Bench, record: TrialRecord, rigs: tuple[Rig, ...], fit: Fit | None
) -> tuple[ReplayedPrint, ...] | None:
    """What was last said of each print replayed on a rig of the trial."""
    numbers: dict[str, int] = {}
    last: dict[tuple[str, int], ReplayedPrint] = {}
    names = [rig.name for rig in rigs]
    for note in bench.notes(REPLAYED):
        number = numbers.setdefault(note.subject, len(numbers) + 1)
        rig = note.data.get("rig")
        if rig in names:
            last[rig, number] = ReplayedPrint(
                number, rig, float(note.data["time_s"]), str(note.data["verdict"])
            )
    ordered = sorted(last.items(), key=lambda item: (names.index(item[0][0]), item[0][1]))
    return tuple(one for _, one in ordered) or None
