"""A stand-in for the scanner, for the process that compiles everything but the scanner."""

from __future__ import annotations

from typing import Any

from beadworth.gcode import _kernel, columns


def scan_three_moves() -> None:
    """From here on every read of this process finds three moves, without the scanner compiled."""
    _kernel.scan = _three_moves  # pyrefly: ignore[bad-assignment]


def _three_moves(*tables: Any) -> int:
    """Fill the scanner's tables with three moves; to be called as the scanner is."""
    stop, f, i, fo, io, so, settings = (tables[k] for k in (2, 5, 6, 7, 8, 9, 12))
    fo[:, :4], io[:, :3], so[:, :3] = 0.0, 0, 0
    fo[columns.AT_X, :4], fo[columns.FEED, :3], fo[columns.LENGTH, :3] = (
        (0.0, 10.0, 20.0, 30.0),
        10.0,
        10.0,
    )
    fo[columns.FILAMENT, :2] = 1.0
    so[columns.KIND, :3] = columns.EXTRUDE, columns.EXTRUDE, columns.TRAVEL
    settings[0, : columns.N_SETTING] = f[columns.f_set : columns.f_set + columns.N_SETTING]
    settings[0, columns.N_SETTING :] = 0.0
    i[[columns.i_moves, columns.i_settings]] = 3, 1
    return int(stop)
