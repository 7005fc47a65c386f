"""Channels of a chart: what a column of its rows becomes, a place, a colour, a shape, a text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from beadworth.report.theme import DASHES, SHAPES

Channel = dict[str, Any]
HIDDEN: Channel = {"legend": None}
PER_CENT = "replace(datum.label, '%', '\u00a0%')"
"""Axis label expression that sets the sign off from the number, as everywhere else."""
ONE: Channel = {"datum": "one", "type": "nominal", "scale": {"domain": ["one"]}, "legend": None}
"""Colour of the only series there is: the first of the palette."""
TEXT: Channel = {"field": "text"}
"""What is written beside a mark: the column ``text``."""


def narrow(width_px: float) -> bool:
    """Whether a picture is for a phone: panels and legends stand one under the other."""
    return width_px < 500


def per_cent_axis(style: str = "~%", **options: Any) -> Channel:
    """Options of an axis whose numbers are fractions, written as per cent."""
    return {"format": style, "labelExpr": PER_CENT, **options}


def quantity(
    field: str,
    title: str | None = None,
    domain: tuple[float, float] | None = None,
    **axis: Any,
) -> Channel:
    """A numeric place; with a domain the axis runs over just that, with the options given.

    ``title`` None leaves the axis untitled.
    """
    made: Channel = {"field": field, "type": "quantitative", "title": title}
    if domain is not None:
        made["scale"] = {"domain": list(domain), "nice": False, "zero": False}
        made["axis"] = axis
    return made


def names(field: str, order: Sequence[str], **axis: Any) -> Channel:
    """A row for each name, in order, with the name on a bare axis."""
    return {
        "field": field, "type": "nominal", "sort": list(order), "title": None,
        "axis": {"domain": False, "ticks": False, **axis},
    }  # fmt: skip


def between(axis: str, place: Channel, low: str = "low", high: str = "high") -> dict[str, Any]:
    """The two channels of an interval along ``x`` or ``y``, on the scale of a place."""
    return {axis: {**place, "field": low}, f"{axis}2": {"field": high}}


def series(field: str, domain: Sequence[str], **legend: Any) -> Channel:
    """A colour for each name of a column, in order; without options it has no legend."""
    return {
        "field": field, "type": "nominal", "scale": {"domain": list(domain)},
        "legend": legend or None,
    }  # fmt: skip


def heat(field: str, domain: Sequence[Any], legend: Channel | None = None) -> Channel:
    """A step of the heat colours for each value of a column, in order."""
    return {"field": field, "type": "ordinal", "scale": {"domain": list(domain)}, "legend": legend}


def when(test: str, value: Any, otherwise: Any) -> Channel:
    """One value where a test holds, another where not."""
    return {"condition": {"test": test, "value": value}, "value": otherwise}


def dashes(many: int = len(DASHES)) -> Channel:
    """The dash of each line, by the column ``place``.

    By place rather than by name: a dash that is a scale of the name would also be drawn
    around the symbol in the legend.
    """
    return {
        "condition": [
            {"test": f"datum.place === {n}", "value": list(DASHES[n])} for n in range(1, many)
        ],
        "value": list(DASHES[0]),
    }


class RigLook(NamedTuple):
    """Colour, dash and shape of rigs."""

    color: Channel
    dash: Channel
    shape: Channel


def rig_look(rigs: Sequence[str], width_px: float) -> RigLook:
    """How rigs are told apart, in one order, with one legend.

    The first rig (the baseline) always takes the first colour, dash and shape. Rows that
    are drawn as a dashed line carry :func:`place` of their rig.
    """
    most = 34 if narrow(width_px) else 46
    longest = min(46, max((len(rig) for rig in rigs), default=0))
    legend = {
        "columns": 1 if narrow(width_px) else max(1, int(width_px // (90 + 6.2 * longest))),
        "labelExpr": f"length(datum.label) > {most} ? "
        f"slice(datum.label, 0, {most - 1}) + '…' : datum.label",
    }
    color = series("rig", rigs, **(legend if len(rigs) > 1 else {}))
    dealt = [SHAPES[n % len(SHAPES)] for n in range(len(rigs))]
    return RigLook(color, dashes(), {**color, "scale": {"domain": list(rigs), "range": dealt}})


def place(rigs: Sequence[str], rig: str) -> int:
    """Which of the dashes a rig takes."""
    return list(rigs).index(rig) % len(DASHES)


def six_figures(value: float) -> float:
    """A value as it is drawn: six significant figures are more than any pixel shows."""
    return float(f"{value:.6g}")


def rounded(value: float, decimals: int) -> float:
    """A value short enough for a file that people read; -0.0 becomes 0.0."""
    return round(float(value), decimals) + 0.0
