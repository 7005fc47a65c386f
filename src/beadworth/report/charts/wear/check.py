"""A check of the wear log against its limits, and its fading average."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from beadworth.report.charts.chart import SCHEMA, WIDE_PX, Chart, axis, panels, part, quantitative
from beadworth.report.charts.wear.hours import day_axis
from beadworth.text import capital, count, number, slug
from beadworth.wear import told

if TYPE_CHECKING:
    from beadworth.wear import Ewma, Individuals, SeriesReport, WearEntry

Row = dict[str, Any]
LABEL_PX = 54.0
LOOK: Row = {"type": "point", "size": 130, "filled": False, "strokeWidth": 2.2}


def _changes(changes: Sequence[WearEntry], first: date, last: date) -> list[Row]:
    """A row for each adjustment, replacement and failure inside the picture."""
    return [
        {"part": "change", "on": entry.on.isoformat(), "change": f"{entry.kind}: {entry.what}"}
        for entry in changes
        if first <= entry.on <= last
    ]


def _change_rule() -> Row:
    return {
        "transform": part("change"),
        "mark": {"type": "rule", "style": "level", "strokeDash": [2, 3]},
        "encoding": {"x": day_axis(), "y": {"value": 0}, "y2": {"value": "height"}},
    }


def check_chart(
    report: SeriesReport, changes: Sequence[WearEntry] = (), *, width_px: float = WIDE_PX
) -> Chart:
    """Each reading against its limits, over the steps from one reading to the next."""
    chart, series = report.individuals, report.series
    assert chart is not None
    days = [on.isoformat() for on in series.dates]
    values: list[Row] = [
        {"part": "reading", "on": on, "value": value, "baseline": n < chart.baseline.count}
        for n, (on, value) in enumerate(zip(days, series.values, strict=True))
    ]
    values += [
        {"part": "step", "on": on, "step": step}
        for on, step in zip(days[1:], chart.moving_ranges, strict=True)
    ]
    for signal in chart.signals:
        jump = signal.rule == "jump"
        key, value = ("step", chart.moving_ranges[signal.index - 1]) if jump else (
            "value", series.values[signal.index],
        )  # fmt: skip
        values.append({"part": "look at step" if jump else "look", "on": days[signal.index],
                       key: value, "words": signal.words})  # fmt: skip
    values += _level_rows(chart)
    values += _changes(changes, series.dates[0], series.dates[-1])
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": values},
        "spacing": 18,
        "resolve": {"scale": {"x": "shared"}},
        "vconcat": [
            _reading_panel(chart, series.values, series.unit, width_px),
            _step_panel(chart, series.unit, width_px),
        ],
    }
    return Chart(
        name=f"wear-individuals-{slug(series.name, 'check')}",
        title=_signal_title(series.name, [s.words for s in chart.signals], len(series.values)),
        caption=(
            f"Each reading in {series.unit}; the solid line is "
            + ("the target" if chart.baseline.target is not None else "the mean of the baseline")
            + f" (first {count(chart.baseline.count, 'reading')}, hollow), dashed lines three "
            "standard deviations from it, from the mean step between neighbours in the baseline. "
            "Below, the steps. Rings are signals: a reading beyond a limit"
            + (
                ", a step beyond its own, the eighth in a row on one side"
                if chart.more_rules
                else ""
            )
            + ". Thin upright lines are changes logged."
        ),
        alt=report.sentence,
        spec=spec,
        width_px=width_px,
    )


def _level_rows(chart: Individuals) -> list[Row]:
    base = chart.baseline

    def row(name: str, key: str, value: float) -> Row:
        return {"part": name, key: value, "label": told(value, base.sigma)}

    return [
        row("centre", "value", base.center),
        row("limit", "value", chart.upper),
        row("limit", "value", chart.lower),
        row("most", "step", chart.moving_range_upper),
    ]


def _reading_panel(chart: Individuals, values: Sequence[float], unit: str, width_px: float) -> Row:
    low, high = min(chart.lower, *values), max(chart.upper, *values)
    room = 0.08 * (high - low)
    y = quantitative("value", f"reading, {unit}", **axis((low - room, high + room), tickCount=5))
    x = day_axis()
    return {
        "width": _plot_px(width_px),
        "height": 230,
        "encoding": {"y": y},
        "layer": [
            _change_rule(),
            {"transform": part("centre"), "mark": {"type": "rule", "style": "level"}},
            {"transform": part("limit"), "mark": {"type": "rule", "strokeDash": [6, 4]}},
            *_labels("centre"),
            *_labels("limit"),
            {
                "transform": part("reading"),
                "mark": {"type": "line", "strokeWidth": 1},
                "encoding": {"x": x, "color": {"datum": "reading", **_hidden("reading", "signal")}},
            },
            {
                "transform": [*part("reading"), {"filter": "!datum.baseline"}],
                "mark": {"type": "point", "size": 50},
                "encoding": {"x": x, "color": {"datum": "reading", **_hidden("reading", "signal")}},
            },
            {
                "transform": [*part("reading"), {"filter": "datum.baseline"}],
                "mark": {"type": "point", "size": 50, "style": "reference"},
                "encoding": {"x": x, "color": {"datum": "reading", **_hidden("reading", "signal")}},
            },
            _ring("look", x),
        ],
    }


def _step_panel(chart: Individuals, unit: str, width_px: float) -> Row:
    most = max(chart.moving_range_upper, *chart.moving_ranges) * 1.15
    x = day_axis()
    colour = {"datum": "reading", **_hidden("reading", "signal")}
    return {
        "width": _plot_px(width_px),
        "height": 90,
        "encoding": {"y": quantitative("step", f"step, {unit}", **axis((0, most), tickCount=3))},
        "layer": [
            {"transform": part("most"), "mark": {"type": "rule", "strokeDash": [6, 4]}},
            *_labels("most"),
            {
                "transform": part("step"),
                "mark": {"type": "line", "strokeWidth": 1},
                "encoding": {"x": x, "color": colour},
            },
            {
                "transform": part("step"),
                "mark": {"type": "point", "size": 30},
                "encoding": {"x": x, "color": colour},
            },
            _ring("look at step", x),
        ],
    }


def _hidden(*names: str) -> Row:
    return {"scale": {"domain": list(names)}, "legend": None}


def _ring(name: str, x: Row) -> Row:
    return {
        "transform": part(name),
        "mark": LOOK,
        "encoding": {"x": x, "color": {"datum": "signal", **_hidden("reading", "signal")}},
    }


def _labels(name: str) -> list[Row]:
    """What a level is, in the room right of the plot."""
    mark = {"type": "text", "style": "note", "align": "left", "baseline": "middle", "dx": 6}
    return [
        {
            "transform": part(name),
            "mark": mark,
            "encoding": {"x": {"value": "width"}, "text": {"field": "label"}},
        }
    ]


def _plot_px(width_px: float) -> float:
    """The width of the plot, with room beside it for what its levels are."""
    free: float = panels(1, width_px)[1]
    return free - LABEL_PX


def average_chart(
    report: SeriesReport, changes: Sequence[WearEntry] = (), *, width_px: float = WIDE_PX
) -> Chart:
    """The fading average of a check against its exact and settled limits."""
    chart, series = report.ewma, report.series
    assert chart is not None
    days = [on.isoformat() for on in series.dates]
    values: list[Row] = [
        {"part": "average", "on": on, "value": round(average, 9), "lower": round(low, 9),
         "upper": round(high, 9)}
        for on, average, low, high in zip(
            days, chart.averages, chart.lower, chart.upper, strict=True
        )
    ]  # fmt: skip
    values += [
        {"part": "reading", "on": on, "value": value}
        for on, value in zip(days, series.values, strict=True)
    ]
    values += [
        {"part": "look", "on": days[s.index], "value": s.value, "words": s.words}
        for s in chart.signals
    ]
    values += [
        {"part": name, "value": value, "label": told(value, chart.sigma)}
        for name, value in (
            ("centre", chart.center),
            ("settled", chart.lower_settled),
            ("settled", chart.upper_settled),
        )
    ]
    values += _changes(changes, series.dates[0], series.dates[-1])
    return Chart(
        name=f"wear-ewma-{slug(series.name, 'check')}",
        title=_signal_title(
            series.name, [s.words for s in chart.signals], len(series.values), "drift"
        ),
        caption=(
            f"The line is the average with weight {number(chart.weight)} for the newest reading "
            "(faint points: the readings). The band holds it three standard deviations around the "
            "centre, exact for the number of readings so far; dashed is where the band settles. "
            "It finds a slow drift that single readings hide."
        ),
        alt=f"Fading average of {series.name}, {count(len(days), 'reading')}. "
        + (
            f"{len(chart.signals)} beyond its limits, the first on "
            f"{series.dates[chart.signals[0].index]}."
            if chart.signals
            else "It stays within its limits."
        ),
        spec=_ewma_spec(chart, series.values, series.unit, values, width_px),
        width_px=width_px,
    )


def _ewma_spec(
    chart: Ewma, readings: Sequence[float], unit: str, values: list[Row], width_px: float
) -> Row:
    low = min(chart.lower_settled, *chart.averages, *readings)
    high = max(chart.upper_settled, *chart.averages, *readings)
    room = 0.08 * (high - low)
    y = quantitative("value", f"reading, {unit}", **axis((low - room, high + room), tickCount=5))
    x = day_axis()
    colour = {"datum": "reading", **_hidden("reading", "signal")}
    return {
        "$schema": SCHEMA,
        "data": {"values": values},
        "width": _plot_px(width_px),
        "height": 230,
        "encoding": {"y": y},
        "layer": [
            {
                "transform": part("average"),
                "mark": {"type": "area", "style": "band", "interpolate": "step"},
                "encoding": {
                    "x": x,
                    "y": {"field": "lower", "type": "quantitative"},
                    "y2": {"field": "upper"},
                },
            },
            _change_rule(),
            {"transform": part("centre"), "mark": {"type": "rule", "style": "level"}},
            {"transform": part("settled"), "mark": {"type": "rule", "strokeDash": [6, 4]}},
            *_labels("centre"),
            *_labels("settled"),
            {
                "transform": part("reading"),
                "mark": {"type": "point", "size": 24, "opacity": 0.45},
                "encoding": {"x": x, "color": colour},
            },
            {
                "transform": part("average"),
                "mark": {"type": "line"},
                "encoding": {"x": x, "color": colour},
            },
            _ring("look", x),
        ],
    }


def _signal_title(
    name: str, words: Sequence[str], readings: int, looked_for: str = "signal"
) -> str:
    if not words:
        return f"{capital(name)}: no {looked_for} in {count(readings, 'reading')}"
    more = f" ({count(len(words), 'signal')})" if len(words) > 1 else ""
    return f"{capital(name)}: {words[0]}{more}"
