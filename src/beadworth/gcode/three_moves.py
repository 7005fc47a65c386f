"""A stand-in for the scanner, for the process that compiles everything but the scanner."""

from __future__ import annotations

from typing import Any

from beadworth.gcode import _columns as at
from beadworth.gcode import _kernel


def scan_three_moves() -> None:
    """From here on every read of this process finds three moves, without the scanner compiled."""
    _kernel.scan = _three_moves


def _three_moves(*tables: Any) -> int:
    """Fill the scanner's tables with three moves; to be called as the scanner is."""
    stop, f, i, fo, io, so, settings = (tables[k] for k in (2, 4, 5, 6, 7, 8, 11))
    fo[:, :4], io[:, :3], so[:, :3] = 0.0, 0, 0
    fo[at.AT_X, :4], fo[at.FEED, :3], fo[at.LENGTH, :3] = (0.0, 10.0, 20.0, 30.0), 10.0, 10.0
    fo[at.FILAMENT, :2] = 1.0
    so[at.KIND, :3] = at.EXTRUDE, at.EXTRUDE, at.TRAVEL
    settings[0] = f[at.f_set : at.f_set + at.N_SETTING]
    i[[at.i_moves, at.i_settings]] = 3, 1
    return int(stop)
