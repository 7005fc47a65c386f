"""Worth in pictures: when the cost is back, where the time goes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from beadworth.report.charts.chart import (
    SCHEMA,
    WIDE_PX,
    Chart,
    axis,
    part,
    quantitative,
    six_figures,
)
from beadworth.report.charts.print.limits import LIMITS
from beadworth.report.charts.print.limits import WORDS as LIMIT_TITLES
from beadworth.report.sentences import percent
from beadworth.text import join_words
from beadworth.worth import Result, Worth, money, with_interval

Row = dict[str, Any]
ONE: Row = {"datum": "one", "type": "nominal", "scale": {"domain": ["one"]}, "legend": None}
"""Colour of the only series there is: the first of the palette."""


def payback_chart(worth: Worth, *, width_px: float = WIDE_PX) -> Chart | None:
    """Money so far over the months, with its band and the break-even; None without a rate."""
    if not worth.path:
        return None
    rows: list[Row] = []
    for point in worth.path:
        net = point.net
        if net.value is None or net.low is None or net.high is None:
            continue
        rows.append(
            {"part": "path", "month": point.month, "net": six_figures(net.value),
             "low": six_figures(net.low), "high": six_figures(net.high)}
        )  # fmt: skip
    end = worth.path[-1].month
    back = worth.break_even.months
    rows += _break_even_rows(back, end)
    if end > worth.months:
        rows.append({"part": "asked", "month": worth.months,
                     "text": f"in {worth.months:g} months"})  # fmt: skip
    beside = (
        {"align": "left", "dx": 5} if worth.months < 0.3 * end else {"align": "right", "dx": -5}
    )
    lows, highs = ([row[k] for row in rows if row["part"] == "path"] for k in ("low", "high"))
    bottom, top = min(lows, default=0.0), max(*highs, 0.0)
    spread = 0.14 * (top - bottom or 1.0)
    x = quantitative("month", "months after the upgrade",
                     **axis((0.0, end), tickCount=6, grid=False))  # fmt: skip
    y_scale = axis((bottom - spread, top + spread), tickCount=6)
    unit = worth.currency or "money"
    plain = quantitative("net", f"saved less cost so far, {unit}", **y_scale)
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "width": width_px - 78.0,
        "height": 300 if width_px >= 500 else 250,
        "layer": [
            {
                "transform": part("path"),
                "mark": {"type": "area", "style": "band", "clip": True},
                "encoding": {"x": x, "y": {**plain, "field": "low"}, "y2": {"field": "high"},
                             "color": ONE},
            },
            {
                "transform": part("zero"),
                "mark": {"type": "rule", "style": "zero"},
                "encoding": {"y": {"datum": 0, "type": "quantitative"}},
            },
            {
                "transform": part("path"),
                "mark": {"type": "line", "clip": True},
                "encoding": {"x": x, "y": plain, "color": ONE},
            },
            {
                "transform": part("back"),
                "mark": {"type": "rule", "strokeWidth": 5, "opacity": 0.75, "clip": True},
                "encoding": {"x": {**x, "field": "from"}, "x2": {"field": "to"},
                             "y": {"datum": 0, "type": "quantitative"}},
            },
            {
                "transform": part("middle"),
                "mark": {"type": "point", "style": "reading", "size": 90},
                "encoding": {"x": x, "y": {"datum": 0, "type": "quantitative"}, "color": ONE},
            },
            {
                "transform": part("asked"),
                "mark": {"type": "rule", "style": "level"},
                "encoding": {"x": x},
            },
            {
                "transform": part("asked"),
                "mark": {"type": "text", "style": "note", **beside},
                "encoding": {"x": x, "y": {"value": 10}, "text": {"field": "text"}},
            },
            {
                "transform": part("middle"),
                "mark": {"type": "text", "style": "label", "fontWeight": "bold", "dy": -12,
                         "align": "center"},
                "encoding": {"x": {**x, "field": "said_at"},
                             "y": {"datum": 0, "type": "quantitative"},
                             "text": {"field": "text"}},
            },
        ],
    }  # fmt: skip
    return Chart(
        name="worth-payback",
        title=_payback_title(worth),
        caption="Money saved less the cost, from the day of the upgrade; the band holds 95\u00a0% "
        "of the draws. The bar on the zero line is the interval of the break-even.",
        alt=f"It starts at {money(_turned(worth.cost), worth.currency)} and comes to "
        f"{money(worth.net, worth.currency)} after {worth.months:g} months. "
        f"{worth.break_even.words}",
        spec=spec,
        width_px=width_px,
    )


def limits_worth_chart(worth: Worth, *, width_px: float = WIDE_PX) -> Chart:
    """What all the printing goes to on both rigs, in shares: what limits it now, and then."""
    sides = {worth.baseline: worth.limits_before, worth.candidate: worth.limits_after}
    rows = [
        {"rig": rig, "limit": LIMIT_TITLES[name], "order": n, "share": round(shares[name], 4)}
        for rig, shares in sides.items()
        for n, name in enumerate(LIMITS)
        if shares.get(name, 0.0) >= 0.0005
    ]
    used = [LIMIT_TITLES[n] for n in LIMITS if any(r["limit"] == LIMIT_TITLES[n] for r in rows)]
    narrow = width_px < 500
    left = 16.0 if narrow else min(200.0, 20.0 + 6.6 * max(len(rig) for rig in sides))
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "width": width_px - left - 24.0,
        "height": {"step": 44},
        "mark": {"type": "bar", "style": "heat-cell", "size": 26},
        "encoding": {
            "x": quantitative("share", None, stack=True, **axis(
                (0.0, 1.0), format="%", grid=False, tickCount=5,
                labelExpr="replace(datum.label, '%', '\u00a0%')",
            )),
            "y": {"field": "rig", "type": "nominal", "sort": list(sides), "title": None,
                  "axis": {"domain": False, "ticks": False, "labelLimit": left,
                           **({"labelAlign": "left", "labelOffset": -22, "labelPadding": -4,
                               "labelLimit": width_px - 20.0} if narrow else {})}},
            "order": {"field": "order"},
            "color": {
                "field": "limit", "type": "ordinal",
                "scale": {"domain": [LIMIT_TITLES[name] for name in LIMITS]},
                "legend": {"columns": 1 if narrow else 3, "orient": "bottom", "values": used},
            },
        },
    }  # fmt: skip
    before, after = (shares.get("flow", 0.0) for shares in sides.values())
    feeds = (
        "Speeds raised to the ceiling on both rigs; there the time at the ceiling counts as flow."
        if worth.feeds == "raised"
        else "The files' own feeds, slowed where they are over the ceiling; flow is what the "
        "ceiling adds."
    )
    return Chart(
        name="worth-limits",
        title=f"Flow takes {percent(before, 0)} of the printing now and {percent(after, 0)} after "
        "the upgrade",
        caption=f"Shares of the moving time of all prints, by how often they are made. {feeds}",
        alt=" ".join(f"{rig}: {_said(shares)}." for rig, shares in sides.items()),
        spec=spec,
        width_px=width_px,
    )


def _break_even_rows(back: Result, end: float) -> list[Row]:
    rows: list[Row] = [{"part": "zero"}]
    if back.low is None or back.low > end:
        return rows
    to = min(end, back.high if back.high is not None else end)
    rows.append({"part": "back", "from": round(back.low, 3), "to": round(to, 3)})
    if back.value is not None and back.value <= end:
        said_at = min(max(back.value, 0.16 * end), 0.84 * end)
        rows.append({"part": "middle", "month": round(back.value, 3), "said_at": round(said_at, 3),
                     "text": with_interval(back, "months").partition(" (")[0]})  # fmt: skip
    return rows


def _payback_title(worth: Worth) -> str:
    back = worth.break_even.months
    span = f"{worth.months:g} months"
    status = worth.break_even.status
    if status == "never":
        return "The cost never comes back on these prints"
    if status == "at once":
        return "It costs nothing, so there is nothing to earn back"
    if back.value is None:
        return "Whether the cost ever comes back cannot be told"
    if back.low is not None and back.low > worth.months:
        return f"The cost is not back within {span}, but after {with_interval(back, 'months')}"
    return f"The cost is back after {with_interval(back, 'months')}"


def _turned(result: Result) -> Result:
    """The same amount with the other sign."""
    low, high = result.low, result.high
    return Result(
        None if result.value is None else -result.value,
        None if high is None else -high,
        None if low is None else -low,
    )


def _said(shares: Mapping[str, float]) -> str:
    return join_words([f"{LIMIT_TITLES[n]} {percent(shares[n], 0)}" for n in LIMITS
                   if shares.get(n, 0.0) >= 0.005])  # fmt: skip
