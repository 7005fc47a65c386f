from .answer import Answer, work_out
from .case import PrintUse, Profile, WorthCase, case_from_mapping, case_from_toml
from .describe import figures, limit_words, money, option_effect, outcome_words, with_interval
from .estimate import Estimate, Money
from .look_up import PredictionRequest, Sources
from .model import WorthRequest
from .monte_carlo import Result
from .options import COST, GRADES, HOURS, Criterion, Row, Table
from .predicted import PredictedCeilings
from .profiles import USUAL, profiles_of, whom_sentence
from .ranking import Ranking
from .replayed import REPLAYS, ask
from .result import Worth
from .stored import from_plain, reused, to_plain
from .tornado import Swing, Tornado

__all__ = [
    "COST",
    "GRADES",
    "HOURS",
    "REPLAYS",
    "USUAL",
    "Answer",
    "Criterion",
    "Estimate",
    "Money",
    "PredictedCeilings",
    "PredictionRequest",
    "PrintUse",
    "Profile",
    "Ranking",
    "Result",
    "Row",
    "Sources",
    "Swing",
    "Table",
    "Tornado",
    "Worth",
    "WorthCase",
    "WorthRequest",
    "ask",
    "case_from_mapping",
    "case_from_toml",
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
