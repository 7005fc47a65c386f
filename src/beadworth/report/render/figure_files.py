"""The files of a dossier's figures: pictures, build-up sequences, captions, data.

Everything about one chart is named after it: ``loss-1920x1080-light.png``, ``loss.csv``,
``loss.md``, ``loss-build-up/loss-00.png``. The same dossier gives the same files.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.core import make_folder, write_file
from beadworth.report.render.figures import (
    GROUNDS,
    SHAPES,
    Ground,
    Picture,
    Shape,
    canvas_svg,
    coloured,
    pictures,
    png_of,
)
from beadworth.text import disarmed

if TYPE_CHECKING:
    from beadworth.report.charts.chart import Chart
    from beadworth.report.data import ReportData

Tell = Callable[[int, int], None]
"""Told how many pictures are drawn, and of how many."""
BUILD_UP_STEPS = 24
"""Frames after the empty one: 25 in all, two seconds at 12 frames a second."""
WORKERS = 2
WAITING = 8
"""Pictures waiting to be drawn, at most: what is laid out is not piled up in memory."""
# What only places a mark, or repeats in words what another column has as a number.
_DRAWN_ONLY = frozenset({"place", "text", "panel", "step", "at_c", "width", "layer"})
_UNITS = (
    ("_mm3_s", "mm³/s"), ("_mm_s2", "mm/s²"), ("_mm_s", "mm/s"), ("_mm2", "mm²"), ("_mm3", "mm³"),
    ("_mm", "mm"), ("_g_per_m", "g/m"), ("_g", "g"), ("_c", "°C"), ("_w", "W"), ("_s", "s"),
    ("_h", "h"), ("_hz", "Hz"), ("_n", "N"), ("_mpa", "MPa"), ("_percent", "%"), ("_k", "K"),
)  # fmt: skip
_WHOLE = {
    "loss": "loss, fraction", "residual": "residual, standard deviations", "hours": "time, h",
    "minutes": "time, min", "months": "time, months", "share": "share, fraction",
}  # fmt: skip


def write_figures(
    data: ReportData,
    folder: Path,
    *,
    chosen: Sequence[Picture] | None = None,
    build_up: bool = False,
    tell: Tell | None = None,
) -> list[Path]:
    """Every chart of a dossier at every size and on every ground, with its words and its data.

    Parameters
    ----------
    data : ReportData
    folder : Path
        Made where it is not there.
    chosen : sequence of Picture, optional
        Some of :func:`~beadworth.report.render.figures.pictures`; left out: all of them.
    build_up : bool
        Also a numbered sequence of pictures per chart in which its marks appear, 1920 × 1080.
    tell : callable, optional
        Called with pictures done and pictures in all.

    Returns
    -------
    list of Path
        What was written, in order of name.
    """
    make_folder(folder)
    found = pictures(data) if chosen is None else list(chosen)
    each = len(GROUNDS) * sum(len(shape.sizes) for shape in SHAPES)
    total = len(found) * (each + (1 + BUILD_UP_STEPS) * build_up)
    written: list[Path] = []
    for picture in found:
        written += _beside(picture, folder)
    running: set[Future[Path]] = set()
    done = 0
    # the renderer draws outside Python's lock, so threads keep both cores busy
    with ThreadPoolExecutor(WORKERS) as pool:
        for job in _jobs(found, folder, build_up):
            running.add(pool.submit(_draw, *job))
            if len(running) >= WAITING:
                ready, running = wait(running, return_when=FIRST_COMPLETED)
                written += [future.result() for future in ready]
                done += len(ready)
                if tell:
                    tell(done, total)
        written += [future.result() for future in running]
    if tell:
        tell(total, total)
    return sorted(written)


def _jobs(
    found: list[Picture], folder: Path, build_up: bool
) -> Iterator[tuple[Path, str, Shape, float]]:
    """Each picture to draw: its file, its canvas, and how many times its first size."""
    for picture in found:
        for shape in SHAPES:
            canvas = canvas_svg(picture, shape)
            for ground in GROUNDS:
                svg = coloured(canvas, ground)
                for wide, high in shape.sizes:
                    file = folder / file_name(picture.name, (wide, high), ground)
                    yield file, svg, shape, wide / shape.sizes[0][0]
            if build_up and shape is SHAPES[0]:
                home = folder / f"{picture.name}-build-up"
                make_folder(home)
                for n, svg in enumerate(build_up_svgs(canvas)):
                    yield home / f"{picture.name}-{n:02d}.png", svg, shape, 1.0


def _draw(file: Path, svg: str, shape: Shape, scale: float) -> Path:
    write_file(file, png_of(svg, shape, scale))
    return file


def file_name(name: str, size: tuple[int, int], ground: Ground) -> str:
    """``loss-1920x1080-light.png``."""
    return f"{name}-{size[0]}x{size[1]}-{ground}.png"


def build_up_svgs(canvas: str, steps: int = BUILD_UP_STEPS) -> Iterator[str]:
    """The canvas with none of its marks, then with more at each step, whole at the last.

    Axes, titles and legends stand from the start. Marks appear in the order they are drawn
    in, layer by layer, each layer from left to right.
    """
    marks = list(_marks(canvas))
    for step in range(steps + 1):
        shown = round(len(marks) * step / steps)
        parts, at = [], 0
        for start, end in sorted(marks[shown:]):
            parts.append(canvas[at:start])
            at = end
        yield "".join(parts) + canvas[at:]


_GROUP = re.compile(r'<g class="mark-\w+ role-mark[^"]*"[^>]*(?<!/)>')
_LEAF = re.compile(r"<(path|text|image)\b[^>]*?(?:/>|>.*?</\1>)", re.DOTALL)
_TAG = re.compile(r"<(/?)g\b[^>]*?(/?)>")
_ACROSS = re.compile(r'transform="translate\(([-\d.]+)|\bd="M([-\d.]+)')


def _marks(canvas: str) -> Iterator[tuple[int, int]]:
    """Where each mark stands in the text of a canvas, in the order they appear."""
    taken: set[tuple[int, int]] = set()
    for group in _GROUP.finditer(canvas):
        end = _closing(canvas, group.end())
        leaves = []
        for leaf in _LEAF.finditer(canvas, group.end(), end):
            across = _ACROSS.search(leaf[0])
            x = float(across[1] or across[2]) if across else 0.0
            if leaf.span() not in taken:
                leaves.append((x, leaf.span()))
        for _, span in sorted(leaves):
            taken.add(span)
            yield span


def _closing(canvas: str, at: int) -> int:
    """Where the group that was opened just before ``at`` ends."""
    depth = 1
    for tag in _TAG.finditer(canvas, at):
        if tag[1]:
            depth -= 1
        elif not tag[2]:
            depth += 1
        if not depth:
            return tag.start()
    return len(canvas)


def _beside(picture: Picture, folder: Path) -> list[Path]:
    """The words and the data of a chart, beside its pictures."""
    chart = picture.chart
    words, data = folder / f"{picture.name}.md", folder / f"{picture.name}.csv"
    write_file(words, caption_text(picture, chart))
    write_file(data, data_csv(chart))
    return [words, data]


def caption_text(picture: Picture, chart: Chart) -> str:
    """Finding, caption, alt text and what is simulated, to post with the picture."""
    said = [f"# {_line(chart.title)}", _line(chart.caption), f"Alt text: {_line(chart.alt)}"]
    if picture.simulated:
        said.append("SIMULATED: invented, not measured. Say so wherever the picture is shown.")
    said.append(
        f"Data: {picture.name}.csv. Pictures named transparent have dark type: lay them on a "
        "light ground."
    )
    return "\n\n".join(said) + "\n"


def _line(text: str) -> str:
    return " ".join(text.split())


def data_csv(chart: Chart) -> str:
    """The rows a chart draws, units in the header."""
    rows = chart.rows
    keys = [key for key in dict.fromkeys(k for row in rows for k in row) if key not in _DRAWN_ONLY]
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\n")
    writer.writerow([_title_among(keys, key) for key in keys])
    for row in rows:
        writer.writerow([_cell(row.get(key)) for key in keys])
    return held.getvalue()


def _title_among(keys: Sequence[str], key: str) -> str:
    """The title of a column; the ends of an interval have the unit of the value before them."""
    if key in ("low", "high") and "low" in keys[1:]:
        _, _, unit = column_title(keys[keys.index("low") - 1]).partition(", ")
        return f"{key}, {unit}" if unit else key
    return column_title(key)


def column_title(key: str) -> str:
    """``flow_mm3_s`` as ``flow, mm³/s``."""
    if key in _WHOLE:
        return _WHOLE[key]
    for ending, unit in _UNITS:
        if key.endswith(ending):
            return f"{key.removesuffix(ending).replace('_', ' ')}, {unit}"
    return key.replace("_", " ")


def _cell(value: Any) -> Any:
    """A value as a table holds it; what a spreadsheet would take for a formula is disarmed."""
    if isinstance(value, str):
        return disarmed(value)
    return "" if value is None else value
