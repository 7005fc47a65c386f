"""Charts of ceilings: over temperature with the law, and the comparison of two rigs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    TEXT,
    between,
    names,
    narrow,
    place,
    quantity,
    rig_look,
    when,
)
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import area, line, point, rule, text
from beadworth.report.charts.trial.ceiling_marks import (
    ceiling_title,
    comparison_title,
    flow_span,
    law_rows,
    mark_rows,
    nudges,
    rig_alt,
    temperature_span,
)
from beadworth.report.sentences import FLOW, difference_words, temperature

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference


def ceiling_chart(
    ceilings: Sequence[Ceiling],
    law: Sequence[Ceiling] = (),
    *,
    rigs: Sequence[str] | None = None,
) -> Chart:
    """Ceilings against temperature, intervals and one-sided answers, and the law's band.

    Parameters
    ----------
    ceilings : those read at tested temperatures
    law : the ceiling the law gives over a fine grid of temperatures, with its interval;
        the part marked extrapolated is drawn thinner and dotted
    rigs : names in order, the baseline first; left out: as they come
    """
    read = [c for c in ceilings if c.basis == "readings"]
    order = list(rigs) if rigs is not None else list(dict.fromkeys(c.rig for c in read))
    drawn = any(c.flow_mm3_s is not None for c in law)

    def draw(width_px: float) -> Spec:
        rows, t_domain = _rows(read, law, order)
        look = rig_look(order, width_px)
        tested = sorted({c.temperature_c for c in read})
        ticks: Row = {"values": tested} if len(tested) > 1 else {}
        y = quantity("flow_mm3_s", f"ceiling, {FLOW}", flow_span(rows), tickCount=6)
        return plot(
            rows,
            area("law", style="band", clip=True, **between("y", y), color=look.color),
            line("law", where="!datum.extrapolated", style="curve", clip=True, y=y,
                 strokeDash=look.dash),
            *(
                line("beyond", where=f"datum.side === '{side}'", strokeWidth=1,
                     strokeDash=[1, 3], clip=True, y=y)
                for side in ("below", "above")
            ),
            rule("interval", strokeWidth=2.5, **between("y", y)),
            point("middle", size=70, y=y, shape=look.shape),
            *(
                point(bound, size=110, strokeWidth=0, shape=f"triangle-{way}", y=y)
                for bound, way in (("at-least", "up"), ("at-most", "down"))
            ),
            text(where="isValid(datum.text)", style="label", align="left", dx=8, dy=13,
                 fontWeight="bold", y=y, text=TEXT),
            width=plot_px(width_px),
            height=260 if narrow(width_px) else 320,
            x=quantity("at_c", "nozzle temperature, °C", t_domain, grid=False, **ticks),
            color=look.color,
        )  # fmt: skip

    one_sided = any(c.bound != "interval" for c in read)
    beyond = any(c.extrapolated for c in law)
    return Chart(
        name="ceilings",
        title=ceiling_title(read, order),
        caption=(
            "Bars are 95 % intervals."
            + (
                " A triangle points to where the ceiling lies when readings bound it from one "
                "side only."
                if one_sided
                else ""
            )
            + (
                " The line with its band is the physical law fitted through the temperatures"
                + ("; dotted where it goes beyond those tested." if beyond else ".")
                if drawn
                else ""
            )
        ),
        alt=(
            "Ceiling against temperature. " + " ".join(rig_alt(rig, read) for rig in order)
        ).strip(),
        spec=draw,
    )


def _rows(
    read: Sequence[Ceiling], law: Sequence[Ceiling], rigs: Sequence[str]
) -> tuple[list[Row], tuple[float, float]]:
    """The law and the marks as rows, and the axis of temperature that holds them."""
    lines, marks = law_rows(law), [row for c in read for row in mark_rows(c)]
    t_domain = temperature_span([*marks, *lines])
    nudge = nudges(rigs, t_domain)
    for row in marks:
        row["at_c"] = round(row["temperature_c"] + nudge[row["rig"]], 3)
    for row in lines:
        row["at_c"] = row["temperature_c"]
        row["place"] = place(rigs, row["rig"])
    return [*lines, *marks], t_domain


def comparison_chart(
    rows: Sequence[Difference],
    *,
    baseline: str,
    candidate: str,
) -> Chart:
    """Difference in ceiling per temperature with its interval, against zero."""
    ordered = sorted(rows, key=lambda row: row.temperature_c)

    def draw(width_px: float) -> Spec:
        values, domain = _difference_rows(ordered)
        beside = not narrow(width_px)
        plot_px = width_px - 74 - (225 if beside else 12)
        # Beside the plot where there is room, else above the bar on the side away from zero.
        to_right = beside or -domain[0] < domain[1]
        title = f"candidate minus baseline, {FLOW}"
        at_zero = quantity("difference_mm3_s", title, domain, tickCount=6)
        y = names("at", [row["at"] for row in values], labelFontSize=13, grid=False)
        return plot(
            values,
            rule(style="zero",
                 x={"datum": 0, "scale": at_zero["scale"], "axis": at_zero["axis"]}),
            rule(where="!datum.unknown", strokeWidth=2.5, style="bar", y=y,
                 **between("x", at_zero), strokeDash=when("datum.open", [3, 3], [1, 0])),
            point(where="isValid(datum.difference_mm3_s)", size=90, style="bar", y=y, x=at_zero,
                  shape=when("datum.resolved", "diamond", "circle")),
            text(style="value", align="left" if beside or not to_right else "right",
                 baseline="middle", dx=14 if beside else 0, dy=0 if beside else -15, y=y,
                 x={"value": plot_px if to_right else 0}, text=TEXT),
            width=plot_px,
            height={"step": 44 if beside else 56},
        )  # fmt: skip

    return Chart(
        name="comparison",
        title=comparison_title(ordered, candidate),
        caption=(
            f"Candidate is {candidate}, baseline {baseline}. Right of the dotted line the "
            "candidate's ceiling is higher. A bar is the interval of its own "
            "temperature; a diamond marks a difference that also holds for all temperatures at "
            "once. A broken bar is bounded on one side only."
        ),
        alt=f"Difference in ceiling, {candidate} minus {baseline}. "
        + " ".join(
            f"{temperature(row.temperature_c)}: {difference_words(row)}." for row in ordered
        ),
        spec=draw,
    )


def _difference_rows(ordered: Sequence[Difference]) -> tuple[list[Row], tuple[float, float]]:
    """A row per temperature, and the axis that holds all ends and zero."""
    ends = [
        v for row in ordered for v in (row.low, row.high, row.difference_mm3_s) if v is not None
    ]
    span = max(max(ends, default=1.0), 0.0) - min(min(ends, default=-1.0), 0.0)
    low = min([*ends, 0.0]) - 0.08 * span
    high = max([*ends, 0.0]) + 0.08 * span
    values: list[Row] = [
        {
            "at": temperature(row.temperature_c),
            "difference_mm3_s": row.difference_mm3_s,
            "low": row.low if row.low is not None else low,
            "high": row.high if row.high is not None else high,
            "open": row.low is None or row.high is None,
            "unknown": row.low is None and row.high is None,
            "text": difference_words(row),
            "resolved": row.resolved,
        }
        for row in ordered
    ]
    return values, (round(low, 3), round(high, 3))
