"""What interfaces name of the packages below: constants, records and how a file is packed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.bringup import BringUpResult
from beadworth.capacity import LAYERS_MM, WIDTHS_MM
from beadworth.datapackage import unzip, zip_bytes
from beadworth.motion import Limits
from beadworth.replay import COLUMNS
from beadworth.typical import TABLE, class_of
from beadworth.worth import WorthCase

if TYPE_CHECKING:
    from beadworth.rig import Rig

__all__ = [
    "COLUMNS",
    "LAYERS_MM",
    "TABLE",
    "WIDTHS_MM",
    "BringUpResult",
    "WorthCase",
    "assumed_limits",
    "class_of",
    "unzip",
    "zip_bytes",
]


def assumed_limits(rig: Rig) -> int:
    """How many motion limits nobody stated, so that careful values are taken."""
    return len(Limits.from_rig(rig)[1])
