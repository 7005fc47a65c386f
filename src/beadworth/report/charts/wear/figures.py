"""Which charts a wear log has, in the order they are shown; page, dossier and command ask here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart
from beadworth.report.charts.wear.check import average_chart, check_chart
from beadworth.report.charts.wear.hours import hours_chart
from beadworth.report.charts.wear.life import life_chart

if TYPE_CHECKING:
    from beadworth.wear import PartReport, SeriesReport, WearSummary


def wear_charts(summary: WearSummary) -> list[Chart]:
    """Every chart the log carries: hours, each check twice, each part that failed."""
    made = hours_charts(summary)
    for report in summary.series:
        made += series_charts(summary, report)
    for part in summary.parts:
        made += part_charts(part)
    return made


def hours_charts(summary: WearSummary) -> list[Chart]:
    """Hours run up, or nothing where they were entered on one day only."""
    return [hours_chart(summary)] if len(summary.hours) > 1 else []


def series_charts(summary: WearSummary, report: SeriesReport) -> list[Chart]:
    """The two charts of a check, or none where there are too few readings."""
    if report.individuals is None:
        return []
    return [check_chart(report, summary.changes), average_chart(report, summary.changes)]


def part_charts(part: PartReport) -> list[Chart]:
    """The Weibull plot of a part, or none where it has not failed."""
    return [] if part.survival is None else [life_chart(part)]
