"""A chart: a name, the finding in words, and a Vega-Lite spec for whatever width is asked.

Every chart is made by one pure function from data. What it is called and what it says is
known at once; its spec is drawn when a picture is asked for. The spec names no colour and no
type size: :func:`with_theme` adds the configuration from :mod:`beadworth.report.theme`, and
browser, page, PDF and figure render that.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from beadworth.report.theme import Mode, theme
from beadworth.text import distinct_slug, xml_text

VEGA_LITE = "6.4"
WIDE_PX = 820.0
NARROW_PX = 340.0
_TAG = re.compile(r'<(?:[^<>"]|"[^"]*")*>')
"""A tag of a drawing; what stands between tags is somebody's words."""
_NAMED = re.compile(r'( id="|href="#|url\(#)([^")]+)')
_TOLD = re.compile(r' (?:role|aria-[a-z]+)="[^"]*"')
Spec = dict[str, Any]
Row = dict[str, Any]
"""One row of the data a chart draws."""


@dataclass(frozen=True)
class Chart:
    """One chart, named and described before it is drawn."""

    name: str
    """Stable name for files and anchors: ``loss``, ``ceilings``."""
    title: str
    """The finding, as a sentence without its full stop."""
    caption: str
    """How to read the marks."""
    alt: str
    """The content in words, for a reader who cannot see it."""
    spec: Callable[[float], Spec]
    """Vega-Lite for a width in CSS px, without ``config`` and title; ask :meth:`draw`."""

    def draw(self, width_px: float = WIDE_PX) -> Spec:
        """The Vega-Lite spec, laid out for a width in CSS px."""
        return self.spec(width_px)

    @property
    def rows(self) -> list[Row]:
        """The data drawn at full width, as the rows of a table."""
        values: list[Row] = self.draw()["data"]["values"]
        return values


def with_theme(
    chart: Chart,
    mode: Mode = "light",
    *,
    width_px: float = WIDE_PX,
    title: bool = True,
    transparent: bool = True,
    type_scale: float = 1.0,
) -> Spec:
    """The spec with its configuration, and with the finding as its title unless told not to."""
    spec = themed(chart.draw(width_px), chart.alt, mode, transparent, type_scale)
    if title:
        lines = textwrap.wrap(chart.title, max(20, int(width_px / 8.6)))
        spec["title"] = {"text": xml_text(lines)}
    return spec


def themed(
    spec: Spec,
    alt: str,
    mode: Mode = "light",
    transparent: bool = True,
    type_scale: float = 1.0,
) -> Spec:
    """A drawn spec with its configuration and its alt text, without a title."""
    config = theme(mode, transparent=transparent, type_scale=type_scale)
    clean: Spec = xml_text({**spec, "config": {**config, "aria": False}, "description": alt})
    return clean


def render_svg(
    chart: Chart,
    mode: Mode = "light",
    *,
    width_px: float = WIDE_PX,
    title: bool = True,
    transparent: bool = True,
) -> str:
    """The chart as SVG text."""
    return spec_svg(
        with_theme(chart, mode, width_px=width_px, title=title, transparent=transparent)
    )


def spec_svg(spec: Spec) -> str:
    """A spec with its theme as SVG text."""
    return svg_of_json(json.dumps(spec))


@lru_cache(maxsize=128)  # a picture takes a tenth of a second; a page opened again has the same
def svg_of_json(spec: str) -> str:
    """A spec with its theme, as JSON, drawn as SVG text; kept for when it is asked for again."""
    import vl_convert

    text: str = vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE)
    return text


def render_png(
    chart: Chart,
    mode: Mode = "light",
    *,
    width_px: float = WIDE_PX,
    scale: float = 2.0,
    title: bool = True,
    transparent: bool = False,
) -> bytes:
    """The chart as PNG bytes, ``scale`` pixels to the CSS pixel."""
    import vl_convert

    data: bytes = vl_convert.vegalite_to_png(
        with_theme(chart, mode, width_px=width_px, title=title, transparent=transparent),
        vl_version=VEGA_LITE,
        scale=scale,
    )
    return data


def inline_svg(spec: Spec, alt: str, prefix: str, *, own_size: bool = False) -> str:
    """A spec with its theme as an SVG element to stand inside a page.

    Identifiers get ``prefix`` (two pictures in one page must not share a clip
    path), as a slug: no name of a rig or check in it becomes markup. The size
    follows the column, or is the drawing's own; the alt text names the picture.
    """
    from markupsafe import escape

    own = distinct_slug(prefix)

    def renamed(tag: re.Match[str]) -> str:
        return _NAMED.sub(lambda found: f"{found[1]}{own}-{found[2]}", tag[0])

    head, _, body = _TAG.sub(renamed, spec_svg(spec)).partition(">")
    # one picture with one alt text: the marks inside must not ask for texts of their own
    body = _TAG.sub(lambda tag: _TOLD.sub("", tag[0]), body)
    kept = "viewBox|width|height" if own_size else "viewBox"
    size = "".join(re.findall(rf' (?:{kept})="[^"]*"', head))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{size} '
        f'role="img" aria-label="{escape(xml_text(alt))}" class="{own}">{body}'
    )
