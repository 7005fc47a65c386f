"""What a data package holds, as plain data; the writer and the reader meet here."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any, TypeVar

from beadworth.capacity import METHOD, Ceiling, Curve
from beadworth.cause import CauseRow
from beadworth.core import CONFIDENCE, LOSS, InputError, Record, from_mapping, to_mapping
from beadworth.datapackage.live import cleaned
from beadworth.material import Material
from beadworth.report import PublishedLive, ReadingEntry, ReportData
from beadworth.rig import Rig
from beadworth.text import without_private, xml_text
from beadworth.trial import (
    Amendment,
    Coupon,
    JointErrors,
    Plan,
    Reading,
    TrialSpec,
    plan_digest,
)
from beadworth.witness import GradeRow

R = TypeVar("R", bound=Record)
FORMAT = 1
DEFAULT_LICENCE = "CC-BY-4.0"
LICENCES = {
    "CC-BY-4.0": (
        "Creative Commons Attribution 4.0 International",
        "https://creativecommons.org/licenses/by/4.0/",
    ),
    "CC-BY-SA-4.0": (
        "Creative Commons Attribution Share Alike 4.0 International",
        "https://creativecommons.org/licenses/by-sa/4.0/",
    ),
    "CC0-1.0": (
        "Creative Commons Zero v1.0 Universal",
        "https://creativecommons.org/publicdomain/zero/1.0/",
    ),
    "ODC-By-1.0": (
        "Open Data Commons Attribution License v1.0",
        "https://opendatacommons.org/licenses/by/1-0/",
    ),
    "ODbL-1.0": (
        "Open Data Commons Open Database License v1.0",
        "https://opendatacommons.org/licenses/odbl/1-0/",
    ),
    "PDDL-1.0": (
        "Open Data Commons Public Domain Dedication & License 1.0",
        "https://opendatacommons.org/licenses/pddl/1-0/",
    ),
}
"""Licences for data, by SPDX identifier: full name and address."""


@dataclass(frozen=True)
class PublicationOptions:
    """What the user chose to show, in page, PDF and data alike."""

    licence: str = DEFAULT_LICENCE
    """SPDX identifier, one of :data:`LICENCES`."""
    creator: str = ""
    """Whom to cite; empty: nobody is named."""
    notes: bool = True
    """Remarks typed with readings, and why one no longer counts; those of a rig never go."""
    prices: bool = True
    wear: bool = False
    """The rigs' wear logs; they go beyond the trial, so they are shown where asked for."""
    replays: bool = False
    """What replays said of the bench's prints; likewise."""


@dataclass(frozen=True)
class Contents:
    """Everything in a package but the words of its README."""

    question: str
    created: date
    licence: str
    creator: str
    simulated: bool
    """True where readings, a rig or a material are simulated."""
    simulated_readings: bool
    rigs: tuple[Rig, ...]
    """The baseline first."""
    materials: tuple[Material, ...]
    candidate: str | None
    entries: tuple[ReadingEntry, ...]
    """Every weighing; times, losses and ``void`` are not kept: state says whether it counts."""
    ceilings: tuple[Ceiling, ...]
    curves: tuple[Curve, ...]
    spec: TrialSpec | None = None
    plan: Plan | None = None
    added: tuple[Coupon, ...] = ()
    """Coupons that amendments added."""
    amendments: tuple[Amendment, ...] = ()
    disclosure: str = ""
    versions: tuple[tuple[str, str], ...] = ()
    method: str = METHOD
    """How ceilings and curves were read."""
    grades: tuple[GradeRow, ...] = ()
    """Blind grades of the rigs' witness prints, in order of print, grader and band."""
    causes: tuple[CauseRow, ...] = ()
    """What walls of the rigs showed, in order of reading and place."""
    live: tuple[PublishedLive, ...] = ()
    """Live weighings, those that do not count too; without the ceilings of each by itself."""

    @property
    def current(self) -> tuple[Reading, ...]:
        """The readings that count."""
        return tuple(e.reading for e in self.entries if e.state == "current")

    @property
    def fitted(self) -> tuple[Reading, ...]:
        """What the ceilings are read from: coupons that count, else live weighings that do."""
        return self.current or tuple(r for one in self.live if one.counts for r in one.readings)

    @property
    def joint(self) -> tuple[JointErrors, ...]:
        """Errors of those readings that belong together."""
        return () if self.current else tuple(one.joint for one in self.live if one.counts)

    @property
    def loss(self) -> float:
        """Loss at which the ceilings are read."""
        return next((c.loss for c in self.ceilings), self.spec.loss if self.spec else LOSS)

    @property
    def confidence(self) -> float:
        """Coverage of the ceilings' intervals."""
        return next((c.confidence for c in self.ceilings), CONFIDENCE)


def contents_of(data: ReportData, options: PublicationOptions | None = None) -> Contents:
    """What of a trial goes into its package.

    Folders, addresses and control characters are taken out of every text; times of entry are
    not taken over.

    Raises
    ------
    InputError
        A licence that is none of :data:`LICENCES`.
    """
    options = options or PublicationOptions()
    check_licence(options.licence)
    plan = _clean_plan(data.plan)
    planned = {c.coupon for c in data.plan.coupons} if data.plan else set()
    materials = data.materials or ((data.material,) if data.material else ())
    return Contents(
        question=clean(data.question),
        created=data.generated_at,
        licence=options.licence,
        creator=clean(options.creator.strip()),
        simulated=data.any_simulated or any(m.simulated for m in materials),
        simulated_readings=data.simulated,
        rigs=tuple(public_record(rig, options) for rig in data.rigs),
        materials=tuple(public_record(m, options) for m in sorted(materials, key=lambda m: m.name)),
        candidate=data.candidate and clean(data.candidate),
        entries=tuple(_entry(entry, options) for entry in data.entries if not entry.live),
        ceilings=_ordered([*data.ceilings, *data.law_ceilings]),
        curves=_ordered([c for g in data.groups for c in g.curves]),
        added=tuple(_coupon(c) for c in data.coupons if c.coupon not in planned),
        amendments=tuple(
            Amendment(midnight(a.day), clean(a.what), clean(a.reason), number)
            for number, a in enumerate(data.amendments, start=1)
        ),
        disclosure=clean(data.disclosure),
        versions=tuple(sorted(data.versions.items())),
        method=next((g.method for g in data.groups if g.method != METHOD), METHOD),
        spec=plan.spec if plan else _clean_spec(data.spec),
        plan=plan,
        grades=tuple(
            replace(row, **{name: clean(getattr(row, name)) for name in ("rig", "material")})
            for one in data.section_data.get("witness", ())
            for row in one.rows
        ),
        causes=tuple(
            replace(row, **{name: clean(getattr(row, name)) for name in ("rig", "cause")})
            for one in data.section_data.get("cause", ())
            for row in one.rows
        ),
        live=tuple(cleaned(one, clean, options.notes) for one in data.section_data.get("live", ())),
    )


def midnight(day: str) -> datetime | None:
    """The start of a day written YYYY-MM-DD, UTC; None where it is empty."""
    return datetime.fromisoformat(day).replace(tzinfo=UTC) if day else None


def check_licence(licence: str) -> None:
    """Refuse a licence nobody here knows.

    Raises
    ------
    InputError
        One that is none of :data:`LICENCES`.
    """
    if licence not in LICENCES:
        raise InputError(
            f"no licence {licence!r} is known here.",
            "licence",
            licence,
            f"Give the SPDX identifier of one for data: {', '.join(LICENCES)}.",
        )


def clean(text: str) -> str:
    """A text without folders, addresses and characters no file format can hold."""
    told: str = xml_text(without_private(text))
    return re.sub(r"[\x00-\x08\x0b-\x1f\x7f\x85\u2028\u2029]", " ", told)


def _clean_all(value: Any) -> Any:
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, dict):
        return {key: _clean_all(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_clean_all(inner) for inner in value]
    return value


def _without(data: Any, names: set[str]) -> Any:
    if isinstance(data, dict):
        return {k: _without(v, names) for k, v in data.items() if k not in names}
    return [_without(v, names) for v in data] if isinstance(data, list) else data


def without_prices(record: R) -> R:
    """The record without prices, of its parts too."""
    data = _without(to_mapping(record), {"price", "currency"})
    if known := data.get("known"):
        data["known"] = {k: v for k, v in known.items() if not k.endswith("price")}
    return from_mapping(type(record), data, "record")


def public_record(record: R, options: PublicationOptions) -> R:
    """The record without its owner's notes, as in the dossier, and without what is not shown."""
    shown = record if options.prices else without_prices(record)
    data = _clean_all(_without(to_mapping(shown), {"note"}))
    return from_mapping(type(record), data, "record")


def _entry(entry: ReadingEntry, options: PublicationOptions) -> ReadingEntry:
    r = entry.reading
    state = "voided" if r.void and entry.state == "current" else entry.state
    reading = replace(
        r,
        rig=clean(r.rig),
        material=clean(r.material),
        coupon=clean(r.coupon) if r.coupon else None,
        note=(clean(r.note) or None) if r.note and options.notes else None,
        void=False,
    )
    reason = clean(entry.reason) if options.notes else ""
    return ReadingEntry(reading, state=state, reason=reason)


def _coupon(coupon: Coupon) -> Coupon:
    return replace(coupon, coupon=clean(coupon.coupon), rig=clean(coupon.rig))


def _clean_spec(spec: TrialSpec | None) -> TrialSpec | None:
    return spec and from_mapping(TrialSpec, _clean_all(to_mapping(spec)), "spec")


def _clean_plan(plan: Plan | None) -> Plan | None:
    if plan is None:
        return None
    spec = _clean_spec(plan.spec)
    assert spec is not None
    coupons = tuple(_coupon(coupon) for coupon in plan.coupons)
    digest = plan.digest
    if (spec, coupons) != (plan.spec, plan.coupons):
        digest = plan_digest(spec, coupons)
    notes = tuple(clean(note) for note in plan.notes)
    return replace(plan, spec=spec, coupons=coupons, notes=notes, digest=digest)


T = TypeVar("T", Ceiling, Curve)


def _ordered(rows: list[T]) -> tuple[T, ...]:
    """Sorted, each (rig, material, temperature) once: the one read from readings first."""
    once: dict[tuple[str, str, float], T] = {}
    for row in rows:
        once.setdefault((row.rig, row.material, float(row.temperature_c)), row)
    return tuple(
        replace(once[k], rig=clean(once[k].rig), material=clean(once[k].material))
        for k in sorted(once)
    )
