"""Live weighings in a data package: one JSON document and five tables, written and read back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Annotated, Any, Literal

import numpy as np
from pydantic import Field

from beadworth.core import FILAMENT_MM, BeadworthError, Problem, Record, from_json, to_mapping
from beadworth.datapackage.cells import Row
from beadworth.datapackage.documents import REMEDY, Day, Tell, read_record
from beadworth.datapackage.schema import TableSpec
from beadworth.datapackage.schema_live import CHECKS, COVARIANCE, DELIVERED, STEPS, TRACE
from beadworth.ramp import Check, RampSpec, Section, Step, Trace, analyse_trace, failed_checks
from beadworth.report import PublishedLive
from beadworth.trial import JointErrors, Reading

if TYPE_CHECKING:
    from beadworth.datapackage.contents import Contents

DELIVERED_TOLERANCE = 0.02
"""Relative, of what a bin delivered: a later release may read a trace a little otherwise."""
Positive = Annotated[float, Field(ge=0)]


class LiveDocument(Record):
    """One live weighing in ``live.json``; its tables name it by ``number``."""

    number: Annotated[int, Field(ge=1)] = Field(description="which it is")
    on: Day = Field(description="day it was begun")
    state: Literal["current", "voided"] = Field(description="whether it counts")
    reason: str = Field(description="why it no longer counts")
    rig: str = Field(description="name of the rig, as in rigs.json")
    material: str = Field(description="name of the material, as in materials.json")
    ramp: RampSpec = Field(description="the ramp that was asked for")
    hang_mg: Positive = Field(description="what hangs from the nozzle and sways, mg")
    hang_s: Positive = Field(description="time over which it stays alike, s")
    wander: Positive = Field(description="relative scatter of the filament along the spool")
    grams: float = Field(description="delivered in the steps, g")
    minutes: Positive = Field(description="from the first step to the last, min")
    worth: Positive = Field(description="readings that the size of the covariance is known from")
    standing: str = Field(description="used; kept but not used, and why; voided, and why")
    note: str = Field(description="what the person saw")


def live_documents(lives: Sequence[PublishedLive]) -> list[dict[str, Any]]:
    """The plain data of ``live.json``."""
    names = [name for name in LiveDocument.model_fields if name not in ("ramp", "worth")]
    return [
        to_mapping(
            LiveDocument(
                ramp=one.spec, worth=one.joint.worth, **{n: getattr(one, n) for n in names}
            )
        )
        for one in lives
    ]


def live_tables(lives: Sequence[PublishedLive]) -> list[tuple[TableSpec, list[Row]]]:
    """The tables of live weighings with their rows."""
    return [
        (TRACE, [row for one in lives for row in _trace_rows(one)]),
        (STEPS, [row for one in lives for row in _step_rows(one)]),
        (DELIVERED, [_delivered_row(one.number, r) for one in lives for r in one.readings]),
        (COVARIANCE, [
            {"weighing": one.number, "first": a, "second": b, "covariance": value}
            for one in lives
            for i, a in enumerate(one.joint.coupons)
            for b, value in zip(one.joint.coupons[i:], one.joint.covariance[i][i:], strict=True)
        ]),
        (CHECKS, [
            {"weighing": one.number, "check": c.name, "verdict": c.verdict, "found": c.found,
             "remedy": c.remedy or None}
            for one in lives
            for c in one.checks
        ]),
    ]  # fmt: skip


def _delivered_row(number: int, reading: Reading) -> Row:
    names = ("coupon", "temperature_c", "flow_mm3_s", "filament_mm", "mass_g")
    return {"weighing": number, **{name: getattr(reading, name) for name in names}}


def _trace_rows(one: PublishedLive) -> Iterable[Row]:
    trace = one.trace
    stable = [None] * trace.time_s.size if trace.stable is None else trace.stable.tolist()
    rows = zip(trace.time_s.tolist(), trace.mass_g.tolist(), stable, strict=True)
    for n, (t, m, s) in enumerate(rows, 1):
        yield {"weighing": one.number, "row": n, "time_s": t, "mass_g": m, "stable": s}


def _step_rows(one: PublishedLive) -> Iterable[Row]:
    n = 0
    for section in one.sections:
        for step in section.steps:
            n += 1
            yield {"weighing": one.number, "step": n, "temperature_c": section.temperature_c,
                   **asdict(step)}  # fmt: skip


def read_lives(
    data: Any, tables: Mapping[str, Sequence[Row]], tell: Tell
) -> tuple[PublishedLive, ...]:
    """The live weighings of a package; what does not belong together is told."""
    if not isinstance(data, list) or len(data) > 50:
        tell(Problem("this is not a list of at most 50 live weighings.", "live.json", None, REMEDY))
        return ()
    documents: list[LiveDocument] = []
    for number, item in enumerate(data, 1):
        made = read_record(LiveDocument, item, f"live.json, weighing {number}", tell)
        if made is not None:
            documents.append(made)
    rows: dict[str, dict[int, list[Row]]] = {}
    known = {one.number for one in documents}
    for spec in (TRACE, STEPS, DELIVERED, COVARIANCE, CHECKS):
        rows[spec.name] = defaultdict(list)
        for row in tables.get(spec.name, ()):
            rows[spec.name][row["weighing"]].append(row)
        for number in sorted(set(rows[spec.name]) - known):
            tell(Problem(f"weighing {number} is not in live.json.", spec.path, number, REMEDY))
    if len(known) < len(documents):
        tell(Problem("a weighing stands twice.", "live.json", None, REMEDY))
    found = []
    for one in documents:
        try:
            found.append(_live(one, {name: every[one.number] for name, every in rows.items()}))
        except (KeyError, ValueError, TypeError, IndexError):
            tell(Problem(f"the tables of weighing {one.number} do not belong together.",
                         "live.json", one.number, REMEDY))  # fmt: skip
    return tuple(found)


def _live(one: LiveDocument, rows: Mapping[str, Sequence[Row]]) -> PublishedLive:
    trace = rows["trace"]
    stable = [row["stable"] for row in trace]
    readings = tuple(
        Reading(one.rig, one.material, **{k: v for k, v in row.items() if k != "weighing"})
        for row in rows["delivered"]
    )  # fmt: skip
    names = tuple(reading.coupon or "" for reading in readings)
    place = {name: i for i, name in enumerate(names)}
    if len(place) < len(names) or not trace:
        raise ValueError
    covariance = np.full((len(names), len(names)), np.nan)
    for row in rows["covariance"]:
        i, j = place[row["first"]], place[row["second"]]
        covariance[i, j] = covariance[j, i] = row["covariance"]
    if not np.isfinite(covariance).all():
        raise ValueError
    sections: dict[float, list[Step]] = {}
    for row in rows["steps"]:
        steps = sections.setdefault(row["temperature_c"], [])
        plain = {k: v for k, v in row.items() if k not in ("weighing", "step", "temperature_c")}
        steps.append(from_json(Step, plain, "steps.csv"))
    return PublishedLive(
        one.number, one.on, one.state, one.reason, one.ramp,
        tuple(Section(t, tuple(steps)) for t, steps in sections.items()),
        one.rig, one.material,
        Trace(
            np.array([row["time_s"] for row in trace]),
            np.array([row["mass_g"] for row in trace]),
            None if any(s is None for s in stable) else np.array(stable, dtype=bool),
        ),
        readings,
        JointErrors(names, tuple(tuple(r) for r in covariance.tolist()), one.worth),
        tuple(Check(r["check"], r["verdict"], r["found"], r["remedy"] or "")
              for r in rows["checks"]),
        one.hang_mg, one.hang_s, one.wander, one.grams, one.minutes, one.standing, (), one.note,
    )  # fmt: skip


def live_problems(contents: Contents) -> list[Problem]:
    """What the traces of a package do not say, though it claims so: each is read again."""
    problems = []
    rigs = {rig.name: rig for rig in contents.rigs}
    for one in contents.live:
        where = f"live.json, weighing {one.number}"
        rig = rigs.get(one.rig)
        diameter = rig.filament_diameter_mm if rig else FILAMENT_MM
        try:
            found = analyse_trace(
                one.trace, one.spec, sections=one.sections, filament_diameter_mm=diameter
            )
        except BeadworthError as error:
            problems += [replace(p, where=where, remedy=REMEDY) for p in error.problems]
            continue
        said, is_ = _delivered(one.readings), _delivered(found.readings)
        if said.keys() != is_.keys() or any(
            abs(said[k] / is_[k] - 1) > DELIVERED_TOLERANCE for k in said
        ):
            problems.append(Problem("what it delivered is not what its trace gives.", where,
                                    one.number, REMEDY))  # fmt: skip
        hidden = set(failed_checks(found.checks)) - set(failed_checks(one.checks))
        if one.counts and hidden:
            problems.append(Problem(f"its trace fails a check that is not told: {min(hidden)}.",
                                    where, one.number, REMEDY))  # fmt: skip
    return problems


def _delivered(readings: Iterable[Reading]) -> dict[tuple[float, float], float]:
    return {(r.temperature_c, r.flow_mm3_s): r.mass_g / r.filament_mm for r in readings}


def cleaned(one: PublishedLive, clean: Callable[[str], str], notes: bool) -> PublishedLive:
    """A live weighing with the names and words that may be published."""
    rig, material = clean(one.rig), clean(one.material)
    return replace(
        one,
        rig=rig,
        material=material,
        spec=one.spec.model_copy(update={"rig": rig, "material": material}),
        readings=tuple(replace(r, rig=rig, material=material) for r in one.readings),
        note=clean(one.note) if notes else "",
        reason=clean(one.reason) if notes else "",
        standing=clean(one.standing) if notes or one.state == "current" else one.state,
        ceilings=(),
    )
