"""The hours of a wear log run up, and what its charts share."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from beadworth.report.charts.chart import SCHEMA, WIDE_PX, Chart, axis, panels, part, quantitative
from beadworth.text import count, fixed, join_words

if TYPE_CHECKING:
    from beadworth.wear import WearSummary

Row = dict[str, Any]


def day_axis() -> Row:
    """Days along the foot of a chart."""
    return {
        "field": "on",
        "type": "temporal",
        "title": None,
        "scale": {"type": "utc"},
        "axis": {"grid": False, "labelOverlap": True, "tickCount": 6},
    }


def hours_chart(summary: WearSummary, *, width_px: float = WIDE_PX) -> Chart:
    """Hours run up, with what was changed and what failed."""
    values: list[Row] = [
        {"part": "hours", "on": at.on.isoformat(), "total_h": round(at.total_h, 2)}
        for at in summary.hours
    ]
    totals = {at.on: at.total_h for at in summary.hours}
    kinds = {"adjustment": "adjusted", "replacement": "replaced", "failure": "failed"}
    events = []
    for entry in summary.changes:
        total = max((h for on, h in totals.items() if on <= entry.on), default=0.0)
        named = "failed" if entry.because == "failed" else kinds[entry.kind]
        events.append({"part": "event", "on": entry.on.isoformat(), "total_h": round(total, 2),
                       "event": named, "what": entry.what})  # fmt: skip
    named_kinds = ["adjusted", "replaced", "failed"]
    most = max((at.total_h for at in summary.hours), default=1.0) or 1.0
    y = quantitative("total_h", "print hours, h", **axis((0.0, most * 1.06), tickCount=5))
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": values + events},
        "width": panels(1, width_px)[1],
        "height": 240,
        "encoding": {"x": day_axis(), "y": y},
        "layer": [
            {
                "transform": part("hours"),
                "mark": {"type": "line", "interpolate": "step-after", "point": False},
                "encoding": {"color": {"datum": "adjusted", **_legend_of(named_kinds)}},
            },
            {
                "transform": part("event"),
                "mark": {"type": "point", "size": 90},
                "encoding": {
                    "color": {"field": "event", "type": "nominal", **_legend_of(named_kinds)},
                    "shape": {"field": "event", "type": "nominal", **_legend_of(named_kinds)},
                },
            },
        ],
    }
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
        spec=spec,
        width_px=width_px,
    )


def _legend_of(names: Sequence[str]) -> Row:
    return {"scale": {"domain": list(names)}, "legend": {"symbolStrokeWidth": 0}}


def _span(first: date | None, last: date | None) -> str:
    return f"{first} to {last}" if first and last else "no entries"
