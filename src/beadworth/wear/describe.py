"""What a check did, in words: moved as a whole, a signal, or nothing seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

from beadworth.text import number, percent
from beadworth.wear.alternatives import YEAR_DAYS
from beadworth.wear.control import Rule, level_text
from beadworth.wear.course import HIGHEST_SD, Course

if TYPE_CHECKING:
    from beadworth.wear.log import Series
    from beadworth.wear.summary import SeriesReport

CHART_LEVEL = 0.003
"""Chance that a log of independent readings gives a signal of one of the two charts where nothing
changed, all checks of it together."""


def finding(report: SeriesReport) -> str:
    """What a series with charts shows, without its name."""
    single, series = report.individuals, report.series
    assert single is not None
    base = single.baseline
    level = "the target" if base.target is not None else "the baseline's mean"
    lower, upper, center = (
        level_text(value, base.sigma) for value in (single.lower, single.upper, base.center)
    )
    held = (
        f"Limits {lower} to {upper} {series.unit} around {level} {center}, from the first "
        f"{base.count} readings; their scatter is known to {100 * base.u_sigma_relative:.0f} %."
    )
    if report.course is not None and report.course.changed:
        return course_words(report.course, series)
    signals = report.signals
    if not signals:
        many = len(series.values)
        return (
            f"no signal in {many} readings, which is not proof of no change{_would_show(report)}. "
            f"{held}{_neighbours(report.course)}"
        )
    rules = get_args(Rule)
    firsts = {signal.rule: signal for signal in reversed(signals)}
    kinds = sorted(firsts.values(), key=lambda s: (s.index, rules.index(s.rule)))
    listed = "; ".join(f"{series.dates[signal.index]}, {signal.words}" for signal in kinds)
    said = f"{len(signals)} signals, the first of each kind: {listed}."
    if len(signals) == 1:
        said = f"look at the reading of {listed}."
    chance = "" if single.more_rules else f" {_chance(2 * CHART_LEVEL)}"
    return f"{said}{chance} {held}{_neighbours(report.course)}"


def course_words(course: Course, series: Series) -> str:
    """A series that rose, fell or stepped as a whole."""
    size = f"{number(abs(course.size), 2)} {series.unit}"
    if course.at is None:
        way = "rises" if course.size > 0 else "falls"
        what = f"{way} by {size} a month over {len(series.values)} readings"
    else:
        way = "up" if course.size > 0 else "down"
        before, after = series.dates[course.at - 1], series.dates[course.at]
        what = f"stepped {way} by {size} between {before} and {after}"
    said = f"{what}, so its first readings are no baseline for the rest. {_chance(course.chance)}"
    if course.season is not None:
        said += f" A yearly season of ±{number(course.season, 2)} {series.unit} was taken out."
    elif (series.dates[-1] - series.dates[0]).days < YEAR_DAYS:
        said += " Less than a year is logged: a season can look the same."
    return said + _neighbours(course)


def _would_show(report: SeriesReport) -> str:
    """What a change must be to show."""
    course = report.course
    if course is None:
        return ""
    if course.would_show is None:
        return f": so few show no step of less than {HIGHEST_SD:g} standard deviations"
    height = number(course.would_show, 2)
    return f": a step of {height} {report.series.unit} in their middle shows in nine logs of ten"


def _chance(chance: float) -> str:
    """The chance of a false signal, no finer than it is known."""
    rounded = "under 0.1 %" if chance < 0.001 else f"about {percent(chance, 1)}"
    return f"Chance of as much in a log that never changed: {rounded}."


def _neighbours(course: Course | None) -> str:
    if course is None or course.neighbours == 0:
        return ""
    return (
        f" Neighbouring readings agree more than independent ones would (correlation "
        f"{number(course.neighbours, 1)}): limits from their steps are too narrow, and so few "
        "readings tell less."
    )
