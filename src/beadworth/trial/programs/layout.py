"""Where coupons lie on a plate: the cell of one coil, and the grid of cells.

``docs/explanation/coupon-program.md`` has the drawing and the reasons.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from beadworth.core import LimitError, Place, Problem, filament_section_mm2
from beadworth.rig import Rig
from beadworth.trial.programs.coil import Coil, coil, path_acceleration_mm_s2, path_speed_mm_s

PURGE_PITCH_PER_STRAND = 2.0
"""Spacing of the lines of a purge strip ÷ strand diameter."""
NOZZLE_CLEAR_MM = 15.0
"""Room kept round a finished coupon too low for the toolhead: the heater block is wider than
the nozzle (common practice, no source)."""
HEIGHT_MARGIN_MM = 2.0
"""A coupon counts as low when it stays this far under the toolhead's lowest part."""
OOZE_MM = 8.0
"""Depth in front of the purge strip for what oozes while the nozzle soaks: no later move at low
height passes there, so a hardened blob cannot be struck."""
EDGE_MARGIN_MM = 10.0
"""Rim of the bed left free for clips and an inexact origin (common practice, no source)."""
LIFT_MM = 5.0
"""Height kept over the tallest finished coupon while travelling."""
SLENDER = 1.5
"""Tallest coil accepted ÷ its diameter: a taller one may topple."""
RADII_MM = (12.0, 90.0)
"""Range of coil radii tried, in whole millimetres; a smaller coil is hard to pick up and label."""


@dataclass(frozen=True)
class Cell:
    """One coupon's place: its coil round ``x_mm, y_mm``, its purge strip in front of it."""

    number: int
    """1-based, in the order they are made: back row first, left to right in a row."""
    x_mm: float
    y_mm: float
    strip_left_mm: float
    strip_right_mm: float
    strip_back_mm: float
    """y of the strip line nearest the coil."""
    wait_y_mm: float
    """Where the nozzle soaks and settles, in front of the strip at ``x_mm``."""


@dataclass(frozen=True)
class PlateLayout:
    """The grid of cells of one rig for coupons of one filament length."""

    coil: Coil
    columns: int
    rows: int
    pitch_x_mm: float
    pitch_y_mm: float
    clearance_mm: float
    """Free distance from a finished coil to anything the nozzle still does at low height."""
    low: bool
    """True where finished coupons stay under the toolhead and only the nozzle must clear."""
    purge_mm: float
    """Filament purged before each coupon."""
    strip_lines: int
    strip_pitch_mm: float
    bed_x_mm: float
    bed_y_mm: float

    @property
    def cells(self) -> int:
        """Coupons one plate holds."""
        return self.columns * self.rows

    def __iter__(self) -> Iterator[Cell]:
        """Cells in the order to fill them: back to front, left to right."""
        half = self.coil.outside_mm
        width = (self.columns - 1) * self.pitch_x_mm
        front = (self.strip_lines + 1) * self.strip_pitch_mm + OOZE_MM
        depth = 2 * half + front + (self.rows - 1) * self.pitch_y_mm
        back = (self.bed_y_mm + depth) / 2 - half
        for index in range(self.cells):
            row, column = divmod(index, self.columns)
            x = self.bed_x_mm / 2 - width / 2 + column * self.pitch_x_mm
            y = back - row * self.pitch_y_mm
            yield Cell(
                number=index + 1,
                x_mm=x,
                y_mm=y,
                strip_left_mm=x - self.coil.radius_mm,
                strip_right_mm=x + self.coil.radius_mm,
                strip_back_mm=y - half - self.strip_pitch_mm,
                wait_y_mm=y - half - (self.strip_lines + 1) * self.strip_pitch_mm - OOZE_MM / 2,
            )


def purge_mm(rig: Rig) -> float:
    """Filament purged before each coupon: 1.5 melt zones, at least 30 mm; 40 mm where unknown.

    It runs at the coupon's own flow, so that the melt zone is filled with polymer heated at
    that flow before the first weighed millimetre.
    """
    hot = rig.hot_end
    if hot.melt_zone_mm is None or hot.bore_mm is None:
        return 40.0
    zone = math.pi / 4 * hot.bore_mm**2 * hot.melt_zone_mm
    return max(30.0, 1.5 * zone / filament_section_mm2(rig.filament_diameter_mm))


def plate_layout(rig: Rig, *, filament_mm: float, highest_flow_mm3_s: float) -> PlateLayout:
    """The grid that holds most coupons on the rig's bed.

    The coil radius is chosen among whole millimetres for the most cells, the larger radius
    (a lower, sturdier coil) where two give as many.

    Parameters
    ----------
    rig : Rig
        Needs ``build_volume``; ``toolhead`` gives radius and height to keep clear of.
    filament_mm : float, > 0
        The longest coupon.
    highest_flow_mm3_s : float, > 0
        The highest flow of any coupon: it sets the fastest circle.

    Raises
    ------
    LimitError
        Build volume unknown; the circle too fast for the axes; no coil that fits the bed,
        the height and the acceleration. All of them at once.
    """
    return _laid_out(rig.model_dump_json(), filament_mm, highest_flow_mm3_s)


@lru_cache(maxsize=512)  # a plan asks for each length again and again, with this and that changed
def _laid_out(record: str, filament_mm: float, highest_flow_mm3_s: float) -> PlateLayout:
    rig = Rig.model_validate_json(record)
    volume = rig.build_volume
    where = f"rig {rig.name}"
    if volume is None:
        raise LimitError(
            "the build volume is not recorded, so no plate can be laid out.",
            where=Place.of_field(where, "build_volume"),
            remedy="Fill in build_volume.x_mm, build_volume.y_mm and build_volume.z_mm.",
        )
    speed = coil(rig, filament_mm=filament_mm, radius_mm=10).speed_mm_s(highest_flow_mm3_s)
    top_speed, known = path_speed_mm_s(rig)
    problems: list[Problem] = []
    if speed > top_speed:
        said = "the rig's x and y axes reach" if known else "are taken where the rig does not say"
        problems.append(
            Problem(
                f"{highest_flow_mm3_s:g} mm³/s needs a circle run at {speed:.0f} mm/s; "
                f"{top_speed:g} mm/s {said}.",
                where=Place.of_field(where, "motion.max_speed_mm_s"),
                value=speed,
                remedy="Lower the highest flow, fit a wider nozzle, or collect by catch.",
            )
        )
    acceleration, _ = path_acceleration_mm_s2(rig)
    best: PlateLayout | None = None
    for radius in range(int(RADII_MM[0]), int(RADII_MM[1]) + 1):
        if speed * speed / radius > acceleration:
            continue
        one = coil(rig, filament_mm=filament_mm, radius_mm=float(radius))
        grid = _grid(rig, one)
        if grid is not None and (best is None or grid.cells >= best.cells):
            best = grid
    if best is None:
        problems.append(
            Problem(
                f"a coupon of {filament_mm:g} mm of filament at up to {highest_flow_mm3_s:g} mm³/s "
                f"fits no cell on a bed of {volume.x_mm:g} x {volume.y_mm:g} mm with "
                f"{volume.z_mm:g} mm of height and {acceleration:g} mm/s² of acceleration.",
                where=where,
                value=filament_mm,
                remedy="Plan a shorter coupon, or collect by catch.",
            )
        )
    if problems or best is None:
        raise LimitError(problems)
    return best


def _grid(rig: Rig, one: Coil) -> PlateLayout | None:
    """The grid for one coil, or None where it is too slender, too tall or too wide.

    Tall coupons (as high as the toolhead's lowest part, or higher) stand one to a row: a beam that
    carries the toolhead across x would strike a finished neighbour in the same row.
    """
    volume, head = rig.build_volume, rig.toolhead
    if volume is None or one.height_mm + LIFT_MM > volume.z_mm:
        return None
    if one.height_mm > SLENDER * 2 * one.radius_mm:
        return None
    low = one.height_mm + HEIGHT_MARGIN_MM <= head.height_mm
    clearance = min(NOZZLE_CLEAR_MM, head.radius_mm) if low else head.radius_mm
    purge = purge_mm(rig)
    strip_pitch = PURGE_PITCH_PER_STRAND * one.strand_mm
    purge_length = purge * filament_section_mm2(rig.filament_diameter_mm) / one.strand_section_mm2
    lines = math.ceil((purge_length + strip_pitch) / (2 * one.radius_mm + strip_pitch))
    depth = (lines + 1) * strip_pitch + OOZE_MM
    across = 2 * one.outside_mm
    pitch_x = across + clearance
    pitch_y = across + max(clearance, depth)
    room_x = volume.x_mm - 2 * EDGE_MARGIN_MM - across
    room_y = volume.y_mm - 2 * EDGE_MARGIN_MM - across - depth
    if room_x < 0 or room_y < 0:
        return None
    return PlateLayout(
        coil=one,
        columns=1 + int(room_x // pitch_x) if low else 1,
        rows=1 + int(room_y // pitch_y),
        pitch_x_mm=pitch_x,
        pitch_y_mm=pitch_y,
        clearance_mm=clearance,
        low=low,
        purge_mm=purge,
        strip_lines=lines,
        strip_pitch_mm=strip_pitch,
        bed_x_mm=volume.x_mm,
        bed_y_mm=volume.y_mm,
    )


def cells_per_plate(rig: Rig, *, filament_mm: float, highest_flow_mm3_s: float) -> int:
    """Coupons one plate of this rig holds; see :func:`plate_layout` for arguments and errors."""
    grid = plate_layout(rig, filament_mm=filament_mm, highest_flow_mm3_s=highest_flow_mm3_s)
    return grid.cells
