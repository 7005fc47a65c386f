"""What is on the bench: the printer in one state, and the parts an upgrade changes.

:class:`Rig` is the record (TOML in and out through :mod:`beadworth.records`).
Fields left out are unknown, and stay unknown: what needs one says so. The
arithmetic of its parts stands beside it: :mod:`~beadworth.rig.drivetrain`,
:mod:`~beadworth.rig.statics`, :mod:`~beadworth.rig.sensors`,
:mod:`~beadworth.rig.heater` and :mod:`~beadworth.rig.pattern`.
"""

from beadworth.rig.change import changed, upgrade
from beadworth.rig.record import (
    Axes,
    Axis,
    AxisLimits,
    Beam,
    BuildVolume,
    Electrics,
    Extruder,
    Fan,
    Guide,
    Hole,
    HotEnd,
    Known,
    Motion,
    Motor,
    Mounting,
    Pattern,
    Rig,
    Room,
    Sensor,
    Slot,
    Toolhead,
)

__all__ = [
    "Axes",
    "Axis",
    "AxisLimits",
    "Beam",
    "BuildVolume",
    "Electrics",
    "Extruder",
    "Fan",
    "Guide",
    "Hole",
    "HotEnd",
    "Known",
    "Motion",
    "Motor",
    "Mounting",
    "Pattern",
    "Rig",
    "Room",
    "Sensor",
    "Slot",
    "Toolhead",
    "changed",
    "upgrade",
]
