"""A table of readings taken into a trial whole, or with every fault named none of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from beadworth.core import Problem, ReadingsError
from beadworth.store.models import SlotRow
from beadworth.store.readings import add, mass_problem
from beadworth.store.trials import coupons, one
from beadworth.store.values import StoredReading
from beadworth.trial import Coupon, Reading

REMEDY = "Correct the row and import again; nothing was imported."


def take(
    session: Session, trial: str, table: Sequence[Reading], source: str
) -> list[StoredReading]:
    """Take a table whole.

    In a trial with a plan a row is of the coupon it names; one that names none is of the first
    free coupon of its setting, those of its replicate and kind (reference or not) first.
    """
    spec = one(session, trial).spec
    taken = {s.coupon for s in session.scalars(select(SlotRow).where(SlotRow.trial_id == trial))}
    matching = Matching(coupons(session, trial), spec.material if spec else None, taken)
    problems = [(0, _empty(source))] if not table else []
    made = dict(enumerate(table, start=1))
    # rows that name their coupon first: one that names none must not take its place
    for number, reading in sorted(made.items(), key=lambda item: not item[1].coupon):
        match = matching.row(reading)
        wrong = [match] if isinstance(match, str) else []
        if isinstance(match, Coupon):
            made[number] = replace(
                reading,
                coupon=match.coupon,
                replicate=match.replicate,
                reference=match.reference,
            )
        where = f"{source}, reading {number}"
        problems += [(number, Problem(what, where, reading.coupon, REMEDY)) for what in wrong]
        if not reading.void and (problem := mass_problem(session, reading, where)):
            problems.append((number, problem))
    if problems:
        raise ReadingsError([problem for _, problem in sorted(problems, key=lambda p: p[0])])
    return [add(session, trial, made[number], source) for number in sorted(made)]


def _empty(source: str) -> Problem:
    return Problem("there is no reading in this table.", source, remedy="Add one row per weighing.")


class Matching:
    """Rows against the plan, each coupon given once."""

    def __init__(self, sheet: list[Coupon], material: str | None, taken: set[str]) -> None:
        self.sheet, self.material, self.taken = sheet, material, taken

    def row(self, reading: Reading) -> Coupon | str | None:
        """The planned coupon a row is of, what is wrong with it, or None where there is no plan."""
        if not self.sheet:
            return self._bare(reading)
        if reading.material != self.material:
            return f"the plan is for {self.material}, but the row says {reading.material}."
        found = self._named(reading) if reading.coupon else self._by_setting(reading)
        if isinstance(found, Coupon) and not reading.void:
            self.taken.add(found.coupon)
        return found

    def _bare(self, reading: Reading) -> str | None:
        if not reading.coupon or reading.void:
            return None
        if reading.coupon in self.taken:
            return _twice(reading.coupon)
        self.taken.add(reading.coupon)
        return None

    def _named(self, reading: Reading) -> Coupon | str:
        named = next((c for c in self.sheet if c.coupon == reading.coupon), None)
        if named is None:
            return f"coupon {reading.coupon} is not in the plan."
        if named.coupon in self.taken and not reading.void:
            return _twice(named.coupon)
        if _same(named, reading):
            return named
        return (
            f"coupon {named.coupon} is planned for {named.rig} at {named.temperature_c:g} °C "
            f"and {named.flow_mm3_s:g} mm³/s, but the row says {_setting(reading)}."
        )

    def _by_setting(self, reading: Reading) -> Coupon | str:
        fitting = [c for c in self.sheet if _same(c, reading)]
        if reading.reference:
            fitting = [c for c in fitting if c.reference]
        kind = "reference coupon" if reading.reference else "coupon"
        if not fitting:
            return f"there is no planned {kind} of {_setting(reading)}."
        free = [c for c in fitting if c.coupon not in self.taken]
        if not free and not reading.void:
            return f"every planned {kind} of {_setting(reading)} has a reading that counts already."

        def unlike(coupon: Coupon) -> tuple[bool, bool]:
            other = reading.replicate is not None and coupon.replicate != reading.replicate
            return coupon.reference != reading.reference, other

        return min(free or fitting, key=unlike)


def _twice(coupon: str) -> str:
    return f"coupon {coupon} has a reading that counts already."


def _same(coupon: Coupon, reading: Reading) -> bool:
    return (
        coupon.rig == reading.rig
        and math.isclose(coupon.temperature_c, reading.temperature_c, rel_tol=1e-6)
        and math.isclose(coupon.flow_mm3_s, reading.flow_mm3_s, rel_tol=1e-6)
    )


def _setting(reading: Reading) -> str:
    return f"{reading.rig} at {reading.temperature_c:g} °C and {reading.flow_mm3_s:g} mm³/s"
