"""What a row of a readings table must fit: the mass fed, the plan, and the rows around it."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

from beadworth.core import Place, Problem, ReadingsError
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import name_problem
from beadworth.trial.readings.entry import NOTHING_TAKEN, check_reading
from beadworth.trial.record import Coupon, Plan, Reading

MORE_THAN_SLOWER = 1.5
"""A coupon this many times as heavy, per mm fed, as every coupon of its rig, material and
temperature that was made no faster cannot be: no hot end delivers more at a higher flow."""
SHORTEST_MM = 10.0
"""Less filament makes no coupon: a table of it has another unit there (assumption, no source)."""


class Checks:
    """One table being read: its readings and problems so far."""

    def __init__(
        self,
        source: str,
        plan: Plan | None,
        rigs: Mapping[str, Rig],
        materials: Mapping[str, Material],
        taken: Collection[str] = (),
        plain_names: bool = False,
    ) -> None:
        """``taken``: coupons that have a reading that counts already."""
        self.plain_names = plain_names and plan is None  # with a plan they must be the plan's
        self.source, self.plan, self.rigs, self.materials = source, plan, rigs, materials
        self.taken = set(taken)
        self.problems: list[Problem] = []
        self.readings: dict[int, Reading] = {}
        """By row."""
        self.rows_of: dict[str, int] = {}
        """Row of the reading that counts, by coupon."""
        self.coupons = {c.coupon: c for c in plan.coupons} if plan else {}
        self.planned: dict[str, set[Any]] = {}
        """Every value a row may have, by column."""
        self.weighed = 0
        """Rows with a mass that is to count."""
        self.thousandfold: list[tuple[int, Reading]] = []
        """Those of them that are too heavy in grams and not in milligrams, with their rows."""
        if plan is not None:
            self.planned = {"material": {plan.spec.material}}
            for name in ("rig", "temperature_c", "flow_mm3_s"):
                self.planned[name] = {getattr(coupon, name) for coupon in plan.coupons}

    def add(self, what: str, row: int, column: str, value: Any, remedy: str) -> None:
        """Keep a problem of a cell, or of a row where ``column`` is empty."""
        then = f"{remedy} Then import again; {NOTHING_TAKEN}".strip()
        self.problems.append(Problem(what, Place(self.source, row=row, column=column), value, then))

    def take(self, number: int, reading: Reading) -> None:
        """Keep the reading of a row, or tell what is wrong with it as a whole.

        A void reading does not count, so whatever mass it holds may stand.
        """
        before = len(self.problems)
        if self.plain_names:
            self._names(number, reading)
        if not reading.void:
            self._mass(number, reading)
            self._twice(number, reading)
        planned = self.coupons.get(reading.coupon or "")
        if self.plan is not None:
            self._against_plan(number, reading, planned)
        if len(self.problems) == before:
            self.readings[number] = reading if planned is None else _of_coupon(reading, planned)

    def _names(self, number: int, reading: Reading) -> None:
        """New names are held to what typed ones are; those on the bench may be older."""
        known = (*self.rigs, *self.materials)
        for column in ("rig", "material", "coupon"):
            name = getattr(reading, column)
            problem = name_problem(name) if name and name not in known else None
            if problem:
                self.add(f"{problem}.", number, column, name, "Give it a plain name.")

    def _mass(self, number: int, reading: Reading) -> None:
        rig, material = self.rigs.get(reading.rig), self.materials.get(reading.material)
        problem = check_reading(reading, rig, material, self.source, number)
        self.weighed += 1
        if problem and problem.path:
            if self._may_be_in_milligrams(reading):
                self.thousandfold.append((number, reading))
            remedy = problem.remedy
            if reading.mass_g <= 0:
                remedy = remedy.replace("zero.", "zero, or mark the row with void 1.")
            self.add(problem.what, number, problem.path.column, problem.value, remedy)

    def _may_be_in_milligrams(self, reading: Reading) -> bool:
        """Whether a thousandth of a mass can be right, and a twentieth is too much still."""

        def can_be(parts: int) -> bool:
            tare = None if reading.tare_g is None else reading.tare_g / parts
            smaller = replace(reading, mass_g=reading.mass_g / parts, tare_g=tare)
            records = self.rigs.get(reading.rig), self.materials.get(reading.material)
            return check_reading(smaller, *records, self.source) is None

        return reading.filament_mm >= SHORTEST_MM and can_be(1000) and not can_be(20)

    def _twice(self, number: int, reading: Reading) -> None:
        if not reading.coupon:
            return
        if reading.coupon in self.rows_of:
            self.add(
                f"coupon {reading.coupon} stands in row {self.rows_of[reading.coupon]} too.",
                number,
                "coupon",
                reading.coupon,
                "Correct the name, or mark the reading that does not count with void 1.",
            )
            return
        self.rows_of[reading.coupon] = number
        if reading.coupon in self.taken:
            self.add(
                f"coupon {reading.coupon} has a reading that counts already.",
                number,
                "coupon",
                reading.coupon,
                "Take the row out, or void that reading first.",
            )

    def _against_plan(self, number: int, reading: Reading, planned: Coupon | None) -> None:
        """Coupon and setting must be the plan's."""
        if planned is not None:
            for name in ("rig", "temperature_c", "flow_mm3_s"):
                seen, meant = getattr(reading, name), getattr(planned, name)
                if not _same(seen, meant):
                    self.add(
                        f"coupon {planned.coupon} is planned at {_say(meant)}, not {_say(seen)}.",
                        number,
                        name,
                        seen,
                        "Correct the value, or the coupon's name.",
                    )
        elif reading.coupon:
            self.add(f"coupon {reading.coupon} is not in the plan.", number, "coupon",
                     reading.coupon, "Check the name against the run sheet.")  # fmt: skip
        for name, values in self.planned.items():
            seen = getattr(reading, name)
            told = planned is not None and name != "material"
            if not told and not any(_same(seen, value) for value in values):
                self.add(
                    f"{_say(seen)} is not in the plan (there: "
                    f"{', '.join(_say(value) for value in sorted(values))}).",
                    number,
                    name,
                    seen,
                    "Correct it, or add such coupons to the plan first.",
                )

    def whole_table(self) -> list[Reading]:
        """What only the whole table shows, once every row is known; the readings in its order.

        In a trial with a plan a row that names no coupon is of the first free one of its setting,
        those of its replicate and kind (reference or not) first.

        Raises
        ------
        ReadingsError
            Everything that was found wrong, in the order of the rows.
        """
        # rows that name their coupon first: one that names none must not take its place
        free = set(self.coupons) - self.taken - set(self.rows_of)
        for number, reading in self.readings.items():
            if self.plan is not None and not reading.coupon:
                self._by_setting(number, reading, free)
        if not self.problems:
            self._against_slower()
        if 1 < len(self.thousandfold) == self.weighed:
            self._in_milligrams()
        if self.problems:
            in_order = sorted(self.problems, key=lambda p: (p.path and p.path.row) or 0)
            raise ReadingsError(in_order)
        return list(self.readings.values())

    def _by_setting(self, number: int, reading: Reading, free: set[str]) -> None:
        """Give a row that names no coupon one of its setting."""
        kind = "reference coupon" if reading.reference else "coupon"
        setting = f"{reading.rig} at {reading.temperature_c:g} °C and {reading.flow_mm3_s:g} mm³/s"
        fitting = [
            coupon
            for coupon in self.coupons.values()
            if _same_setting(coupon, reading) and (coupon.reference or not reading.reference)
        ]
        if not fitting:
            self.add(f"there is no planned {kind} of {setting}.", number, "", None,
                     "Correct the row.")  # fmt: skip
            return
        left = [coupon for coupon in fitting if coupon.coupon in free]
        if not left and not reading.void:
            self.add(
                f"every planned {kind} of {setting} has a reading that counts already.", number,
                "", None, "Take the row out, or name the coupon it is of.",
            )  # fmt: skip
            return

        def unlike(coupon: Coupon) -> tuple[bool, bool]:
            other = reading.replicate is not None and coupon.replicate != reading.replicate
            return coupon.reference != reading.reference, other

        found = min(left or fitting, key=unlike)
        self.readings[number] = _of_coupon(reading, found)
        if not reading.void:
            free.discard(found.coupon)

    def _in_milligrams(self) -> None:
        """A table in another unit is told once, not once a row."""
        rows = {number for number, _ in self.thousandfold}
        self.problems = [
            one for one in self.problems
            if one.path is None or one.path.row not in rows or one.path.column != "mass_g"
        ]  # fmt: skip
        number, first = self.thousandfold[0]
        tared = any(reading.tare_g for _, reading in self.thousandfold)
        self.add(
            f"the masses of all {len(rows)} rows seem to be in milligrams: {first.mass_g:g} g in "
            f"row {number} would be {first.mass_g / 1000:g} g.",
            number,
            "mass_g",
            first.mass_g,
            f"Give grams: divide {'mass_g and tare_g' if tared else 'the column'} by 1000.",
        )

    def _against_slower(self) -> None:
        """Masses against those of slower coupons."""
        blocks: dict[tuple[str, str, float], list[tuple[int, Reading]]] = {}
        for number, reading in self.readings.items():
            if not reading.void:
                key = (reading.rig, reading.material, reading.temperature_c)
                blocks.setdefault(key, []).append((number, reading))
        for block in blocks.values():
            block.sort(key=lambda item: item[1].flow_mm3_s)
            made: list[float] = []
            for _, group in groupby(block, key=lambda item: item[1].flow_mm3_s):
                alike = list(group)
                seen = made + [r.net_g / r.filament_mm for _, r in alike]
                made = sorted(seen)[-3:]
                for number, reading in alike:
                    self._heavier_than_slower(number, reading, made)

    def _heavier_than_slower(self, number: int, reading: Reading, heaviest: list[float]) -> None:
        """``heaviest``: the three heaviest per mm made no faster, this one among them or not."""
        own = reading.net_g / reading.filament_mm
        if len(heaviest) < 3 or own <= MORE_THAN_SLOWER * heaviest[-2]:
            return
        self.add(
            f"{reading.net_g:g} g from {reading.filament_mm:g} mm is {own / heaviest[-2]:.2g} "
            "times what any coupon of the same rig, material and temperature made no faster "
            "weighs per mm fed.",
            number,
            "mass_g",
            reading.mass_g,
            "Check mass, tare and filament_mm of this row, or mark with void 1 the slower coupons "
            "that failed.",
        )


def check_readings(
    readings: Sequence[Reading],
    source: str,
    plan: Plan | None = None,
    *,
    rigs: Mapping[str, Rig] | None = None,
    materials: Mapping[str, Material] | None = None,
    taken: Collection[str] = (),
    plain_names: bool = False,
) -> list[Reading]:
    """Readings held against a plan as the rows of a table are; rows are numbered from 1.

    Parameters are those of :func:`~beadworth.trial.read_readings_csv`.

    Raises
    ------
    ReadingsError
        Everything that is wrong with them, or none is given.
    """
    checks = Checks(source, plan, rigs or {}, materials or {}, taken, plain_names)
    if not readings:
        checks.add("there is no reading in this table.", 1, "", None, "Add one row per weighing.")
    for number, reading in enumerate(readings, start=1):
        checks.take(number, reading)
    return checks.whole_table()


def _of_coupon(reading: Reading, coupon: Coupon) -> Reading:
    """What a coupon is stands in the plan."""
    return replace(
        reading, coupon=coupon.coupon, reference=coupon.reference, replicate=coupon.replicate
    )


def _same_setting(coupon: Coupon, reading: Reading) -> bool:
    return (
        coupon.rig == reading.rig
        and _same(coupon.temperature_c, reading.temperature_c)
        and _same(coupon.flow_mm3_s, reading.flow_mm3_s)
    )


def _same(seen: Any, meant: Any) -> bool:
    if isinstance(seen, str) or isinstance(meant, str):
        return bool(seen == meant)
    return math.isclose(seen, meant, rel_tol=1e-6)


def _say(value: Any) -> str:
    return value if isinstance(value, str) else f"{value:g}"
