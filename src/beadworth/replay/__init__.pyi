from .ceilings import (
    Side as Side,
)
from .describe import (
    duration as duration,
)
from .describe import (
    no_print as no_print,
)
from .first_use import (
    prepare as prepare,
)
from .layer_map import (
    COLUMNS as COLUMNS,
)
from .layer_map import (
    SEGMENT as SEGMENT,
)
from .layer_map import (
    Curve as Curve,
)
from .layer_map import (
    Sheet as Sheet,
)
from .layer_map import (
    columns as columns,
)
from .layer_map import (
    loss_curves as loss_curves,
)
from .layer_map import (
    segments as segments,
)
from .layer_map import (
    sheet_of_layer as sheet_of_layer,
)
from .layer_map import (
    sheets as sheets,
)
from .result import (
    Flow as Flow,
)
from .result import (
    Layer as Layer,
)
from .result import (
    Replay as Replay,
)
from .result import (
    Stretch as Stretch,
)
from .retiming import (
    Retiming as Retiming,
)
from .retiming import (
    check_copy as check_copy,
)
from .retiming import (
    retime as retime,
)
from .run import (
    replay as replay,
)
from .survey import (
    Job as Job,
)
from .survey import (
    survey_row as survey_row,
)
from .whatif import (
    FASTEST as FASTEST,
)
from .whatif import (
    GROUPS as GROUPS,
)
from .whatif import (
    OnRig as OnRig,
)
from .whatif import (
    WhatIf as WhatIf,
)
from .whatif import (
    compare as compare,
)
from .whatif import (
    on_rig as on_rig,
)

__all__ = [
    "COLUMNS",
    "FASTEST",
    "GROUPS",
    "SEGMENT",
    "Curve",
    "Flow",
    "Job",
    "Layer",
    "OnRig",
    "Replay",
    "Retiming",
    "Sheet",
    "Side",
    "Stretch",
    "WhatIf",
    "check_copy",
    "columns",
    "compare",
    "duration",
    "loss_curves",
    "no_print",
    "on_rig",
    "prepare",
    "replay",
    "retime",
    "segments",
    "sheet_of_layer",
    "sheets",
    "survey_row",
]
