"""What interfaces name of the packages below: constants, records and how a file is packed."""

from __future__ import annotations

from beadworth.bringup import BringUpResult
from beadworth.capacity import LAYERS_MM, WIDTHS_MM, Ceiling, SpeedRow
from beadworth.datapackage import unzip, zip_bytes
from beadworth.replay import COLUMNS
from beadworth.typical import TABLE, class_of
from beadworth.worth import WorthCase

__all__ = [
    "COLUMNS",
    "LAYERS_MM",
    "TABLE",
    "WIDTHS_MM",
    "BringUpResult",
    "Ceiling",
    "SpeedRow",
    "WorthCase",
    "class_of",
    "unzip",
    "zip_bytes",
]
