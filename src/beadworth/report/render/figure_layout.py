"""A chart laid out for the place it has on a canvas: plots grow or shrink, type keeps its size."""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.resources import as_file, files
from typing import Any

from beadworth.report.charts.chart import WIDE_PX, Chart, Spec, spec_svg, themed

_SIZE = re.compile(r'<svg[^>]*? width="([\d.]+)" height="([\d.]+)"')
_TALLEST, _FLATTEST = 3.0, 0.3
_TALLEST_STEP = 1.15


def laid_out(chart: Chart, room: float, free: float, type_scale: float) -> tuple[str, float, float]:
    """The chart drawn to fill its place: plots are made higher or lower, type stays as it is.

    Parameters
    ----------
    chart : Chart
    room, free : float, > 0
        Width and height of the place, CSS px.
    type_scale : float, > 0
        Factor on all type.

    Returns
    -------
    tuple of str, float, float
        SVG in the light colours, its width and its height, CSS px. A chart that cannot be made
        to fit comes wider or higher than its place.
    """
    px, stretch = room, 1.0
    spec = chart.draw(px)
    svg, wide, high = _drawn(chart, spec, type_scale, stretch)
    for _ in range(4):
        if wide > room + 0.5:
            px -= wide - room + 1.0
            spec = chart.draw(px)
        # type and legend keep their height, so only about what the plots take is free to change
        plots = max(0.25 * high, high - 110.0 * type_scale)
        wanted = stretch * max(0.1, 1 + (0.97 * free - high) / plots)
        wanted = min(_TALLEST, max(_FLATTEST, wanted))
        fits = wide <= room + 0.5 and 0.86 * free <= high <= free
        if fits or (wide <= room + 0.5 and abs(wanted - stretch) < 0.02):
            break
        stretch = wanted
        svg, wide, high = _drawn(chart, spec, type_scale, stretch)
    return svg, wide, high


def _drawn(chart: Chart, spec: Spec, type_scale: float, stretch: float) -> tuple[str, float, float]:
    _fonts()
    fitted = _stretched(spec, stretch)
    if type_scale != 1.0:
        fitted = _larger_type(fitted, type_scale)
        fitted = _narrowed(fitted) if "facet" in fitted else fitted
    dressed = themed(fitted, chart.alt, type_scale=type_scale)
    dressed["config"]["lineBreak"] = "\n"
    svg = spec_svg(dressed)
    found = _SIZE.search(svg)
    wide, high = (float(found[1]), float(found[2])) if found else (WIDE_PX, 400.0)
    return svg, wide, high


def _stretched(spec: dict[str, Any], factor: float) -> dict[str, Any]:
    """The spec with every plot's height times a factor; marks and type are left alone.

    Rows of bars grow less: what is written beside them keeps its distance.
    """
    made = dict(spec)
    height = spec.get("height")
    if isinstance(height, int | float):
        made["height"] = round(height * factor, 1)
    elif isinstance(height, dict) and "step" in height:
        made["height"] = height | {"step": round(height["step"] * min(factor, _TALLEST_STEP), 1)}
    for key in ("vconcat", "hconcat", "concat"):
        if key in spec:
            made[key] = [_stretched(inner, factor) for inner in spec[key]]
    if "spec" in spec:
        made["spec"] = _stretched(spec["spec"], factor)
    return made


def _larger_type(part: Any, factor: float) -> Any:
    """The same spec, with the few type sizes it names itself larger; data are left alone."""
    if isinstance(part, list):
        return [_larger_type(inner, factor) for inner in part]
    if not isinstance(part, dict):
        return part
    return {
        key: value * factor
        if key.lower().endswith("fontsize") and isinstance(value, int | float)
        else value
        if key == "data"
        else _larger_type(value, factor)
        for key, value in part.items()
    }


_LONG_WORDS = 14
# the space before the last two words of a panel's title
_HEADER = f"length(datum.label) > {_LONG_WORDS} ? replace(datum.label, " + (
    "regexp(' (?=[^ ]+ [^ ]+$)'), '\\n') : datum.label"
)


def _narrowed(spec: dict[str, Any]) -> dict[str, Any]:
    """Panels side by side with titles of two lines, so that words do not push them apart."""
    facet = dict(spec["facet"])
    facet["header"] = {**facet.get("header", {}), "labelExpr": _HEADER}
    return {**spec, "facet": facet, "spec": _two_lines(spec["spec"])}


def _two_lines(part: Any) -> Any:
    """The same spec, with every long title of a horizontal axis broken near its middle."""
    if isinstance(part, list):
        return [_two_lines(inner) for inner in part]
    if not isinstance(part, dict):
        return part
    made = {key: _two_lines(inner) for key, inner in part.items()}
    across: dict[str, Any] = made["x"] if isinstance(made.get("x"), dict) else {}
    title = across.get("title")
    if isinstance(title, str) and len(title) > _LONG_WORDS and " " in title:
        spaces = [n for n, letter in enumerate(title) if letter == " "]
        at = min(spaces, key=lambda n: abs(n - len(title) / 2))
        made["x"] = {**across, "title": [title[:at], title[at + 1 :]]}
    return made


@lru_cache(maxsize=1)
def _fonts() -> None:
    """The fonts that come along, made known to the renderer, once."""
    import vl_convert

    with as_file(files("beadworth.report").joinpath("fonts")) as folder:
        vl_convert.register_font_directory(str(folder))
