"""Which charts a wear log has, in the order they are shown; page, dossier and command ask here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.report.blocks import Draw
from beadworth.report.charts.wear.check import average_chart, check_chart
from beadworth.report.charts.wear.hours import hours_chart
from beadworth.report.charts.wear.life import life_chart

if TYPE_CHECKING:
    from beadworth.wear import PartReport, SeriesReport, WearSummary


def wear_charts(summary: WearSummary) -> list[Draw]:
    """Every chart the log carries: hours, each check twice, each part that failed."""
    drawn = hours_charts(summary)
    for report in summary.series:
        drawn += series_charts(summary, report)
    for part in summary.parts:
        drawn += part_charts(part)
    return drawn


def hours_charts(summary: WearSummary) -> list[Draw]:
    """Hours run up, or nothing where they were entered on one day only."""
    if len(summary.hours) < 2:
        return []
    return [lambda px: hours_chart(summary, width_px=px)]


def series_charts(summary: WearSummary, report: SeriesReport) -> list[Draw]:
    """The two charts of a check, or none where there are too few readings."""
    if report.individuals is None:
        return []
    return [
        lambda px: check_chart(report, summary.changes, width_px=px),
        lambda px: average_chart(report, summary.changes, width_px=px),
    ]


def part_charts(part: PartReport) -> list[Draw]:
    """The Weibull plot of a part, or none where it has not failed."""
    if part.survival is None:
        return []
    return [lambda px: life_chart(part, width_px=px)]
