"""What is on the bench: the printer in one state, and the parts an upgrade changes.

:class:`Rig` is the record (TOML in and out through :mod:`beadworth.records`).
Fields left out are unknown, and stay unknown: what needs one says so.
"""

from beadworth.rig.record import (
    AxisLimits,
    BuildVolume,
    Extruder,
    HotEnd,
    Motion,
    Rig,
    Toolhead,
)

__all__ = ["AxisLimits", "BuildVolume", "Extruder", "HotEnd", "Motion", "Rig", "Toolhead"]
