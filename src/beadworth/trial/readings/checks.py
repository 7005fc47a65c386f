"""What a row of a readings table must fit: the mass fed, the plan, and the rows around it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import groupby
from typing import Any

from beadworth.core import Problem
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial.readings.entry import NOTHING_TAKEN, check_mass
from beadworth.trial.record import Coupon, Plan, Reading

MORE_THAN_SLOWER = 1.5
"""A coupon this many times as heavy, per mm fed, as every coupon of its rig, material and
temperature that was made no faster cannot be: no hot end delivers more at a higher flow."""


class Checks:
    """One table being read: its readings and problems so far."""

    def __init__(
        self,
        source: str,
        plan: Plan | None,
        rigs: Mapping[str, Rig],
        materials: Mapping[str, Material],
    ) -> None:
        self.source, self.plan, self.rigs, self.materials = source, plan, rigs, materials
        self.problems: list[Problem] = []
        self.readings: list[tuple[int, Reading]] = []
        self.rows_of: dict[str, int] = {}
        """Row of the reading that counts, by coupon."""
        self.coupons = {c.coupon: c for c in plan.coupons} if plan else {}

    def add(self, what: str, where: str, value: Any, remedy: str) -> None:
        """Keep a problem."""
        then = f"{remedy} Then import again; {NOTHING_TAKEN}".strip()
        self.problems.append(Problem(what, f"{self.source}, {where}", value, then))

    def take(self, number: int, reading: Reading, given: set[str]) -> None:
        """Keep the reading of a row, or tell what is wrong with it as a whole.

        A void reading does not count, so whatever mass it holds may stand.
        """
        place = f"row {number}, column"
        if not reading.void:
            self._mass(place, reading)
            self._twice(place, number, reading)
        planned = self.coupons.get(reading.coupon or "")
        if self.plan is not None:
            self._against_plan(place, reading, planned)
        if planned is not None:
            reading = replace(
                reading,
                reference=reading.reference if "reference" in given else planned.reference,
                replicate=reading.replicate if "replicate" in given else planned.replicate,
            )
        self.readings.append((number, reading))

    def _mass(self, place: str, reading: Reading) -> None:
        if reading.mass_g <= 0:
            self.add(
                f"{reading.mass_g:g} g is no mass.",
                f"{place} mass_g",
                reading.mass_g,
                "Check the sign and the balance's zero, or mark the row with void 1.",
            )
            return
        if reading.tare_g is not None and reading.tare_g < 0:
            self.add(f"a tare of {reading.tare_g:g} g cannot be.", f"{place} tare_g",
                     reading.tare_g, "Check the sign and the balance's zero.")  # fmt: skip
            return
        if reading.tare_g is not None and reading.tare_g >= reading.mass_g:
            self.add(
                f"the tare, {reading.tare_g:g} g, is not below the gross mass, "
                f"{reading.mass_g:g} g.",
                f"{place} tare_g",
                reading.tare_g,
                "mass_g is gross where tare_g is given: check which of the two is which.",
            )
            return
        rig, material = self.rigs.get(reading.rig), self.materials.get(reading.material)
        diameter = reading.diameter_mm or (rig.filament_diameter_mm if rig else None)
        problem = check_mass(
            reading.net_g,
            reading.filament_mm,
            density_g_cm3=material.density_g_cm3 if material and diameter else None,
            diameter_mm=diameter or 1.75,
        )
        if problem:
            self.add(problem.what, f"{place} mass_g", reading.mass_g, problem.remedy)

    def _twice(self, place: str, number: int, reading: Reading) -> None:
        if not reading.coupon:
            return
        if reading.coupon in self.rows_of:
            self.add(
                f"coupon {reading.coupon} stands in row {self.rows_of[reading.coupon]} too.",
                f"{place} coupon",
                reading.coupon,
                "Correct the name, or mark the reading that does not count with void 1.",
            )
        else:
            self.rows_of[reading.coupon] = number

    def _against_plan(self, place: str, reading: Reading, planned: Coupon | None) -> None:
        """Coupon and setting must be the plan's."""
        assert self.plan is not None
        if planned is not None:
            for name in ("rig", "temperature_c", "flow_mm3_s"):
                seen, meant = getattr(reading, name), getattr(planned, name)
                if not _same(seen, meant):
                    self.add(
                        f"coupon {planned.coupon} is planned at {_say(meant)}, not {_say(seen)}.",
                        f"{place} {name}",
                        seen,
                        "Correct the value, or the coupon's name.",
                    )
        elif reading.coupon:
            self.add(f"coupon {reading.coupon} is not in the plan.", f"{place} coupon",
                     reading.coupon, "Check the name against the run sheet.")  # fmt: skip
        known: dict[str, set[Any]] = {
            "material": {self.plan.spec.material},
            "rig": {c.rig for c in self.plan.coupons},
            "temperature_c": {c.temperature_c for c in self.plan.coupons},
            "flow_mm3_s": {c.flow_mm3_s for c in self.plan.coupons},
        }
        for name, values in known.items():
            seen = getattr(reading, name)
            told = planned is not None and name != "material"
            if not told and not any(_same(seen, value) for value in values):
                self.add(
                    f"{_say(seen)} is not in the plan (there: "
                    f"{', '.join(_say(value) for value in sorted(values))}).",
                    f"{place} {name}",
                    seen,
                    "Correct it, or add such coupons to the plan first.",
                )

    def whole_table(self) -> None:
        """Masses against those of slower coupons, once every row is known."""
        if self.problems:
            return
        blocks: dict[tuple[str, str, float], list[tuple[int, Reading]]] = {}
        for number, reading in self.readings:
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
            f"row {number}, column mass_g",
            reading.mass_g,
            "Check mass, tare and filament_mm of this row, or mark with void 1 the slower coupons "
            "that failed.",
        )


def _same(seen: Any, meant: Any) -> bool:
    if isinstance(seen, str) or isinstance(meant, str):
        return bool(seen == meant)
    return math.isclose(seen, meant, rel_tol=1e-6)


def _say(value: Any) -> str:
    return value if isinstance(value, str) else f"{value:g}"
