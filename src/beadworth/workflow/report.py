"""A trial gathered for its account: everything the page shows and the dossier publishes.

Both doors ask here, so that the page, the dossier and the command say the same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from beadworth.capacity import ceiling_at
from beadworth.core import FitError, NotFoundError
from beadworth.report import Amendment, DossierData, ReadingEntry, software_versions
from beadworth.workflow.bringup import gather_bringup
from beadworth.workflow.capacity import known_records, trial_comparison, trial_fit, trial_speeds
from beadworth.workflow.fit import gather_fit
from beadworth.workflow.journal import gather_journal
from beadworth.workflow.prints import gather_replays
from beadworth.workflow.typical import gather_typical
from beadworth.workflow.wear import gather_wear
from beadworth.workflow.worth import gather_worth

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference, Fit, GroupFit, Residual
    from beadworth.rig import Rig
    from beadworth.store import Bench, StoredReading, TrialRecord

    Gather = Callable[[Bench, TrialRecord, tuple[Rig, ...], Fit | None], Any | None]

LAW_STEPS = 25
LAW_BEYOND_C = 10.0
"""How far beyond the tested temperatures the law is drawn, dashed."""
_STATES: dict[str, Literal["current", "voided", "superseded"]] = {
    "current": "current",
    "void": "voided",
    "superseded": "superseded",
}


def entries_of(bench: Bench, trial: str, fit: Fit | None) -> tuple[ReadingEntry, ...]:
    """Every reading with what became of it, and its loss where it counts."""
    order = {coupon.coupon: coupon.order for coupon in bench.coupons(trial)}
    found = _residuals(fit)
    made = []
    for stored in bench.readings(trial):
        reading = stored.reading
        waiting = found.get(_key(stored)) if stored.state == "current" else None
        residual = waiting.pop(0) if waiting else None
        made.append(
            ReadingEntry(
                reading,
                state=_STATES[stored.state],
                reason=stored.reason or "",
                at=stored.at.isoformat(timespec="seconds"),
                order=order.get(reading.coupon or ""),
                loss=residual.loss if residual else None,
                u_loss=residual.u_loss if residual else None,
            )
        )
    return tuple(made)


def _key(stored: StoredReading) -> tuple[str, str, str | None, float, float]:
    r = stored.reading
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
    bench: Bench, trial: str, loss: float | None = None, *, reserve: float = 0.1
) -> DossierData:
    """All that stands in the account of a trial, as it is now.

    Parameters
    ----------
    loss : float, optional
        At which ceilings are read; left out: the trial's own, else 2 %.
    reserve : float, 0 to 1
        Fraction kept below a ceiling in the speeds.

    Raises
    ------
    NotFoundError
        No such trial.
    FitError
        Readings that carry no curve.
    """
    record = bench.trial(trial)
    current = bench.current_readings(trial)
    fit = trial_fit(bench, trial, loss) if current else None
    rigs, materials = known_records(bench, current)
    names = rig_order(record, [reading.rig for reading in current])

    def place(item: GroupFit | Ceiling) -> int:
        return names.index(item.rig)

    sheet = trial_speeds(bench, trial, loss, reserve=reserve) if fit else None
    ordered = tuple(rigs[name] for name in names if name in rigs)
    return DossierData(
        question=record.question,
        rigs=ordered,
        material=next(iter(materials.values()), None) if len(materials) == 1 else None,
        generated_at=date.today(),
        candidate=names[1] if len(names) == 2 else None,
        spec=record.spec,
        plan=record.plan,
        coupons=tuple(bench.coupons(trial)),
        entries=entries_of(bench, trial, fit),
        groups=tuple(sorted(fit.groups, key=place)) if fit else (),
        ceilings=tuple(sorted(fit.ceilings, key=place)) if fit else (),
        law_ceilings=law_ceilings(fit) if fit else (),
        differences=_differences(bench, trial, loss, fit),
        speeds=sheet.rows if sheet else (),
        speed_settings=sheet.settings if sheet else (),
        reserve=reserve,
        amendments=tuple(
            Amendment(item.at.isoformat(timespec="seconds"), item.what, item.reason)
            for item in bench.amendments(trial)
        ),
        versions=software_versions(),
        materials=tuple(materials[name] for name in sorted(materials)),
        simulated=record.simulated,
        extras=section_data(bench, record, ordered, fit),
    )


def _differences(
    bench: Bench, trial: str, loss: float | None, fit: Fit | None
) -> tuple[Difference, ...]:
    """Candidate less baseline, where both have curves and a temperature in common."""
    if fit is None or len({group.rig for group in fit.groups}) != 2:
        return ()
    try:
        return trial_comparison(bench, trial, loss=loss).differences
    except (FitError, NotFoundError):
        return ()


def rig_order(record: TrialRecord, weighed: Sequence[str]) -> list[str]:
    """Baseline first, then the candidate, then whatever else was weighed."""
    planned = [record.spec.baseline, record.spec.candidate] if record.spec else []
    return list(dict.fromkeys(name for name in (*planned, *weighed) if name))


SECTION_SOURCES: dict[str, Gather] = {
    "typical": gather_typical,
    "worth": gather_worth,
    "wear": gather_wear,
    "journal": gather_journal,
    "fit": gather_fit,
    "bringup": gather_bringup,
    "replays": gather_replays,
}


def section_data(
    bench: Bench, record: TrialRecord, rigs: tuple[Rig, ...], fit: Fit | None
) -> dict[str, Any]:
    """The data of every feature that has something to say of this trial, by section key."""
    found = {key: gather(bench, record, rigs, fit) for key, gather in SECTION_SOURCES.items()}
    return {key: data for key, data in found.items() if data is not None}
