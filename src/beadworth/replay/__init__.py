"""A print on a rig: timeline, stretches over the ceiling, retiming, surveys of many.

:func:`replay` reads, plans and judges one print; :func:`retime` writes a copy that stays
under the ceiling; :func:`on_rig` and :func:`compare` hold two rigs against each other;
:func:`survey_row` is one row of many.
"""

from beadworth.replay.result import Flow, Layer, Replay, Stretch
from beadworth.replay.retime import Retiming, check_copy, retime
from beadworth.replay.run import replay
from beadworth.replay.survey import Job, survey_row
from beadworth.replay.whatif import OnRig, WhatIf, compare, on_rig

__all__ = [
    "Flow",
    "Job",
    "Layer",
    "OnRig",
    "Replay",
    "Retiming",
    "Stretch",
    "WhatIf",
    "check_copy",
    "compare",
    "on_rig",
    "replay",
    "retime",
    "survey_row",
]
