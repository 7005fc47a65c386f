"""A Weibull plot: how long parts of one kind have lasted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import Channel
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import line, point, rule
from beadworth.text import capital, count, fixed, join_words, number, slug

if TYPE_CHECKING:
    from beadworth.wear import PartReport


def life_chart(report: PartReport) -> Chart:
    """A Weibull plot: failures, the law where they carry one, and lives still running."""
    lives, survival, life = report.lives, report.survival, report.life
    assert survival is not None
    ended = sorted(h for h, f in zip(lives.hours, lives.failed, strict=True) if not f)

    def draw(width_px: float) -> Spec:
        rows, hours, floor = _rows(report, ended)
        return plot(
            rows,
            line("law"),
            rule("tenth", strokeWidth=2, x2={"field": "to"}),
            point("failure", size=70),
            point("running", shape="triangle-right", size=80, filled=False),
            width=plot_px(width_px),
            height=260,
            x=_hours_axis(*hours),
            y=_share_axis(floor),
            color={"datum": "life", "scale": {"domain": ["life"]}, "legend": None},
        )

    failures = sum(lives.failed)
    return Chart(
        name=f"wear-life-{slug(lives.part, 'part')}",
        title=_life_title(report),
        caption=(
            "Lives on Weibull paper: the share failed, with parts still running or taken out "
            "early counted as having lasted at least so long (open triangles at the foot)."
            + (
                " The line is the law by maximum likelihood, the bar the 95\u00a0% interval of "
                "the hours by which a tenth have failed."
                if life is not None
                else f" No line is drawn: {report.cannot_tell}"
            )
        ),
        alt=f"{lives.part}: {count(failures, 'failure')} after "
        f"{join_words(number(h) for h in survival.times_h)} h, {len(ended)} still running or "
        f"taken out early. {life.sentence if life else report.cannot_tell}",
        spec=draw,
    )


def _rows(report: PartReport, ended: list[float]) -> tuple[list[Row], tuple[float, float], float]:
    """What is drawn, the hours it spans, and the height of the foot."""
    lives, survival, life = report.lives, report.survival, report.life
    assert survival is not None
    rows: list[Row] = [
        {"part": "failure", "hours": hours, "height": _height(share), "share": round(share, 4)}
        for hours, share in zip(survival.times_h, survival.plotted, strict=True)
    ]
    shortest = min(lives.hours)
    early = shortest if life is None or life.tenth_h.low is None else life.tenth_h.low
    low = max(0.7 * min(shortest, early), 0.2 * shortest)
    high = 1.35 * max(lives.hours)
    floor = min([_height(0.02), *(row["height"] for row in rows)]) - 0.25
    rows += [{"part": "running", "hours": h, "height": floor} for h in ended]
    if life is not None:
        for step in range(41):
            hours = low * (high / low) ** (step / 40)
            at = life.shape.value * math.log(hours / life.scale_h.value)
            if floor <= at <= _height(0.995):
                rows.append({"part": "law", "hours": round(hours, 3), "height": round(at, 5)})
        tenth = life.tenth_h
        reach = (max(low, tenth.low or low), min(high, tenth.high or high))
        rows.append({"part": "tenth", "height": _height(0.1), "hours": reach[0], "to": reach[1]})
    return rows, (low, high), floor


def _share_axis(floor: float) -> Channel:
    """Shares failed, at their places on Weibull paper."""
    shares = [0.02, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99]
    labels = " : ".join(
        f"abs(datum.value - ({_height(s):.4f})) < 0.001 ? '{number(100 * s)}\u00a0%'"
        for s in shares
    )
    return {
        "field": "height",
        "type": "quantitative",
        "title": "failed by then",
        "scale": {"domain": [floor - 0.2, _height(0.995)], "nice": False, "zero": False},
        "axis": {"values": [round(_height(s), 4) for s in shares], "labelExpr": f"{labels} : ''"},
    }


def _hours_axis(low: float, high: float) -> Channel:
    return {
        "field": "hours",
        "type": "quantitative",
        "title": "hours run, h",
        "scale": {"type": "log", "domain": [low, high], "nice": False},
        "axis": {"grid": False, "format": "~r", "labelOverlap": True, "values": _ticks(low, high)},
    }


def _ticks(low: float, high: float) -> list[float]:
    """1, 2 and 5 of every decade between two hours, with 3 and 7 where these are few."""
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)

    def between(steps: tuple[int, ...]) -> list[float]:
        return [s * 10.0**d for d in decades for s in steps if low <= s * 10.0**d <= high]

    few = between((1, 2, 5))
    return few if len(few) > 3 else between((1, 2, 3, 5, 7))


def _life_title(report: PartReport) -> str:
    life, part_name = report.life, report.lives.part
    if life is None:
        return f"{capital(part_name)}: too few failures for a life law"
    shape, tenth = life.shape, life.tenth_h
    low = "an unknown time" if tenth.low is None else fixed(tenth.low, 0)
    high = "an unknown time" if tenth.high is None else fixed(tenth.high, 0)
    if shape.low is not None and shape.low > 1:
        said = "wears out"
    elif shape.high is not None and shape.high < 1:
        said = "fails young"
    else:
        said = "wear-out not distinguished from chance"
    return f"{capital(part_name)}: {said}; a tenth fail by {low} to {high} h"


def _height(share: float) -> float:
    """Where a share failed stands on Weibull paper: ln(−ln(1 − share))."""
    return math.log(-math.log1p(-share))
