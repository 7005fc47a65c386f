"""Figures for video and posts: a chart on a canvas of exact size, its type fit for a phone.

A chart is laid out once for the shape of its canvas and then coloured and drawn at every size.
The smallest type has capitals at least :data:`CAP_FRACTION` of the canvas's shorter side high:
on a phone 65 mm wide that is 1.1 mm (common practice, no source).
"""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Literal

from beadworth.core import NotFoundError
from beadworth.report.blocks import Figure
from beadworth.report.charts.trial.number import number_chart
from beadworth.report.render.figure_layout import laid_out
from beadworth.report.sections.order import filled_sections
from beadworth.report.summary import facts_of, quoted, simulated_parts
from beadworth.report.theme import COLOURS
from beadworth.text import next_free, slug, xml_text

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

    from beadworth.report.charts.chart import Chart
    from beadworth.report.data import ReportData

CAP_FRACTION = 0.017
MARGIN_FRACTION = 0.025
"""Of the shorter side: nothing is drawn nearer to the edge."""
LEAST_TYPE_PX = 12.0
TITLE_PX = 19.0
FONT = "Liberation Sans"
Ground = Literal["light", "dark", "transparent"]
GROUNDS: tuple[Ground, ...] = ("light", "dark", "transparent")
_COLOUR = re.compile(r"#[0-9a-f]{6}\b")


@dataclass(frozen=True)
class Shape:
    """A canvas: its name, the CSS pixels it is laid out in, the sizes in pixels it is drawn at."""

    name: str
    wide: float
    high: float
    sizes: tuple[tuple[int, int], ...]
    type_scale: float = 1.0

    @property
    def margin(self) -> float:
        """Free space at each edge, CSS px."""
        return 1.6 * MARGIN_FRACTION * min(self.wide, self.high)


SHAPES = (
    Shape("16:9", 1920 / 2.25, 480.0, ((1920, 1080), (3840, 2160))),
    Shape("9:16", 400.0, 1920 / 2.7, ((1080, 1920),)),
    # wide enough for panels side by side, so its type is drawn larger
    Shape("1:1", 600.0, 600.0, ((1080, 1080),), type_scale=600 / 480),
)


@dataclass(frozen=True)
class Picture:
    """A chart to draw: its file name, the chart, and what stands at its foot."""

    name: str
    chart: Chart
    foot: str
    simulated: bool


def pictures(data: ReportData) -> list[Picture]:
    """Every chart of a dossier under names that tell them apart, the one number first; none drawn.

    The one number is the ceiling that the answer quotes; it stands in no section.
    """
    return list(_pictures(data))


def figure(data: ReportData, name: str) -> Chart:
    """One chart of a dossier by its name in :func:`pictures`.

    Raises
    ------
    NotFoundError
        No figure of this name.
    """
    for picture in _pictures(data):
        if picture.name == name:
            return picture.chart
    raise NotFoundError(f"there is no figure {name!r}.", where="figures", value=name)


def _pictures(data: ReportData) -> Iterator[Picture]:
    """The pictures one by one: who looks for one gathers no section behind it."""
    foot, simulated = " · ".join(facts_of(data)), bool(simulated_parts(data))
    taken: set[str] = set()
    one_number = quoted(data)
    if one_number is not None and one_number.low is not None:
        taken.add("number")
        yield Picture("number", number_chart(one_number), foot, simulated)
    for one in filled_sections(data):
        for block in one.blocks:
            if isinstance(block, Figure):
                name = next_free(slug(block.chart.name, "figure", most=200), taken)
                taken.add(name)
                yield Picture(name, block.chart, foot, simulated)


def canvas_svg(picture: Picture, shape: Shape) -> str:
    """The chart on its canvas in the light colours, as SVG; :func:`coloured` gives the others."""
    pad = shape.margin
    room = shape.wide - 2 * pad
    size = TITLE_PX * shape.type_scale
    title = picture.chart.title
    lines = wrapped(xml_text(title), size, room, bold=True)
    head = pad + size * (0.8 + 1.22 * (len(lines) - 1)) + 16.0
    small = LEAST_TYPE_PX * shape.type_scale
    foot = _foot(picture, small, room)
    below = pad + small * (1.3 * len(foot) + 0.7)
    free = shape.high - head - below
    svg, wide, high = laid_out(picture.chart, room, free, shape.type_scale)
    scale = min(1.0, room / wide, free / high)
    top = head + max(0.0, (free - high * scale) / 2)
    text = "".join(
        _text(line, pad, pad + size * (0.8 + 1.22 * n), size, "ink", bold=True)
        for n, line in enumerate(lines)
    )
    base = shape.high - pad - 0.25 * small
    for n, (line, colour) in enumerate(reversed(foot)):
        text += _text(line, pad, base - 1.3 * small * n, small, colour, bold=colour == "caution")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{shape.sizes[0][0]}" height="{shape.sizes[0][1]}" '
        f'viewBox="0 0 {shape.wide:.4f} {shape.high:.4f}">'
        f'<rect class="ground" width="{shape.wide:.4f}" height="{shape.high:.4f}" '
        f'fill="{COLOURS["light"]["paper"]}"/>'
        f'<g transform="translate({pad:.3f},{top:.3f}) scale({scale:.5f})">{svg}</g>'
        f'<g class="words">{text}</g></svg>'
    )


def coloured(svg: str, ground: Ground) -> str:
    """The canvas in the colours of a ground; ``transparent`` has the light ones and no ground."""
    if ground == "light":
        return svg
    if ground == "transparent":
        return re.sub(r'<rect class="ground"[^>]*/>', "", svg, count=1)
    dark = {value: COLOURS["dark"][name] for name, value in COLOURS["light"].items()}
    return _COLOUR.sub(lambda found: dark.get(found[0], found[0]), svg)


_PAGE = (
    b"#set page(width: float(sys.inputs.wide) * 1pt, height: float(sys.inputs.high) * 1pt, "
    b"margin: 0pt, fill: none)\n"
    b'#image(bytes(sys.inputs.svg), format: "svg", width: 100%, height: 100%)'
)
_LOCAL = threading.local()


def png_of(svg: str, shape: Shape, scale: float = 1.0) -> bytes:
    """A canvas as PNG, ``scale`` times the first size of its shape.

    The typesetter draws it, four times as fast as the chart renderer.
    """
    import typst

    if not hasattr(_LOCAL, "typesetter"):
        with as_file(files("beadworth.report").joinpath("fonts")) as folder:
            _LOCAL.typesetter = typst.Compiler(font_paths=[str(folder)], ignore_system_fonts=True)
    wide, high = shape.sizes[0]
    drawn: bytes = _LOCAL.typesetter.compile(
        _PAGE,
        format="png",
        ppi=72 * scale,
        sys_inputs={"svg": svg, "wide": str(wide), "high": str(high)},
    )
    return drawn


def wrapped(text: str, size_px: float, room_px: float, *, bold: bool = False) -> list[str]:
    """The text in lines no wider than the room, measured in the font it is drawn with."""
    font = _measure(bold)
    lines: list[str] = []
    for word in text.replace("\n", " ").split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font.getlength(longer) * size_px / 100 <= room_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return [_shortened(line, font, room_px * 100 / size_px) for line in lines]


def _shortened(line: str, font: FreeTypeFont, room: float) -> str:
    """A line that is one word too long, cut with an ellipsis."""
    if font.getlength(line) <= room:
        return line
    while line and font.getlength(line + "…") > room:
        line = line[:-1]
    return line + "…"


def _foot(picture: Picture, size_px: float, room: float) -> list[tuple[str, str]]:
    lines = [(line, "ink-soft") for line in wrapped(xml_text(picture.foot), size_px, room)[:2]]
    if picture.simulated:
        lines.append(("SIMULATED: invented, not measured", "caution"))
    return lines


def _text(line: str, x: float, y: float, size: float, colour: str, *, bold: bool) -> str:
    from markupsafe import escape

    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="{FONT}" font-size="{size:.3f}px"{weight} '
        f'fill="{COLOURS["light"][colour]}">{escape(line)}</text>'
    )


@lru_cache(maxsize=2)
def _measure(bold: bool) -> FreeTypeFont:
    from PIL import ImageFont

    name = f"LiberationSans-{'Bold' if bold else 'Regular'}.ttf"
    with as_file(files("beadworth.report").joinpath("fonts", name)) as file:
        return ImageFont.truetype(str(file), 100)
