"""Charts of how it was measured: the uncertainty budget, the references in run order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from beadworth.core import fit_line
from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    PER_CENT,
    per_cent_axis,
    place,
    quantity,
    rig_look,
)
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import bar, cross, line, point, rule, text
from beadworth.report.sentences import percent
from beadworth.text import capital, count, fixed

if TYPE_CHECKING:
    from beadworth.report.data import ReadingEntry
    from beadworth.trial import Budget

SIGNED = f"datum.value === 0 ? '0' : {PER_CENT}"


def budget_chart(budget: Budget) -> Chart:
    """What each source adds to the standard uncertainty of loss, largest first."""
    lines = sorted(budget.lines, key=lambda line: -line.contribution)
    total = budget.combined_u**2
    shares = [line.contribution**2 / total if total else 0.0 for line in lines]
    values: list[Row] = [
        {
            "part": "source",
            "source": line.source,
            "contribution": round(line.contribution, 6),
            "share": round(share, 4),
            "text": f"{percent(line.contribution, 2)} ({percent(share, 0)})",
        }
        for line, share in zip(lines, shares, strict=True)
    ]
    values.append(
        {
            "part": "combined",
            "source": "combined",
            "contribution": round(budget.combined_u, 6),
            "share": 1.0,
            "text": percent(budget.combined_u, 2),
        }
    )
    top = max([line.contribution for line in lines] + [budget.combined_u]) or 1e-6

    def draw(width_px: float) -> Spec:
        order = [row["source"] for row in values]
        y = {"field": "source", "type": "nominal", "sort": order, "axis": None}
        x = quantity(
            "contribution",
            "contribution to the standard uncertainty of loss",
            (0.0, top * 1.02),
            **per_cent_axis(tickCount=5),
        )
        label = {"calculate": "datum.source + ':  ' + datum.text", "as": "label"}
        words = text(style="value", align="left", dy=-9, baseline="middle", y=y, x={"value": 0},
                     text={"field": "label"})  # fmt: skip
        return plot(
            values,
            bar("source", style="bar", height=12, yOffset=8, x=x, y=y),
            bar("combined", style="total", height=12, yOffset=8, x=x, y=y),
            words | {"transform": [label]},
            width=width_px - 30,
            height={"step": 46},
        )

    largest = lines[0] if lines else None
    title = (
        f"{capital(largest.source)} is the largest source: {percent(shares[0], 0)} of the variance"
        if largest and total
        else "The budget is empty"
    )
    return Chart(
        name="budget",
        title=title,
        caption=(
            "Contributions add as squares, so the small ones hardly count; in brackets each "
            "one's share of the variance. Loss at one setting "
            f"carries a standard uncertainty of {percent(budget.combined_u, 2)}, "
            f"or ±{percent(budget.expanded_u, 2)} at 95 %."
        ),
        alt="Contributions to the standard uncertainty of loss, with their share of its variance. "
        + " ".join(f"{capital(row['source'])}: {row['text']}." for row in values),
        spec=draw,
    )


def drift_chart(entries: Sequence[ReadingEntry]) -> Chart:
    """Reference coupons in run order, against the mean of their rig: spool and drive drift.

    Mass per metre of commanded filament, as a deviation from the rig's own mean
    of counted references. Entries without a place in the run sheet are left out.
    """
    rigs = list(dict.fromkeys(e.reading.rig for e in entries))
    values = _drift_rows(entries, rigs)
    used = [row for row in values if row["part"] == "reference"]
    spread = float(np.std([row["deviation"] for row in used], ddof=1)) if len(used) > 2 else 0.0
    top = max([0.01, *(abs(row["deviation"]) * 1.2 for row in values)])
    last = max([e.order for e in entries if e.order is not None], default=1)

    def draw(width_px: float) -> Spec:
        look = rig_look(rigs, width_px)
        x = quantity("order", "place in the run sheet", (0, last + 1), grid=False, tickMinStep=1)
        return plot(
            [*values, {"part": "zero", "deviation": 0.0}],
            rule("zero", style="zero"),
            line("reference", strokeWidth=1, x=x, color=look.color, strokeDash=look.dash,
                 detail={"field": "temperature_c"}),
            point("reference", size=60, x=x, color=look.color, shape=look.shape),
            cross("voided", style="note", x=x),
            width=plot_px(width_px),
            height=200,
            y=quantity("deviation", "mass per metre, from the rig's mean", (-top, top),
                       format="+~%", labelExpr=SIGNED, tickCount=5),
        )  # fmt: skip

    title = (
        f"The references scatter by {percent(spread, 2)} and {_trend(used)}"
        if len(used) > 2
        else f"{count(len(used), 'reference coupon')}: too few to show drift"
    )
    return Chart(
        name="drift",
        title=title,
        caption=(
            "Low-flow reference coupons in the order they were made. A slope is the spool or the "
            "drive changing; each block is compared with its own references, so it cancels."
        ),
        alt=f"Mass per metre of {count(len(used), 'reference coupon')} in run order. {title}.",
        spec=draw,
    )


def _drift_rows(entries: Sequence[ReadingEntry], rigs: Sequence[str]) -> list[Row]:
    """Each reference in run order, as its deviation from the mean of its rig's counted ones."""
    references = [e for e in entries if e.reading.reference and e.order is not None]
    counted: dict[str, list[float]] = {}
    for e in references:
        if e.state == "current":
            counted.setdefault(e.reading.rig, []).append(e.reading.net_g / e.reading.filament_mm)
    return [
        {
            "part": "reference" if e.state == "current" else "voided",
            "rig": e.reading.rig,
            "place": place(rigs, e.reading.rig),
            "coupon": e.reading.coupon,
            "order": e.order,
            "temperature_c": e.reading.temperature_c,
            "deviation": round(
                e.reading.net_g / e.reading.filament_mm * len(own) / sum(own) - 1, 5
            ),
        }
        for e in sorted(references, key=lambda e: e.order or 0)
        if (own := counted.get(e.reading.rig))
    ]


def _trend(rows: Sequence[Row]) -> str:
    """Whether a straight line through the references has a slope, in words (two-sided, 5 %)."""
    from scipy.special import stdtr

    order = [float(row["order"]) for row in rows]
    if len(set(order)) < 3:
        return "show no drift that stands out"
    line = fit_line(order, [float(row["deviation"]) for row in rows])
    across = line.slope * (max(order) - min(order))
    surely = abs(line.slope) / max(line.u_slope, 1e-300)
    if not 2.0 * float(stdtr(line.dof, -surely)) < 0.05:
        return "show no drift that stands out"
    return f"drift by {fixed(100 * across, 2)}\u00a0% from first to last"
