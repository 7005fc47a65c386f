"""A trial gathered for its report: everything the page shows and the dossier publishes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from beadworth.capacity import ceiling_at
from beadworth.core import RESERVE, FitError, NotFoundError
from beadworth.report import ReadingEntry, ReportData, software_versions
from beadworth.rig import changed
from beadworth.workflow.bringup import gather_bringup
from beadworth.workflow.capacity import trial_comparison, trial_fit, trial_speeds
from beadworth.workflow.cause_stored import gather_causes
from beadworth.workflow.fit import gather_fit
from beadworth.workflow.journal import gather_journal
from beadworth.workflow.predicted import gather_predicted
from beadworth.workflow.prints import gather_replays
from beadworth.workflow.ramp_stored import gather_live
from beadworth.workflow.sections import SectionInputs
from beadworth.workflow.typical import gather_typical
from beadworth.workflow.wear import gather_wear
from beadworth.workflow.witness_read import gather_witness
from beadworth.workflow.worth import gather_worth

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Comparison, Fit, GroupFit, Residual
    from beadworth.store import Bench, StoredReading, TrialRecord, TrialSnapshot
    from beadworth.trial import Reading

LAW_STEPS = 25
LAW_BEYOND_C = 10.0
"""How far beyond the tested temperatures the law is drawn, dashed."""


def entries_of(snapshot: TrialSnapshot, fit: Fit | None) -> tuple[ReadingEntry, ...]:
    """Every reading with what became of it, and its loss where it counts."""
    order = {coupon.coupon: coupon.order for coupon in snapshot.coupons}
    found = _residuals(fit)
    made = []
    for stored in snapshot.readings:
        reading = stored.reading
        waiting = found.get(_key(stored)) if stored.state == "current" else None
        residual = waiting.pop(0) if waiting else None
        made.append(
            ReadingEntry(
                reading,
                state=stored.state,
                reason=stored.reason or "",
                at=stored.at.isoformat(timespec="seconds"),
                order=order.get(reading.coupon or ""),
                loss=residual.loss if residual else None,
                u_loss=residual.u_loss if residual else None,
            )
        )
    for reading in () if snapshot.current else snapshot.fitted:
        waiting = found.get(_key_of(reading))
        residual = waiting.pop(0) if waiting else None
        made.append(
            ReadingEntry(
                reading,
                loss=residual.loss if residual else None,
                u_loss=residual.u_loss if residual else None,
                live=True,
            )
        )
    return tuple(made)


def _key(stored: StoredReading) -> tuple[str, str, str | None, float, float]:
    return _key_of(stored.reading)


def _key_of(r: Reading) -> tuple[str, str, str | None, float, float]:
    return r.rig, r.material, r.coupon, r.temperature_c, r.flow_mm3_s


def _residuals(
    fit: Fit | None,
) -> dict[tuple[str, str, str | None, float, float], list[Residual]]:
    found: dict[tuple[str, str, str | None, float, float], list[Residual]] = defaultdict(list)
    for group in fit.groups if fit else ():
        for item in group.residuals:
            key = (group.rig, group.material, item.coupon, item.temperature_c, item.flow_mm3_s)
            found[key].append(item)
    return found


def law_ceilings(fit: Fit) -> tuple[Ceiling, ...]:
    """The law over a fine grid of temperatures, for every group whose readings support it."""
    drawn = []
    for group in fit.groups:
        if group.law is None or not group.law.supported:
            continue
        tested = [
            c.temperature_c
            for c in fit.ceilings
            if (c.rig, c.material) == (group.rig, group.material)
        ]
        low, high = min(tested) - LAW_BEYOND_C, max(tested) + LAW_BEYOND_C
        for step in range(LAW_STEPS):
            temperature = low + (high - low) * step / (LAW_STEPS - 1)
            if temperature not in tested:
                drawn.append(ceiling_at(fit, group.rig, group.material, temperature))
    return tuple(drawn)


def report_data(
    bench: Bench,
    trial: str | TrialSnapshot,
    loss: float | None = None,
    *,
    reserve: float = RESERVE,
    sections: Collection[str] | None = None,
) -> ReportData:
    """All that stands in the report of a trial, as it is now.

    Parameters
    ----------
    trial : str or TrialSnapshot
        Its id, or what was fetched of it already.
    loss : float, optional
        At which ceilings are read; left out: the trial's own, else 2 %.
    reserve : float, 0 to 1
        Fraction kept below a ceiling in the speeds.
    sections : names, optional
        Of :data:`SECTION_SOURCES`: those whose data is gathered from the rest of the bench;
        left out: all. The expensive ones (``typical``, ``worth``, ``wear``) are asked for so.

    Raises
    ------
    NotFoundError
        No such trial.
    FitError
        Readings that carry no curve.
    """
    with bench.reading():
        snapshot = bench.snapshot(trial) if isinstance(trial, str) else trial
        return _report_data(bench, snapshot, loss, reserve, sections)


def _report_data(
    bench: Bench,
    snapshot: TrialSnapshot,
    loss: float | None,
    reserve: float,
    sections: Collection[str] | None,
) -> ReportData:
    record, current = snapshot.record, snapshot.fitted
    fit = trial_fit(snapshot, loss) if current else None
    rigs, materials = snapshot.known(current)
    names = rig_order(record, [reading.rig for reading in current])

    def place(item: GroupFit | Ceiling) -> int:
        return names.index(item.rig)

    compared = compared_rigs(snapshot, loss, fit)
    sheet = trial_speeds(snapshot, loss, reserve=reserve) if fit else None
    ordered = tuple(rigs[name] for name in names if name in rigs)
    wanted = tuple(SECTION_SOURCES if sections is None else sections)
    inputs = SectionInputs(bench, snapshot, ordered, fit, wanted)
    return ReportData(
        question=record.question,
        rigs=ordered,
        material=next(iter(materials.values()), None) if len(materials) == 1 else None,
        generated_at=date.today(),
        candidate=names[1] if len(names) == 2 else None,
        spec=record.spec,
        plan=record.plan,
        coupons=snapshot.coupons,
        entries=entries_of(snapshot, fit),
        groups=tuple(sorted(fit.groups, key=place)) if fit else (),
        ceilings=tuple(sorted(fit.ceilings, key=place)) if fit else (),
        law_ceilings=law_ceilings(fit) if fit else (),
        differences=compared.differences if compared else (),
        comparison_notes=compared.notes if compared else (),
        speeds=sheet.rows if sheet else (),
        speed_settings=sheet.settings if sheet else (),
        reserve=reserve,
        amendments=snapshot.amendments,
        versions=software_versions(),
        materials=tuple(materials[name] for name in sorted(materials)),
        simulated=record.simulated,
        section_data=section_data(inputs),
        changed_since=tuple(
            rig.name for rig in ordered
            if changed(rig, snapshot.rigs[rig.name])
        ),
    )  # fmt: skip


def compared_rigs(
    snapshot: TrialSnapshot, loss: float | None, fit: Fit | None
) -> Comparison | None:
    """Candidate less baseline, where both have curves and a temperature in common."""
    if fit is None or len({group.rig for group in fit.groups}) != 2:
        return None
    try:
        return trial_comparison(snapshot, loss=loss)
    except (FitError, NotFoundError):
        return None


def rig_order(record: TrialRecord, weighed: Sequence[str]) -> list[str]:
    """Baseline first, then the candidate, then whatever else was weighed."""
    planned = [record.spec.baseline, record.spec.candidate] if record.spec else []
    return list(dict.fromkeys(name for name in (*planned, *weighed) if name))


Gather = Callable[[SectionInputs], Any | None]
"""From a trial and what stands beside it to a section's data; None leaves the section out."""
SECTION_SOURCES: dict[str, Gather] = {
    "typical": gather_typical,
    "predicted": gather_predicted,
    "worth": gather_worth,
    "wear": gather_wear,
    "journal": gather_journal,
    "fit": gather_fit,
    "bringup": gather_bringup,
    "replays": gather_replays,
    "witness": gather_witness,
    "cause": gather_causes,
    "live": gather_live,
}
"""One line per feature: the key of its section, and where its data comes from."""


def section_data(inputs: SectionInputs) -> dict[str, Any]:
    """The data of every wanted feature that has something to say of a trial, by section key."""
    found = {
        key: gather(inputs) for key, gather in SECTION_SOURCES.items() if key in inputs.sections
    }
    return {key: data for key, data in found.items() if data is not None}
