from .answer import (
    Answer as Answer,
)
from .answer import (
    work_out as work_out,
)
from .case import (
    PrintUse as PrintUse,
)
from .case import (
    WorthCase as WorthCase,
)
from .case import (
    case_from_mapping as case_from_mapping,
)
from .case import (
    case_from_toml as case_from_toml,
)
from .describe import (
    figures as figures,
)
from .describe import (
    limit_words as limit_words,
)
from .describe import (
    money as money,
)
from .describe import (
    option_effect as option_effect,
)
from .describe import (
    outcome_words as outcome_words,
)
from .describe import (
    with_interval as with_interval,
)
from .estimate import (
    Estimate as Estimate,
)
from .estimate import (
    Money as Money,
)
from .model import (
    Asked as Asked,
)
from .monte_carlo import (
    Result as Result,
)
from .options import (
    COST as COST,
)
from .options import (
    GRADES as GRADES,
)
from .options import (
    HOURS as HOURS,
)
from .options import (
    Ranking as Ranking,
)
from .options import (
    Row as Row,
)
from .options import (
    Table as Table,
)
from .options import (
    compare_options as compare_options,
)
from .profiles import (
    USUAL as USUAL,
)
from .profiles import (
    profiles_of as profiles_of,
)
from .profiles import (
    whom_sentence as whom_sentence,
)
from .replayed import (
    REPLAYS as REPLAYS,
)
from .replayed import (
    Sources as Sources,
)
from .replayed import (
    ask as ask,
)
from .result import (
    Worth as Worth,
)
from .stored import (
    from_plain as from_plain,
)
from .stored import (
    reused as reused,
)
from .stored import (
    to_plain as to_plain,
)
from .tornado import (
    Swing as Swing,
)
from .tornado import (
    Tornado as Tornado,
)

__all__ = [
    "COST",
    "GRADES",
    "HOURS",
    "REPLAYS",
    "USUAL",
    "Answer",
    "Asked",
    "Estimate",
    "Money",
    "PrintUse",
    "Ranking",
    "Result",
    "Row",
    "Sources",
    "Swing",
    "Table",
    "Tornado",
    "Worth",
    "WorthCase",
    "ask",
    "case_from_mapping",
    "case_from_toml",
    "compare_options",
    "figures",
    "from_plain",
    "limit_words",
    "money",
    "option_effect",
    "outcome_words",
    "profiles_of",
    "reused",
    "to_plain",
    "whom_sentence",
    "with_interval",
    "work_out",
]
