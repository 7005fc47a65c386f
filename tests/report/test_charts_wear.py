"""Charts of a wear log: what they draw is what the summary says, at any width, and in words."""

from datetime import date, timedelta

import pytest

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX, render_svg
from beadworth.report.charts.wear.check import average_chart, check_chart
from beadworth.report.charts.wear.hours import hours_chart
from beadworth.report.charts.wear.life import life_chart
from beadworth.wear.entry import WearEntry
from beadworth.wear.summary import ChartSettings, wear_summary

DAY = date(2026, 3, 1)


def entry(days, kind, **more):
    return WearEntry(on=DAY + timedelta(days=days), kind=kind, **more)


STEADY = [0.060, 0.062, 0.059, 0.061, 0.060, 0.062, 0.061, 0.058, 0.060, 0.061]
LOG = [
    entry(0, "hours", hours_h=100.0),
    *(
        entry(7 * n, "check", what="play at the bed", place="x", value=value, unit="mm")
        for n, value in enumerate([*STEADY, 0.061, 0.080])
    ),
    *(
        made
        for n, span in enumerate([60, 90, 110, 75, 95], 1)
        for made in (
            entry(12 * n, "hours", hours_h=float(span)),
            entry(12 * n, "replacement", what="nozzle", because="failed"),
        )
    ),
    entry(30, "adjustment", what="x belt"),
    entry(70, "hours", hours_h=50.0),
    entry(70, "failure", what="part fan"),
]
FOUND = wear_summary(LOG, DAY)
REPORT = FOUND.series[0]
MORE = wear_summary(LOG, DAY, {REPORT.series.name: ChartSettings(more_rules=True)}).series[0]
NOZZLE = next(part for part in FOUND.parts if part.lives.part == "nozzle")


def rows(chart, part):
    return [row for row in chart.rows if row["part"] == part]


@pytest.mark.parametrize("width", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize(
    "chart",
    [
        hours_chart(FOUND),
        check_chart(REPORT, FOUND.changes),
        average_chart(REPORT, FOUND.changes),
        life_chart(NOZZLE),
    ],
)
def test_every_chart_draws_at_either_width_and_says_what_it_shows(chart, width):
    picture = render_svg(chart, width_px=width)
    assert picture.count("<path") > 5
    assert chart.alt
    assert chart.caption
    assert "NaN" not in picture


def test_hours_run_up_and_mark_what_happened():
    chart = hours_chart(FOUND)
    assert rows(chart, "hours")[-1]["total_h"] == FOUND.total_h == 580.0
    assert chart.title == "580 h printed, 6 failures"
    events = {(row["what"], row["event"]) for row in rows(chart, "event")}
    assert events == {("nozzle", "failed"), ("x belt", "adjusted"), ("part fan", "failed")}
    assert "x belt adjusted on 2026-03-31" in chart.alt


def test_individuals_draw_limits_baseline_and_signals():
    chart = check_chart(REPORT, FOUND.changes)
    assert [row["value"] for row in rows(chart, "reading")] == list(REPORT.series.values)
    assert sum(row["baseline"] for row in rows(chart, "reading")) == 10
    assert {row["value"] for row in rows(chart, "limit")} == {
        REPORT.individuals.lower, REPORT.individuals.upper,
    }  # fmt: skip
    assert [row["value"] for row in rows(chart, "look")] == [0.080]
    assert rows(chart, "look at step") == []
    steps = rows(check_chart(MORE), "look at step")
    assert [row["step"] for row in steps] == pytest.approx([0.019])
    assert "0.08 is above the upper limit" in chart.title
    assert {row["change"] for row in rows(chart, "change")} >= {"adjustment: x belt"}
    held = wear_summary(LOG, DAY, {REPORT.series.name: ChartSettings(target=0.06)}).series[0]
    assert "the target" in check_chart(held).caption


def test_ewma_draws_exact_and_settled_limits():
    chart = average_chart(REPORT)
    average = rows(chart, "average")
    assert [row["upper"] for row in average] == pytest.approx(REPORT.ewma.upper)
    assert {row["value"] for row in rows(chart, "settled")} == {
        REPORT.ewma.lower_settled, REPORT.ewma.upper_settled,
    }  # fmt: skip
    assert len(rows(chart, "look")) == len(REPORT.ewma.signals)


def test_lives_stand_where_the_law_and_the_product_limit_put_them():
    chart = life_chart(NOZZLE)
    assert len(rows(chart, "failure")) == 5
    assert [row["hours"] for row in rows(chart, "running")] == [50.0]
    law = rows(chart, "law")
    scale = NOZZLE.life.scale_h.value
    near = min(law, key=lambda row: abs(row["hours"] - scale))
    assert abs(near["height"]) < 0.2  # 63 % have failed at the scale: ln(-ln(1 - 0.632)) = 0
    assert "still running" in chart.alt


def test_too_few_failures_draw_points_and_say_so():
    few = wear_summary(LOG[:17], DAY)
    part = next(p for p in few.parts if p.lives.part == "nozzle")
    chart = life_chart(part)
    assert rows(chart, "law") == []
    assert "too few failures" in chart.title
    assert "cannot tell" in chart.caption
    render_svg(chart)
