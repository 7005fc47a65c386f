"""Charts of the report, drawn for the page: one definition, two widths, any mode.

A drawing is SVG in the page, in the colours of the light theme that style rules turn into
those of the reader's mode. The same spec stands beside it for the chart library, which makes
each mark tell its values.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from markupsafe import Markup

from beadworth.report import NARROW_PX, WIDE_PX, Chart, inline_svg, with_theme


@dataclass(frozen=True)
class Drawing:
    """One chart at one width."""

    kind: str
    svg: Markup
    spec: Markup


@dataclass(frozen=True)
class Figure:
    """One chart as a figure of the page."""

    name: str
    title: str
    caption: str
    drawings: tuple[Drawing, ...]


def figure(draw: Callable[[float], Chart]) -> Figure:
    """The figure of a chart that is drawn by its width in px."""
    charts = {"wide": draw(WIDE_PX), "narrow": draw(NARROW_PX)}
    wide = charts["wide"]
    drawings = tuple(
        Drawing(
            kind,
            Markup(_drawn(json.dumps(chart.spec), chart.alt, f"{chart.name}-{kind}")),
            _spec(chart),
        )
        for kind, chart in charts.items()
    )
    return Figure(wide.name, wide.title, wide.caption, drawings)


def figure_if_any(draw: Callable[[float], Chart | None]) -> Figure | None:
    """The figure of a chart that some data leave nothing to draw of."""
    charts = {px: draw(px) for px in (WIDE_PX, NARROW_PX)}
    if None in charts.values():
        return None
    return figure(lambda px: charts[px])  # type: ignore[arg-type,return-value]


@lru_cache(maxsize=64)
def _drawn(spec: str, alt: str, prefix: str) -> str:
    """The SVG, kept: the same data is drawn once."""
    chart = Chart(prefix, "", "", alt, json.loads(spec), 0.0)
    return inline_svg(chart, prefix)


def _spec(chart: Chart) -> Markup:
    """The spec as JSON that cannot close the element it stands in."""
    spec = with_theme(chart, title=False)
    spec["config"]["mark"] = {"tooltip": {"content": "data"}}
    text = json.dumps(spec, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("<", "\\u003c"))
