"""What matters most to an answer about worth: each input moved alone over its interval."""

from __future__ import annotations

import math
from collections.abc import Sequence

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import TEXT, Channel, narrow, quantity, series, six_figures
from beadworth.report.charts.layout import plot
from beadworth.report.charts.marks import bar, rule, text
from beadworth.worth import Swing, Tornado, Worth, figures, outcome_words

SHOWN = 10
LEAST = 0.02
"""Swings drawn: so many, and none under this share of the widest; the rest is a count."""
LOW, HIGH = "at the low end of its interval", "at the high end"


def tornado_chart(worth: Worth, outcome: str | None = None) -> Chart | None:
    """Each input moved alone over its interval, the widest swing on top.

    ``outcome`` left out: the net over the case's months, or the hours saved where no hour has
    a worth. None where nothing is uncertain.
    """
    name = outcome or ("net" if "net" in worth.tornado else "hours_saved")
    found = worth.tornado[name]
    widest = found.swings[0].size if found.swings else 0.0
    shown = [s for s in found.swings[:SHOWN] if not s.size < LEAST * widest]
    if not shown or not math.isfinite(found.middle):
        return None
    unit = "h a year" if name == "hours_saved" else "months"
    unit = worth.currency if name in ("net", "cost") else unit
    called = outcome_words(name, worth.months)

    def draw(width_px: float) -> Spec:
        slim = narrow(width_px)
        left = 16.0 if slim else min(250.0, 20.0 + 6.4 * max(len(s.label) for s in shown))
        plot_px = width_px - left - 18.0
        rows = _rows(found.middle, shown)
        title = f"{called}, {unit}".removesuffix(", ")
        place = quantity("outcome", title)
        y: Channel = {
            "field": "input", "type": "nominal", "sort": [s.label for s in shown], "title": None,
            "scale": {"paddingInner": 0.58 if slim else 0.3, "paddingOuter": 0.4},
            "axis": None if slim else {"domain": False, "ticks": False, "labelLimit": left},
        }  # fmt: skip
        # names above their bars: beside them they would leave no room
        above = text(
            "name",
            style="label",
            align="left",
            dy=-4,
            baseline="bottom",
            y=y | {"bandPosition": 0},
            x={"value": 0},
            text={"field": "input"},
        )
        middle = quantity("middle", title, _domain(rows, found.middle, plot_px),
                          tickCount=4 if slim else 6, grid=False)  # fmt: skip
        return plot(
            rows,
            bar("bar", x=middle, x2={"field": "outcome"},
                color=series("side", (LOW, HIGH), columns=1 if slim else 2)),
            rule("name", style="level", y=None,
                 x={"datum": six_figures(found.middle), "type": "quantitative"}),
            text("bar", where="datum.left === false", style="note", align="left", dx=5, x=place,
                 text=TEXT),
            text("bar", where="datum.left === true", style="note", align="right", dx=-5, x=place,
                 text=TEXT),
            *([above] if slim else []),
            width=plot_px,
            height={"step": 56 if slim else 34},
            y=y,
        )  # fmt: skip

    first = shown[0]
    rest = len(found.swings) - len(shown)
    moved = "One input that moves" if rest == 1 else f"{rest} inputs that move"
    more = f" {moved} it less {'is' if rest == 1 else 'are'} left out." if rest else ""
    return Chart(
        name=f"worth-tornado-{name.replace('_', '-')}",
        title=f"What matters most to {called}: {first.label}",
        caption="Each input moved alone over its 95\u00a0% interval, the others at their middles; "
        f"the line is where all are at their middles. Beside a bar stands the input's end.{more}",
        alt=_tornado_alt(found, shown, called, unit),
        spec=draw,
    )


def _rows(middle: float, shown: Sequence[Swing]) -> list[Row]:
    """Both ends of each swing that have an end, and the input's name."""
    rows: list[Row] = []
    for swing in shown:
        for side, end, given in (
            (LOW, swing.at_low, swing.low_input),
            (HIGH, swing.at_high, swing.high_input),
        ):
            if math.isfinite(end):
                words = _given(given, swing)
                rows.append(
                    {"part": "bar", "input": swing.label, "side": side,
                     "middle": six_figures(middle), "outcome": six_figures(end),
                     "given": words, "text": words, "left": end < middle}
                )  # fmt: skip
        rows.append({"part": "name", "input": swing.label, "at": six_figures(middle)})
    return rows


def _domain(rows: Sequence[Row], middle: float, plot_px: float) -> tuple[float, float]:
    """The axis of outcomes, with room for the words beside the longest bars."""
    bars = [row for row in rows if row["part"] == "bar"]
    ends = [middle, *(row["outcome"] for row in bars)]
    low, high = min(ends), max(ends)
    beside_px = 12.0 + 6.6 * max(len(row["text"]) for row in bars)
    room = (high - low or 1.0) * beside_px / max(plot_px - 2.0 * beside_px, 40.0)
    return low - room, high + room


def _tornado_alt(found: Tornado, shown: Sequence[Swing], called: str, unit: str) -> str:
    words = [
        f"{s.label} from {_given(s.low_input, s)} to {_given(s.high_input, s)}: "
        f"{_end(s.at_low)} to {_end(s.at_high)}"
        for s in shown
    ]
    return (
        f"{called.capitalize()}: {figures(found.middle)} {unit} in the middle. {'; '.join(words)}."
    )


def _given(value: float, swing: Swing) -> str:
    """An input's end as it stands beside its bar."""
    if not math.isfinite(value):
        return "no limit"
    unit = f"\u00a0{swing.unit}" if swing.unit else ""
    return f"{figures(value, swing.high_input - swing.low_input or None)}{unit}"


def _end(value: float) -> str:
    return figures(value) if math.isfinite(value) else "never"
