"""A trial's ceilings beside those of every other trial here, one's own and imported."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from beadworth.capacity import ceiling_at
from beadworth.core import FitError
from beadworth.rig import Rig
from beadworth.typical import HotEndClass, TrialCeiling, Typical, class_of, polymer_of, typical
from beadworth.workflow.capacity import fit_readings, trial_fit
from beadworth.workflow.packages import PACKAGE_KIND, ImportedPackage, packages_of
from beadworth.workflow.sections import SectionInputs

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.material import Material
    from beadworth.store import Bench, TrialSnapshot
    from beadworth.trial import Reading


Wanted = set[tuple[HotEndClass, str]]
MOST_POOLED = 40
"""Trials of one's own that are looked at, the newest: each is fitted."""


def gather_typical(inputs: SectionInputs) -> Typical | None:
    """What is typical for the classes of hot end a trial tested; None where it has no ceiling.

    Only trials with a rig of the same class and a material of the same polymer are fitted.
    """
    fit, snapshot, bench = inputs.fit, inputs.snapshot, inputs.bench
    if fit is None or not fit.ceilings:
        return None
    record = snapshot.record
    known = {rig.name: rig for rig in inputs.rigs}
    own = [
        _ceiling(c, trial_key(snapshot.fitted), record.question, known, record.simulated, "this")
        for c in fit.ceilings
    ]
    wanted = {(c.hot_end, c.polymer) for c in own if c.hot_end is not None}
    temperatures = tuple(sorted({c.temperature_c for c in own}))
    candidates = _candidates(bench, record.id, wanted)
    looked_at = bench.snapshots(candidates[:MOST_POOLED])
    others = _own(looked_at, wanted, temperatures, fit.loss)
    packages = packages_of(inputs.notes(PACKAGE_KIND))
    others += _imported(packages, wanted, temperatures, fit.loss)
    found = typical(own, others)
    if len(candidates) > MOST_POOLED:
        left = f"Of {len(candidates)} other trials of this polymer here, the newest {MOST_POOLED} "
        found = replace(found, notes=(*found.notes, f"{left}were looked at."))
    return found


def _candidates(bench: Bench, trial: str, wanted: Wanted) -> list[str]:
    """Other trials that weighed a wanted polymer, newest first."""
    polymers = {polymer for _, polymer in wanted}
    return [
        other.id
        for other in bench.outlines()
        if other.id != trial
        and any(polymer_of(group.material) in polymers for group in other.groups if group.readings)
    ]


def trial_typical(bench: Bench, trial: str | TrialSnapshot, loss: float | None = None) -> Typical:
    """What is typical for the classes of hot end a trial tested.

    Raises
    ------
    NotFoundError
        No such trial.
    FitError
        Readings that carry no curve.
    """
    with bench.reading():
        snapshot = bench.snapshot(trial) if isinstance(trial, str) else trial
        fit = trial_fit(snapshot, loss)
        rigs, _ = snapshot.known(snapshot.fitted)
        inputs = SectionInputs(bench, snapshot, tuple(rigs.values()), fit, ("typical",))
        return gather_typical(inputs) or typical((), ())


def trial_key(readings: Sequence[Reading]) -> str:
    """What a trial weighed, as a short digest: the same trial exported and imported is one."""
    rows = sorted((r.temperature_c, r.flow_mm3_s, r.filament_mm, r.net_g) for r in readings)
    return hashlib.sha256(repr(rows).encode()).hexdigest()[:16]


def _own(
    snapshots: Sequence[TrialSnapshot],
    wanted: Wanted,
    temperatures: tuple[float, ...],
    loss: float,
) -> list[TrialCeiling]:
    made: list[TrialCeiling] = []
    for other in snapshots:
        readings, record = other.current, other.record
        rigs, materials = other.known(readings)
        if _fits(readings, rigs, wanted):
            simulated = record.simulated or any(rig.simulated for rig in rigs.values())
            for ceiling in _read(readings, loss, rigs, materials, temperatures):
                made.append(
                    _ceiling(ceiling, trial_key(readings), record.question, rigs, simulated, "own")
                )
    return made


def _imported(
    packages: Sequence[ImportedPackage],
    wanted: Wanted,
    temperatures: tuple[float, ...],
    loss: float,
) -> list[TrialCeiling]:
    made: list[TrialCeiling] = []
    for package in packages:
        contents = package.contents
        rigs = {rig.name: rig for rig in contents.rigs}
        materials = {m.name: m for m in contents.materials}
        if _fits(contents.current, rigs, wanted):
            label = f"{contents.question} (package {package.name})"
            by = contents.creator or "nobody named"
            credit = f"{contents.question} ({by}, {contents.licence}, package {package.name})"
            for ceiling in _read(contents.current, loss, rigs, materials, temperatures):
                one = _ceiling(ceiling, trial_key(contents.current), label, rigs,
                               contents.simulated, "package")  # fmt: skip
                made.append(replace(one, credit=credit))
    return made


def _fits(readings: Sequence[Reading], rigs: Mapping[str, Rig], wanted: Wanted) -> bool:
    """Whether a trial weighed a wanted class with a wanted polymer, before it is fitted."""
    pairs = {(r.rig, r.material) for r in readings}
    return any(
        (class_of(rigs[rig]), polymer_of(material)) in wanted
        for rig, material in pairs
        if rig in rigs
    )


def _read(
    readings: Sequence[Reading],
    loss: float,
    rigs: Mapping[str, Rig],
    materials: Mapping[str, Material],
    temperatures: tuple[float, ...],
) -> tuple[Ceiling, ...]:
    texts = tuple(rigs[n].model_dump_json() for n in sorted(rigs))
    others = tuple(materials[n].model_dump_json() for n in sorted(materials))
    return _read_cached(tuple(readings), loss, texts, others, temperatures)


@lru_cache(maxsize=512)
def _read_cached(
    readings: tuple[Reading, ...],
    loss: float,
    rigs: tuple[str, ...],
    materials: tuple[str, ...],
    temperatures: tuple[float, ...],
) -> tuple[Ceiling, ...]:
    """Ceilings at the temperatures asked, never beyond those a trial weighed at."""
    from beadworth.material import Material

    made = [Rig.model_validate_json(text) for text in rigs]
    kinds = [Material.model_validate_json(text) for text in materials]
    try:
        fit = fit_readings(readings, loss, {r.name: r for r in made}, {m.name: m for m in kinds})
    except FitError:
        return ()
    found = [ceiling_at(fit, g.rig, g.material, t) for g in fit.groups for t in temperatures]
    return tuple(c for c in found if not c.extrapolated)


def _ceiling(
    c: Ceiling,
    trial: str,
    label: str,
    rigs: Mapping[str, Rig],
    simulated: bool,
    source: Literal["this", "own", "package"],
) -> TrialCeiling:
    rig = rigs.get(c.rig)
    return TrialCeiling(
        trial=trial,
        label=label,
        rig=c.rig,
        material=c.material,
        hot_end=class_of(rig) if rig else None,
        temperature_c=c.temperature_c,
        flow_mm3_s=c.flow_mm3_s,
        low=c.low,
        high=c.high,
        confidence=c.confidence,
        simulated=simulated or bool(rig and rig.simulated),
        source=source,
    )
