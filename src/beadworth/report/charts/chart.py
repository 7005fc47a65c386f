"""A chart: one Vega-Lite spec, a title that states the finding, and the finding in words.

Every chart is a pure function from data to :class:`Chart`. The spec names no
colour and no type size: :func:`with_theme` adds the configuration from
:mod:`beadworth.report.theme`, and browser, page, PDF and figure render that.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from beadworth.report.theme import DASHES, SHAPES, Mode, theme
from beadworth.text import xml_text

VEGA_LITE = "6.4"
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.4.0.json"
WIDE_PX = 820.0
NARROW_PX = 340.0
Spec = dict[str, Any]


@dataclass(frozen=True)
class Chart:
    """One chart, ready for any renderer."""

    name: str
    """Stable name for files and anchors: ``loss``, ``ceilings``."""
    title: str
    """The finding, as a sentence without its full stop."""
    caption: str
    """How to read the marks."""
    alt: str
    """The content in words, for a reader who cannot see it."""
    spec: Spec
    """Vega-Lite, without ``config`` and title."""
    width_px: float

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The data drawn, as the rows of a table."""
        values: list[dict[str, Any]] = self.spec["data"]["values"]
        return values


def with_theme(
    chart: Chart,
    mode: Mode = "light",
    *,
    title: bool = True,
    transparent: bool = True,
    type_scale: float = 1.0,
) -> Spec:
    """The spec with its configuration, and with the finding as its title unless told not to."""
    config = theme(mode, transparent=transparent, type_scale=type_scale)
    spec = {**chart.spec, "config": {**config, "aria": False}}
    if title:
        lines = textwrap.wrap(chart.title, max(20, int(chart.width_px / 8.6)))
        spec["title"] = {"text": lines}
    spec["description"] = chart.alt
    legible_spec: Spec = xml_text(spec)
    return legible_spec


def render_svg(
    chart: Chart, mode: Mode = "light", *, title: bool = True, transparent: bool = True
) -> str:
    """The chart as SVG text."""
    import vl_convert

    text: str = vl_convert.vegalite_to_svg(
        with_theme(chart, mode, title=title, transparent=transparent), vl_version=VEGA_LITE
    )
    return text


def render_png(
    chart: Chart,
    mode: Mode = "light",
    *,
    scale: float = 2.0,
    title: bool = True,
    transparent: bool = False,
) -> bytes:
    """The chart as PNG bytes, ``scale`` pixels to the CSS pixel."""
    import vl_convert

    data: bytes = vl_convert.vegalite_to_png(
        with_theme(chart, mode, title=title, transparent=transparent),
        vl_version=VEGA_LITE,
        scale=scale,
    )
    return data


def inline_svg(chart: Chart, prefix: str) -> str:
    """The chart as an SVG element to stand inside a page.

    Identifiers get ``prefix`` (two pictures in one page must not share a clip
    path), the size follows the column, and the alt text names the picture.
    """
    from markupsafe import escape

    text = render_svg(chart, title=False)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{prefix}-\1"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{prefix}-\1)", text)
    text = re.sub(r'(xlink:href|href)="#([^"]+)"', rf'\1="#{prefix}-\2"', text)
    head, _, body = text.partition(">")
    # one picture with one alt text: the marks inside must not ask for texts of their own
    body = re.sub(r' (?:role|aria-[a-z]+)="[^"]*"', "", body)
    box = re.search(r'viewBox="[^"]*"', head)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {box.group() if box else ""} '
        f'role="img" aria-label="{escape(xml_text(chart.alt))}" class="{prefix}">{body}'
    )


def rig_scales(rigs: Sequence[str], width_px: float) -> dict[str, Any]:
    """Colour, dash and shape encodings of rigs, in one order, with one legend.

    The first rig (the baseline) always takes the first colour, dash and shape. Rows that
    are drawn as a dashed line carry :func:`place` of their rig.
    """
    many = len(rigs)

    def dealt(kit: Sequence[Any]) -> list[Any]:
        return [kit[i % len(kit)] for i in range(many)]

    room = 46 if width_px >= 500 else 34
    legend: Any = {
        "columns": 1 if width_px < 500 else max(1, int(width_px // (90 + 6.2 * _longest(rigs)))),
        "labelExpr": f"length(datum.label) > {room} ? "
        f"slice(datum.label, 0, {room - 1}) + '…' : datum.label",
    }
    if many < 2:
        legend = None
    field = {"field": "rig", "type": "nominal"}
    domain = list(rigs)
    return {
        "color": {**field, "scale": {"domain": domain}, "legend": legend},
        # By its place rather than by its name: a dash that is a scale of the name would
        # also be drawn around the symbol in the legend.
        "dash": {
            "condition": [
                {"test": f"datum.place === {n}", "value": list(dash)}
                for n, dash in enumerate(DASHES)
                if n
            ],
            "value": list(DASHES[0]),
        },
        "shape": {
            **field,
            "scale": {"domain": domain, "range": dealt(SHAPES)},
            "legend": legend,
        },
    }


def place(rigs: Sequence[str], rig: str) -> int:
    """Which of the dashes a rig takes."""
    return list(rigs).index(rig) % len(DASHES)


PER_CENT = "replace(datum.label, '%', '\u00a0%')"
"""Axis label expression that sets the sign off from the number, as everywhere else."""


def six_figures(value: float) -> float:
    """A value as it is drawn: six significant figures are more than any pixel shows."""
    return float(f"{value:.6g}")


def part(name: str) -> list[dict[str, str]]:
    """The transform that keeps the rows of one part of the picture."""
    return [{"filter": f"datum.part === '{name}'"}]


def quantitative(field: str, title: str | None = None, **more: Any) -> dict[str, Any]:
    """A numeric channel; ``title`` None leaves the axis untitled."""
    return {"field": field, "type": "quantitative", "title": title, **more}


def axis(domain: tuple[float, float], **more: Any) -> dict[str, Any]:
    """Scale and axis of a numeric position channel with a fixed domain."""
    return {"scale": {"domain": list(domain), "nice": False, "zero": False}, "axis": more}


def panels(count: int, width_px: float, left_px: float = 58.0, gap_px: float = 34.0) -> Any:
    """How many panels side by side, and how wide each: ``(columns, panel_px)``."""
    most = 1 if width_px < 500 else 3
    count = max(1, count)
    rows = -(-count // most)
    columns = -(-count // rows)
    free = width_px - left_px - 12.0 - gap_px * (columns - 1)
    return columns, round(free / columns, 1)


def _longest(words: Sequence[str]) -> int:
    return min(46, max((len(word) for word in words), default=0))
