"""Chart of what more bench time brings: width of a ceiling's interval against hours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import TEXT, quantity
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import line, point, rule, text
from beadworth.text import number

if TYPE_CHECKING:
    from beadworth.trial import Outlook


def outlook_chart(outlook: Sequence[Outlook], difference_mm3_s: float | None = None) -> Chart:
    """Expected width of a ceiling's interval against hours, the planned coupons first.

    Where a difference is asked for, a line stands at it.
    """
    planned, last = outlook[0], outlook[-1]
    rows: list[Row] = [
        {
            "part": "planned" if step.planned else "next",
            "hours": round(step.hours, 2),
            "width": round(step.width_mm3_s, 3),
            "coupons": step.coupons,
            "text": f"{step.coupons} coupons" if step.planned else str(step.coupons),
        }
        for step in outlook
    ]
    wanted: list[Row] = []
    if difference_mm3_s is not None:
        wanted = [{"part": "asked", "width": difference_mm3_s, "text": "asked for"}]
    top = 1.15 * max(planned.width_mm3_s, difference_mm3_s or 0.0)
    reached = next(
        (s for s in outlook if difference_mm3_s is not None and s.width_mm3_s <= difference_mm3_s),
        None,
    )

    def draw(width_px: float) -> Spec:
        x = quantity("hours", "hours, hands included", (0.0, 1.1 * last.hours), tickCount=6)
        y = quantity("width", "width of the interval, mm³/s", (0.0, top), tickCount=5)
        return plot(
            [*rows, *wanted],
            line(None, where="datum.part !== 'asked'", x=x, y=y),
            rule("asked", style="level", y=y),
            text("asked", style="value", align="left", dy=-7, x={"value": 4}, y=y, text=TEXT),
            point("next", style="reference", x=x, y=y),
            point("planned", x=x, y=y),
            text(
                None, where="datum.part !== 'asked'", style="value", align="left", dx=6, dy=-9,
                x=x, y=y, text=TEXT,
            ),
            width=plot_px(width_px),
            height=190,
        )  # fmt: skip

    first = f"{planned.coupons} coupons give each ceiling to about {number(planned.width_mm3_s, 2)}"
    title = f"{first} mm³/s"
    if reached is not None:
        title = f"About {reached.coupons} coupons answer the question"
    return Chart(
        name="outlook",
        title=title,
        caption="Expected width of a ceiling's 95 % interval. Filled: the coupons of this plan. "
        "Open: with next coupons, added where they narrow it most. Each number counts all coupons.",
        alt="Expected width of the interval of a ceiling against hours: "
        + "; ".join(
            f"{s.coupons} coupons, {number(s.hours, 2)} h, {number(s.width_mm3_s, 2)} mm³/s"
            for s in outlook
        )
        + (f". Asked for: {number(difference_mm3_s, 2)} mm³/s" if difference_mm3_s else "")
        + ".",
        spec=draw,
    )
