from .ceilings import Change, Side
from .describe import no_print
from .first_use import prepare
from .layer_map import (
    COLUMNS,
    SEGMENT,
    Curve,
    Sheet,
    loss_curves,
    segment_bytes,
    segments,
    sheet_of_layer,
    sheets,
)
from .melt_ceiling import Beyond, ceiling_of_prediction
from .otherwise import Otherwise, replay_otherwise
from .result import Flow, Layer, Replay, Stretch
from .retiming import Retiming, check_copy, retime
from .rig_limits import rule_to_compare
from .run import replay
from .straight_beads import straights
from .survey import Job, survey_row
from .survey_summary import SurveySummary, summarize_survey
from .two_files import TwoFiles, hold_files
from .whatif import FASTEST, GROUPS, OnRig, WhatIf, compare, on_rig

__all__ = [
    "COLUMNS",
    "FASTEST",
    "GROUPS",
    "SEGMENT",
    "Beyond",
    "Change",
    "Curve",
    "Flow",
    "Job",
    "Layer",
    "OnRig",
    "Otherwise",
    "Replay",
    "Retiming",
    "Sheet",
    "Side",
    "Stretch",
    "SurveySummary",
    "TwoFiles",
    "WhatIf",
    "ceiling_of_prediction",
    "check_copy",
    "compare",
    "hold_files",
    "loss_curves",
    "no_print",
    "on_rig",
    "prepare",
    "replay",
    "replay_otherwise",
    "retime",
    "rule_to_compare",
    "segment_bytes",
    "segments",
    "sheet_of_layer",
    "sheets",
    "straights",
    "summarize_survey",
    "survey_row",
]
