"""The hours of a wear log run up, and what its charts share."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import Channel, quantity, series
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import line, point
from beadworth.text import count, fixed, join_words

if TYPE_CHECKING:
    from beadworth.wear import WearSummary


def day_axis() -> Channel:
    """Days along the foot of a chart."""
    return {
        "field": "on",
        "type": "temporal",
        "title": None,
        "scale": {"type": "utc"},
        "axis": {"grid": False, "labelOverlap": True, "tickCount": 6},
    }


def hours_chart(summary: WearSummary) -> Chart:
    """Hours run up, with what was changed and what failed."""
    totals = {at.on: at.total_h for at in summary.hours}
    kinds = {"adjustment": "adjusted", "replacement": "replaced", "failure": "failed"}
    events: list[Row] = []
    for entry in summary.changes:
        total = max((h for on, h in totals.items() if on <= entry.on), default=0.0)
        named = "failed" if entry.because == "failed" else kinds[entry.kind]
        events.append({"part": "event", "on": entry.on.isoformat(), "total_h": round(total, 2),
                       "event": named, "what": entry.what})  # fmt: skip

    def draw(width_px: float) -> Spec:
        hours = [
            {"part": "hours", "on": at.on.isoformat(), "total_h": round(at.total_h, 2)}
            for at in summary.hours
        ]
        most = max((at.total_h for at in summary.hours), default=1.0) or 1.0
        event = series("event", list(kinds.values()), symbolStrokeWidth=0)
        first = {"datum": "adjusted", "scale": event["scale"], "legend": event["legend"]}
        return plot(
            [*hours, *events],
            line("hours", interpolate="step-after", point=False, color=first),
            point("event", size=90, color=event, shape=event),
            width=plot_px(width_px),
            height=240,
            x=day_axis(),
            y=quantity("total_h", "print hours, h", (0.0, most * 1.06), tickCount=5),
        )

    failures = sum(row["event"] == "failed" for row in events)
    title = f"{fixed(summary.total_h, 0)} h printed, {count(failures, 'failure')}"
    return Chart(
        name="wear-hours",
        title=title,
        caption="Print hours entered, run up by day; each mark is a change or a failure logged.",
        alt=f"{title}, {_span(summary.since, summary.until)}. "
        + (
            f"Marked: {join_words('{what} {event} on {on}'.format_map(row) for row in events)}."
            if events
            else "Nothing was changed and nothing failed."
        ),
        spec=draw,
    )


def _span(first: date | None, last: date | None) -> str:
    return f"{first} to {last}" if first and last else "no entries"
