"""A check of the wear log against its limits, and its fading average."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import Channel, between, quantity
from beadworth.report.charts.layout import panel, plot, plot_px, stacked
from beadworth.report.charts.marks import Layer, area, line, point, rule, text
from beadworth.report.charts.wear.hours import day_axis
from beadworth.text import capital, count, number, slug
from beadworth.wear import level_text

if TYPE_CHECKING:
    from beadworth.wear import Individuals, SeriesReport, WearEntry

LABEL_PX = 54.0
SIGNAL: Channel = {"datum": "signal", "scale": {"domain": ["reading", "signal"]}, "legend": None}
READING: Channel = {**SIGNAL, "datum": "reading"}
"""Two colours: readings take the first of the palette, signals the second."""


def _changes(changes: Sequence[WearEntry], first: date, last: date) -> list[Row]:
    """A row for each adjustment, replacement and failure inside the picture."""
    return [
        {"part": "change", "on": entry.on.isoformat(), "change": f"{entry.kind}: {entry.what}"}
        for entry in changes
        if first <= entry.on <= last
    ]


def _change_rule() -> Layer:
    return rule("change", style="level", strokeDash=[2, 3], x=day_axis(), y={"value": 0},
                y2={"value": "height"})  # fmt: skip


def check_chart(report: SeriesReport, changes: Sequence[WearEntry] = ()) -> Chart:
    """Each reading against its limits, over the steps from one reading to the next."""
    chart, series = report.individuals, report.series
    assert chart is not None

    def draw(width_px: float) -> Spec:
        return stacked(
            [*_check_rows(report), *_changes(changes, series.dates[0], series.dates[-1])],
            _reading_panel(chart, series.values, series.unit, width_px),
            _step_panel(chart, series.unit, width_px),
            spacing=18,
            resolve={"scale": {"x": "shared"}},
        )

    return Chart(
        name=f"wear-individuals-{slug(series.name, 'check')}",
        title=_title(report, [s.words for s in chart.signals]),
        caption=(
            f"Each reading in {series.unit}; the solid line is "
            + ("the target" if chart.baseline.target is not None else "the mean of the baseline")
            + f" (first {count(chart.baseline.count, 'reading')}, hollow), dashed lines the limits "
            "from the mean step between neighbours in the baseline, the wider the fewer it has. "
            "Below, the steps. Rings are signals: a reading beyond a limit"
            + (
                ", a step beyond its own, the eighth in a row on one side"
                if chart.more_rules
                else ""
            )
            + ". Thin upright lines are changes logged."
        ),
        alt=report.sentence,
        spec=draw,
    )


def _check_rows(report: SeriesReport) -> list[Row]:
    """Readings, steps, what is to be looked at, and the levels they are held against."""
    chart, series = report.individuals, report.series
    assert chart is not None
    days = [on.isoformat() for on in series.dates]
    rows: list[Row] = [
        {"part": "reading", "on": on, "value": value, "baseline": n < chart.baseline.count}
        for n, (on, value) in enumerate(zip(days, series.values, strict=True))
    ]
    rows += [
        {"part": "step", "on": on, "step": step}
        for on, step in zip(days[1:], chart.moving_ranges, strict=True)
    ]
    for signal in chart.signals:
        jump = signal.rule == "jump"
        key, value = ("step", chart.moving_ranges[signal.index - 1]) if jump else (
            "value", series.values[signal.index],
        )  # fmt: skip
        rows.append({"part": "look at step" if jump else "look", "on": days[signal.index],
                     key: value, "words": signal.words})  # fmt: skip
    base = chart.baseline
    levels = (
        ("centre", "value", base.center),
        ("limit", "value", chart.upper),
        ("limit", "value", chart.lower),
        ("most", "step", chart.moving_range_upper),
    )
    rows += [
        {"part": p, key: level, "label": level_text(level, base.sigma)} for p, key, level in levels
    ]
    return rows


def _reading_panel(chart: Individuals, values: Sequence[float], unit: str, width_px: float) -> Spec:
    x = day_axis()
    return panel(
        _change_rule(),
        *_level("centre", style="level"),
        *_level("limit", strokeDash=[6, 4]),
        line("reading", strokeWidth=1, x=x, color=READING),
        point("reading", where="!datum.baseline", size=50, x=x, color=READING),
        point("reading", where="datum.baseline", size=50, style="reference", x=x, color=READING),
        _ring("look"),
        width=_plot_px(width_px),
        height=230,
        y=_value_axis(unit, (chart.lower, chart.upper, *values)),
    )


def _step_panel(chart: Individuals, unit: str, width_px: float) -> Spec:
    most = max(chart.moving_range_upper, *chart.moving_ranges) * 1.15
    x = day_axis()
    return panel(
        *_level("most", strokeDash=[6, 4]),
        line("step", strokeWidth=1, x=x, color=READING),
        point("step", size=30, x=x, color=READING),
        _ring("look at step"),
        width=_plot_px(width_px),
        height=90,
        y=quantity("step", f"step, {unit}", (0, most), tickCount=3),
    )


def _value_axis(unit: str, values: Sequence[float]) -> Channel:
    """The axis of readings, with room above and below all that is drawn."""
    low, high = min(values), max(values)
    room = 0.08 * (high - low)
    return quantity("value", f"reading, {unit}", (low - room, high + room), tickCount=5)


def _ring(part: str) -> Layer:
    return point(part, size=130, filled=False, strokeWidth=2.2, x=day_axis(), color=SIGNAL)


def _level(part: str, **look: Any) -> tuple[Layer, Layer]:
    """A level, and what it is in the room right of the plot."""
    return (
        rule(part, **look),
        text(part, style="note", align="left", baseline="middle", dx=6, x={"value": "width"},
             text={"field": "label"}),
    )  # fmt: skip


def _plot_px(width_px: float) -> float:
    """The width of the plot, with room beside it for what its levels are."""
    return plot_px(width_px) - LABEL_PX


def average_chart(report: SeriesReport, changes: Sequence[WearEntry] = ()) -> Chart:
    """The fading average of a check against its exact and settled limits."""
    chart, series = report.ewma, report.series
    assert chart is not None

    def draw(width_px: float) -> Spec:
        x = day_axis()
        limits = (chart.lower_settled, chart.upper_settled)
        return plot(
            [*_average_rows(report), *_changes(changes, series.dates[0], series.dates[-1])],
            area("average", style="band", interpolate="step", x=x,
                 **between("y", {"type": "quantitative"}, "lower", "upper")),
            _change_rule(),
            *_level("centre", style="level"),
            *_level("settled", strokeDash=[6, 4]),
            point("reading", size=24, opacity=0.45, x=x, color=READING),
            line("average", x=x, color=READING),
            _ring("look"),
            width=_plot_px(width_px),
            height=230,
            y=_value_axis(series.unit, (*limits, *chart.averages, *series.values)),
        )  # fmt: skip

    return Chart(
        name=f"wear-ewma-{slug(series.name, 'check')}",
        title=_title(report, [s.words for s in chart.signals], "drift"),
        caption=(
            f"The line is the average with weight {number(chart.weight)} for the newest reading "
            "(faint points: the readings). The band holds it around the centre, exact for the "
            "number of readings so far and the wider the shorter the baseline; dashed is where it "
            "settles. "
            "It finds a slow drift that single readings hide."
        ),
        alt=f"Fading average of {series.name}, {count(len(series.values), 'reading')}. "
        + (
            f"{len(chart.signals)} beyond its limits, the first on "
            f"{series.dates[chart.signals[0].index]}."
            if chart.signals
            else "It stays within its limits."
        ),
        spec=draw,
    )


def _average_rows(report: SeriesReport) -> list[Row]:
    """Averages with their limits, readings, what is to be looked at, and the levels."""
    chart, series = report.ewma, report.series
    assert chart is not None
    days = [on.isoformat() for on in series.dates]
    rows: list[Row] = [
        {"part": "average", "on": on, "value": round(average, 9), "lower": round(low, 9),
         "upper": round(high, 9)}
        for on, average, low, high in zip(
            days, chart.averages, chart.lower, chart.upper, strict=True
        )
    ]  # fmt: skip
    rows += [
        {"part": "reading", "on": on, "value": value}
        for on, value in zip(days, series.values, strict=True)
    ]
    rows += [
        {"part": "look", "on": days[s.index], "value": s.value, "words": s.words}
        for s in chart.signals
    ]
    levels = (
        ("centre", chart.center),
        ("settled", chart.lower_settled),
        ("settled", chart.upper_settled),
    )
    rows += [{"part": p, "value": at, "label": level_text(at, chart.sigma)} for p, at in levels]
    return rows


def _title(report: SeriesReport, words: Sequence[str], looked_for: str = "signal") -> str:
    name = report.series.name
    if report.course is not None and report.course.changed:
        moved, _, _ = report.finding.partition(", so its first")
        return f"{capital(name)}: {moved}"
    if not words:
        return f"{capital(name)}: no {looked_for} in {count(len(report.series.values), 'reading')}"
    more = f" ({count(len(words), 'signal')})" if len(words) > 1 else ""
    return f"{capital(name)}: {words[0]}{more}"
