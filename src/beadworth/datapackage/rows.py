"""Rows of a package's tables as what they stand for."""

from __future__ import annotations

from typing import Any

import numpy as np

from beadworth.capacity import Ceiling, Curve
from beadworth.cause import CauseRow
from beadworth.datapackage.cells import Row
from beadworth.report import ReadingEntry
from beadworth.trial import BudgetLine, Coupon, Reading
from beadworth.witness import GradeRow


def entry_of(row: Row) -> ReadingEntry:
    """A weighing from its row."""
    parts = {k: v for k, v in row.items() if k not in ("reading", "state", "reason")}
    return ReadingEntry(Reading(**parts), state=row["state"], reason=row["reason"] or "")


def coupon_of(row: Row) -> Coupon:
    """A coupon from its row."""
    return Coupon(**{k: v for k, v in row.items() if k != "added"})


def line_of(row: Row) -> BudgetLine:
    """A line of the budget from its row; no degrees of freedom: taken as known."""
    known = {k: v for k, v in row.items() if k != "line"}
    dof = float("inf") if row["dof"] is None else row["dof"]
    return BudgetLine(
        **known | {"dof": dof, "shares": row["shares"] or "", "unit": row["unit"] or ""}
    )


def ceiling_of(row: Row) -> Ceiling:
    """A ceiling from its row."""
    parts = {k: v for k, v in row.items() if k not in ("low_mm3_s", "high_mm3_s")}
    return Ceiling(low=row["low_mm3_s"], high=row["high_mm3_s"], **parts)


def grade_of(row: Row) -> GradeRow:
    """A grade of a witness print from its row."""
    return GradeRow(**row)


def cause_of(row: Row) -> CauseRow:
    """A cause of a reading of walls from its row."""
    return CauseRow(**row | {"period_unit": row["period_unit"] or ""})


def curves_of(rows: list[Row]) -> tuple[Curve, ...]:
    """Rows of one rig, material and temperature as one curve each, in order of first row."""
    grouped: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        grouped.setdefault((row["rig"], row["material"], row["temperature_c"]), []).append(row)
    return tuple(_curve(group) for group in grouped.values())


def _curve(rows: list[Row]) -> Curve:
    first = rows[0]

    def column(name: str) -> Any:
        values = [np.nan if row[name] is None else row[name] for row in rows]
        return np.array(values, dtype=np.float64)

    return Curve(
        first["rig"],
        first["material"],
        first["temperature_c"],
        column("flow_mm3_s"),
        column("loss"),
        column("low"),
        column("high"),
        first["confidence"],
        first["tested_low_mm3_s"],
        first["tested_high_mm3_s"],
    )
