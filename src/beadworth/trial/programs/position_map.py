"""The position map of a plate: which coil is which coupon, to print and lay beside the printer.

Drawn as seen from the front, in millimetres of an A4 sheet, in ink that survives a grey printer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from beadworth.text import xml_text
from beadworth.trial.programs.layout import Cell, PlateLayout

if TYPE_CHECKING:
    from beadworth.trial.programs.program import Place

PAGE_MM = 210.0
RIM_MM = 12.0
HEAD_MM = 30.0
FOOT_MM = 42.0
TALLEST_MM = 297.0
INK, SOFT, PALE, PAPER = "#1d2430", "#5b6675", "#d9dde3", "#ffffff"


@dataclass(frozen=True)
class PositionMap:
    """A drawing and the words that stand for it."""

    svg: str
    alt: str


def position_map(
    grid: PlateLayout, table: Sequence[Place], *, rig: str, title: str, material: str, digest: str
) -> PositionMap:
    """Draw one plate.

    Parameters
    ----------
    grid : PlateLayout
    table : sequence of Place
        The coupons in the order made; they fill the grid's cells from the first.
    rig, title, material, digest : str
        For the heading.
    """
    scale = min(
        (PAGE_MM - 2 * RIM_MM) / grid.bed_x_mm, (TALLEST_MM - HEAD_MM - FOOT_MM) / grid.bed_y_mm
    )
    wide, deep = grid.bed_x_mm * scale, grid.bed_y_mm * scale
    height = HEAD_MM + deep + FOOT_MM
    left = (PAGE_MM - wide) / 2
    alt = _alt(grid, table, rig, title)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{PAGE_MM:g}mm" height="{height:.1f}mm" '
        f'viewBox="0 0 {PAGE_MM:g} {height:.1f}" role="img" font-family="sans-serif">',
        f"<title>{escape(alt)}</title>",
        f'<rect width="{PAGE_MM:g}" height="{height:.1f}" fill="{PAPER}"/>',
        _text(left, 11, f"Position map, {title}", 5.2, weight="bold", anchor="start"),
        _text(left, 17.5, f"{rig}, {material}", 4, anchor="start"),
        _text(left, 23, f"Plan {digest[:16]}", 3, colour=SOFT, anchor="start"),
        _text(PAGE_MM / 2, HEAD_MM - 1.8, "back of the bed", 3, colour=SOFT),
        f'<rect x="{left:.2f}" y="{HEAD_MM}" width="{wide:.2f}" height="{deep:.2f}" '
        f'fill="none" stroke="{INK}" stroke-width="0.5"/>',
    ]
    for index, cell in enumerate(grid):
        row = table[index] if index < len(table) else None
        parts.append(_cell(grid, cell, row, left=left, bottom=HEAD_MM + deep, scale=scale))
    parts += _front(left, HEAD_MM + deep, wide)
    parts.append("</svg>")
    return PositionMap(svg=xml_text("\n".join(parts) + "\n"), alt=xml_text(alt))


def map_png(svg: str, *, dots_per_inch: float = 200.0) -> bytes:
    """The drawing as PNG at the size it prints; for page and command, which send or write it."""
    import vl_convert

    # the converter counts 72 px to the inch, an SVG 96: 0.75 brings millimetres out true
    return vl_convert.svg_to_png(svg, scale=72 / 96, ppi=dots_per_inch)


def _cell(
    grid: PlateLayout, cell: Cell, row: Place | None, *, left: float, bottom: float, scale: float
) -> str:
    x, y = left + cell.x_mm * scale, bottom - cell.y_mm * scale
    radius = grid.coil.radius_mm * scale
    if row is None:
        return (
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="none" stroke="{PALE}" '
            f'stroke-width="0.4" stroke-dasharray="1.5 1.5"/>'
        )
    strip_top = bottom - cell.strip_back_mm * scale
    strip_deep = max(0.8, (grid.strip_lines - 1) * grid.strip_pitch_mm * scale)
    strip_wide = (cell.strip_right_mm - cell.strip_left_mm) * scale
    ring = max(0.7, grid.coil.strand_mm * scale)
    parts = [
        f'<rect x="{left + cell.strip_left_mm * scale:.2f}" y="{strip_top:.2f}" '
        f'width="{strip_wide:.2f}" height="{strip_deep:.2f}" fill="{PALE}"/>',
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="{PAPER}" stroke="{INK}" '
        f'stroke-width="{ring:.2f}"/>',
    ]
    if row.reference:
        parts.append(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius - 1.5:.2f}" fill="none" '
            f'stroke="{INK}" stroke-width="0.35"/>'
        )
    inside = radius - (1.8 if row.reference else 0.6)
    flow = f"{row.flow_mm3_s:g} mm³/s" if inside > 9.5 else f"{row.flow_mm3_s:g}"
    widest = max(len(flow), 7)
    small = max(2.2, min(3.6, inside * 1.75 / (0.56 * widest)))
    large = max(4.2, min(7.0, inside * 1.45 / (0.62 * max(3, len(row.coupon)))))
    middle = y - 1.1 * small + 0.3 * large
    parts += [
        _text(x, middle, row.coupon, large, weight="bold", halo=True),
        _text(x, middle + 1.2 * small, f"{row.temperature_c:g} °C", small, halo=True),
        _text(x, middle + 2.35 * small, flow, small, halo=True),
    ]
    badge = min(3.2, max(1.9, 0.24 * radius))
    out = 0.71 * (radius + (0.5 * badge if radius < 12 else 0.0))
    bx, by = x - out, y - out
    parts += [
        f'<circle cx="{bx:.2f}" cy="{by:.2f}" r="{badge:.2f}" fill="{INK}"/>',
        _text(bx, by + 0.42 * badge, str(row.order), 1.2 * badge, colour=PAPER),
    ]
    return "\n".join(parts)


def _front(left: float, y: float, wide: float) -> list[str]:
    """The front edge, unmistakable, and the key."""
    middle = left + wide / 2
    return [
        f'<rect x="{left:.2f}" y="{y:.2f}" width="{wide:.2f}" height="8" fill="{INK}"/>',
        _text(middle, y + 5.6, "FRONT EDGE: the side you stand at", 4, colour=PAPER, weight="bold"),
        _text(
            left,
            y + 16,
            "Black disc: place in the run sheet. Inside: coupon, nozzle temperature, "
            "flow (in mm³/s).",
            3.2,
            anchor="start",
        ),
        _text(
            left,
            y + 21.5,
            "Double ring: reference coupon. Grey bar: purge strip, on the front side of its coil; "
            "throw it away.",
            3.2,
            anchor="start",
        ),
        _text(
            left,
            y + 27,
            "Take coupons off one at a time, back row first, straight into a bag marked with "
            "the coupon's name.",
            3.2,
            anchor="start",
        ),
        _text(
            left,
            y + 32.5,
            "Bed and coupons are hot after the run: let them cool first.",
            3.2,
            anchor="start",
        ),
    ]


def _text(
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    colour: str = INK,
    weight: str = "normal",
    anchor: str = "middle",
    halo: bool = False,
) -> str:
    """Words at a size in mm; with ``halo`` they stay readable where they cross a ring."""
    rim = f'stroke="{PAPER}" stroke-width="{0.3 * size:.2f}" paint-order="stroke" ' if halo else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" font-weight="{weight}" '
        f'fill="{colour}" {rim}text-anchor="{anchor}">{escape(words)}</text>'
    )


def _alt(grid: PlateLayout, table: Sequence[Place], rig: str, title: str) -> str:
    rows: dict[int, list[str]] = {}
    for row in table:
        rows.setdefault(row.row or 0, []).append(row.coupon)
    listed = "; ".join(f"row {number}: {', '.join(ids)}" for number, ids in rows.items())
    return (
        f"Position map of {title} on {rig}: {len(table)} coupons on a bed of {grid.bed_x_mm:g} by "
        f"{grid.bed_y_mm:g} mm, front edge at the bottom. From the back, left to right, {listed}."
    )
