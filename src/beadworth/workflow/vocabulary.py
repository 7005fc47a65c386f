"""What interfaces name of the packages below: constants, records and how a file is packed."""

from __future__ import annotations

from beadworth.bringup import BringUpResult
from beadworth.capacity import LAYERS_MM, WIDTHS_MM, Ceiling, SpeedRow
from beadworth.cause import (
    LISTED,
    CauseAnswer,
    CauseReading,
    GaugeRow,
    ModeFound,
    PrintedSide,
    Vibration,
    main_cause,
    read_gauge,
    read_vibration,
    sure,
)
from beadworth.datapackage import unzip, zip_bytes
from beadworth.ramp import RampSpec
from beadworth.replay import COLUMNS
from beadworth.typical import TABLE, class_of
from beadworth.witness import (
    CRITERIA,
    SUBJECTS,
    LookSheet,
    Witness,
    WitnessAnswer,
    WitnessSpec,
    describe_settings,
    key_of,
    looking_order,
    reference_picture,
)
from beadworth.witness import QUESTIONS as WITNESS_QUESTIONS
from beadworth.worth import WorthCase

__all__ = [
    "COLUMNS",
    "CRITERIA",
    "LAYERS_MM",
    "LISTED",
    "SUBJECTS",
    "TABLE",
    "WIDTHS_MM",
    "WITNESS_QUESTIONS",
    "BringUpResult",
    "CauseAnswer",
    "CauseReading",
    "Ceiling",
    "GaugeRow",
    "LookSheet",
    "ModeFound",
    "PrintedSide",
    "RampSpec",
    "SpeedRow",
    "Vibration",
    "Witness",
    "WitnessAnswer",
    "WitnessSpec",
    "WorthCase",
    "class_of",
    "describe_settings",
    "key_of",
    "looking_order",
    "main_cause",
    "read_gauge",
    "read_vibration",
    "reference_picture",
    "sure",
    "unzip",
    "zip_bytes",
]
