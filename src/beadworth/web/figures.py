"""Charts of the report, drawn for the page: one definition, two widths, any mode.

A drawing is SVG in the page, in the colours of the light theme that style rules turn into
those of the reader's mode. The same spec stands beside it for the chart library, which makes
each mark tell its values.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from markupsafe import Markup

from beadworth.report import NARROW_PX, WIDE_PX, Chart, inline_svg, with_theme
from beadworth.web.responses import script_json


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


def figure(chart: Chart, *, wide_px: float = WIDE_PX, drawn: bool = True) -> Figure:
    """A chart as a figure of the page, drawn once for each width.

    ``drawn`` False leaves the drawings empty, for a page that has them and wants new rows only.
    """
    drawings = []
    for kind, width_px in (("wide", wide_px), ("narrow", NARROW_PX)):
        spec = with_theme(chart, width_px=width_px, title=False)
        text = _drawn(json.dumps(spec), chart.alt, f"{chart.name}-{kind}") if drawn else ""
        svg = Markup(text)
        drawings.append(Drawing(kind, svg, _spec_text(spec)))
    return Figure(chart.name, chart.title, chart.caption, tuple(drawings))


def figure_if_any(chart: Chart | None) -> Figure | None:
    """The figure of a chart that some data leave nothing to draw of."""
    return None if chart is None else figure(chart)


@lru_cache(maxsize=64)
def _drawn(spec: str, alt: str, prefix: str) -> str:
    """The SVG, as large as the chart library makes it; the same data is drawn once."""
    return inline_svg(json.loads(spec), alt, prefix, own_size=True)


def _spec_text(spec: dict[str, Any]) -> Markup:
    """The spec as JSON that cannot close the element it stands in; marks tell their values."""
    config = {**spec["config"], "mark": {"tooltip": {"content": "data"}}}
    return script_json({**spec, "config": config})
