"""Readings: a weighing recorded and judged, one voided, a whole table imported."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.core import NotFoundError
from beadworth.trial import Reading, check_readings, decode, parse_mass, read_readings_csv
from beadworth.workflow.answers import EarlierCoupon, Weighing

if TYPE_CHECKING:
    from beadworth.capacity import CouponCheck
    from beadworth.store import Bench, StoredReading, TrialSnapshot

_log = logging.getLogger(__name__)


def record_weighing(
    bench: Bench,
    trial: str,
    coupon: str,
    mass: str | float,
    *,
    tare: str | float | None = None,
    diameter_mm: float | None = None,
    note: str | None = None,
    supersedes: int | None = None,
    reason: str = "weighed again",
    entry_key: str | None = None,
    judge: bool = True,
) -> Weighing:
    """Enter a weighing, or one that takes the place of another, and judge it.

    Parameters
    ----------
    mass, tare : str or float
        As typed (decimal point or comma), or a number; g.
    supersedes : int, optional
        Number of the reading this one takes the place of, with ``reason``.
    entry_key : str, optional
        Chosen by who sends it; sent again under the same key it is the reading it was.
    judge : bool
        False stores it alone: how it compares takes a fit.

    Returns
    -------
    Weighing
        The reading is on disk before this returns.
    """
    coupon = coupon.strip()
    mass_g, tare_g = _mass(mass), None if tare in (None, "") else _tare(tare)
    if supersedes is None:
        stored = bench.record_reading(trial, coupon, mass_g, tare_g, diameter_mm, note, entry_key)
    else:
        _find(bench.snapshot(trial), supersedes, coupon)
        stored = bench.supersede_reading(
            supersedes, mass_g, tare_g, diameter_mm, note, reason, entry_key
        )
    if not judge:
        return _answer(stored, None, "It is on the bench. How it compares was not asked.")
    try:
        return judge_reading(bench, trial, stored.reading_id)
    except Exception:
        # It is on disk: whatever stops the answer, the person must hear that it is stored.
        _log.exception("reading %s is stored, but could not be judged", stored.reading_id)
        return _answer(stored, None, "It is on the bench. How it compares could not be calculated.")


def _mass(mass: str | float) -> float:
    return parse_mass(mass) if isinstance(mass, str) else float(mass)


def _tare(tare: str | float | None) -> float:
    """A tare as typed; unlike a coupon it may weigh nothing."""
    return parse_mass(str(tare), "tare", zero=True)


def _find(snapshot: TrialSnapshot, reading_id: int, coupon: str | None = None) -> StoredReading:
    """A reading of this trial (and coupon)."""
    for stored in snapshot.readings:
        if stored.reading_id == reading_id and coupon in (None, stored.reading.coupon):
            return stored
    trial = snapshot.record.id
    of = f"coupon {coupon} of trial {trial}" if coupon else f"trial {trial}"
    raise NotFoundError(
        f"{of} has no reading {reading_id}.",
        where="reading",
        value=reading_id,
        remedy="The numbers stand in the trial's readings.",
    )


def void_reading(bench: Bench, trial: str, reading_id: int, reason: str) -> StoredReading:
    """Void a reading of this trial; see :meth:`Bench.void_reading`."""
    _find(bench.snapshot(trial), reading_id)
    return bench.void_reading(reading_id, reason)


def judge_reading(bench: Bench, trial: str, reading_id: int) -> Weighing:
    """How a reading on the bench compares; see :func:`beadworth.capacity.judge_coupon`."""
    from beadworth.capacity import judge_coupon
    from beadworth.trial import planned_scatter
    from beadworth.workflow.capacity import loss_of

    snapshot = bench.snapshot(trial)
    stored = _find(snapshot, reading_id)
    others = [
        item.reading
        for item in snapshot.readings
        if item.state == "current" and item.reading_id != reading_id
    ]
    rigs, materials = snapshot.known([stored.reading])
    check = judge_coupon(
        others,
        stored.reading,
        coupons=len(snapshot.coupons) or len(others) + 1,
        loss=loss_of(snapshot),
        rigs=rigs,
        materials=materials,
        scatter=planned_scatter(snapshot.record.plan),
    )
    return _answer(stored, check, check.sentence)


def _answer(stored: StoredReading, check: CouponCheck | None, sentence: str) -> Weighing:
    earlier = check.earlier if check else None
    return Weighing(
        reading_id=stored.reading_id,
        coupon=stored.reading.coupon or "",
        net_g=stored.reading.net_g,
        loss=check.loss if check else None,
        u_loss=check.u_loss if check else None,
        fitted_loss=check.fitted_loss if check else None,
        low=check.low if check else None,
        high=check.high if check else None,
        p_value=check.p_value if check else None,
        again=check is not None and check.verdict == "again",
        reason=check.reason if check else "",
        earlier=EarlierCoupon(earlier.coupon, earlier.reason) if earlier else None,
        sentence=sentence,
    )


def import_readings(
    bench: Bench,
    data: bytes | str | Sequence[Reading],
    source: str,
    *,
    trial: str | None = None,
    question: str | None = None,
) -> tuple[str, int]:
    """Take a table in, whole or not at all.

    Parameters
    ----------
    data : bytes, str or sequence of Reading
        A file as it is (UTF-8, or UTF-16 with its byte-order mark), its text, or readings.
    source : str
        What messages call it: the file's name.
    trial : str, optional
        Whose coupons it weighs; left out, the table becomes a trial of its own.
    question : str, optional
        Of the new trial.

    Returns
    -------
    str, int
        The trial's id and how many readings were taken.

    Raises
    ------
    NotFoundError
        No such trial.
    ReadingsError
        Every fault of the table, all at once; nothing was imported.
    ConflictError
        Somebody else changed the trial meanwhile; nothing was imported.
    """
    text = decode(data, source) if isinstance(data, bytes) else data
    snapshot = bench.snapshot(trial) if trial is not None else None
    plan = snapshot.plan if snapshot else None
    if snapshot is not None and plan is not None:
        rigs, materials = snapshot.rigs, snapshot.materials
    else:
        rigs, materials = bench.records()
    counted = snapshot.current if snapshot else ()
    taken = {reading.coupon for reading in counted if reading.coupon}
    if isinstance(text, str):
        readings = read_readings_csv(
            text, source, plan, rigs=rigs, materials=materials, taken=taken, plain_names=True
        )
    else:
        readings = check_readings(
            text, source, plan, rigs=rigs, materials=materials, taken=taken, plain_names=True
        )
    if snapshot is None:
        question = question or f"What do the readings of {source} say?"
        return bench.create_trial_from_readings(question, readings, source).id, len(readings)
    bench.add_readings(snapshot.record.id, readings, source, snapshot.record.digest)
    return snapshot.record.id, len(readings)
