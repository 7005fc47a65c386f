"""The chart of residuals: what the fitted curves leave unexplained."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import quantity, rig_look, rounded
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import cross, point, rule
from beadworth.report.charts.trial.loss_marks import FLOW_TITLE, flow_domain
from beadworth.text import count, fixed

if TYPE_CHECKING:
    from beadworth.capacity import GroupFit


def residual_chart(groups: Sequence[GroupFit]) -> Chart:
    """Standardised residuals over flow: what the fitted curves leave unexplained."""
    rows: list[Row] = [
        {
            "part": "residual",
            "rig": group.rig,
            "coupon": r.coupon,
            "temperature_c": r.temperature_c,
            "flow_mm3_s": r.flow_mm3_s,
            "standardised": rounded(r.standardised, 3),
            "left_out": r.left_out,
        }
        for group in groups
        for r in group.residuals
    ]
    sizes = np.array([abs(row["standardised"]) for row in rows])
    aside = sum(row["left_out"] for row in rows)
    beyond, total = int((sizes > 2).sum()), len(rows)
    top = max(3.2, float(sizes.max(initial=0.0)) * 1.1)

    def draw(width_px: float) -> Spec:
        look = rig_look([g.rig for g in groups], width_px)
        x = quantity("flow_mm3_s", FLOW_TITLE, flow_domain(rows), grid=False)
        return plot(
            [*rows, *({"part": "limit", "standardised": v} for v in (-2.0, 0.0, 2.0))],
            rule("limit", style="zero"),
            point("residual", where="!datum.left_out", style="reading", x=x, color=look.color,
                  shape=look.shape),
            cross("residual", where="datum.left_out", style="value", x=x),
            width=plot_px(width_px),
            height=210,
            y=quantity("standardised", "residual ÷ its standard deviation", (-top, top)),
        )  # fmt: skip

    expected = 0.0455 * total
    tests = [g.lack_of_fit_p for g in groups if g.lack_of_fit_p is not None]
    poor = any(p < 0.05 for p in tests)
    title = f"{beyond} of {total} readings lie beyond two standard deviations" + (
        f"; about {fixed(expected)} would by chance" if total else ""
    )
    fit = (
        ""
        if not tests
        else " The lack-of-fit test finds structure the curves leave out."
        if poor
        else " The lack-of-fit test finds no structure the curves leave out."
    )
    return Chart(
        name="residuals",
        title=title,
        caption="Dotted lines at zero and at two standard deviations either side."
        + (
            f" Crosses are the {count(aside, 'reading')} out of line and left out of the fit, "
            "see its notes."
            if aside
            else ""
        ),
        alt=f"Standardised residuals of {count(total, 'reading')} over flow. {title}.{fit}",
        spec=draw,
    )
