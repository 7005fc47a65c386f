from .lines.cable import FRAMES, SPEEDS_BD, Cable, CabledBalance, request_bytes
from .lines.describe import describe_format
from .lines.follow import DAMAGED, HandsFree, LineFollower, SeenLine
from .lines.format import UNIT_G, LineFormat, ReadLine, read_line, split_lines
from .lines.learn import learn_format
from .lines.samples import Samples
from .planning.balance_checks import (
    USUAL_PLACINGS,
    BalanceCheck,
    describe_weighing,
    drift,
    linearity,
    measured_balance,
    repeatability,
)
from .planning.budget import combine
from .planning.digest import canonical_json, plan_digest
from .planning.light import (
    AGAIN_LEVEL,
    BY_ITSELF,
    GROWS,
    HEAVIER,
    LIGHTER,
    PAIR,
    UNEVEN,
)
from .planning.plan import add_to_plan, plan
from .planning.sizing import planned_scatter
from .planning.timing import describe_time
from .programs.checks import heat_problems
from .programs.header import CAUTIONS
from .programs.layout import purge_mm
from .programs.moves import (
    BED_RISE_C_S,
    NOZZLE_RISE_C_S,
    PAUSE_S,
    SOAK_S,
    Pace,
    bed_temperature_c,
    write_end,
)
from .programs.position_map import map_png
from .programs.program import Program, coupon_programs, program_summary
from .readings.checks import check_readings
from .readings.entry import MORE_THAN_FED, check_mass, check_reading, decode, parse_mass
from .readings.loss import anchors_of, delivered_g_per_mm, delivery_factor
from .readings.table import read_readings_csv, write_readings_csv
from .record import (
    Amendment,
    Balance,
    Budget,
    BudgetLine,
    Coupon,
    JointErrors,
    Outlook,
    Plan,
    Power,
    Reading,
    Spool,
    TrialSpec,
)

__all__ = [
    "AGAIN_LEVEL",
    "BED_RISE_C_S",
    "BY_ITSELF",
    "CAUTIONS",
    "DAMAGED",
    "FRAMES",
    "GROWS",
    "HEAVIER",
    "LIGHTER",
    "MORE_THAN_FED",
    "NOZZLE_RISE_C_S",
    "PAIR",
    "PAUSE_S",
    "SOAK_S",
    "SPEEDS_BD",
    "UNEVEN",
    "UNIT_G",
    "USUAL_PLACINGS",
    "Amendment",
    "Balance",
    "BalanceCheck",
    "Budget",
    "BudgetLine",
    "Cable",
    "CabledBalance",
    "Coupon",
    "HandsFree",
    "JointErrors",
    "LineFollower",
    "LineFormat",
    "Outlook",
    "Pace",
    "Plan",
    "Power",
    "Program",
    "ReadLine",
    "Reading",
    "Samples",
    "SeenLine",
    "Spool",
    "TrialSpec",
    "add_to_plan",
    "anchors_of",
    "bed_temperature_c",
    "canonical_json",
    "check_mass",
    "check_reading",
    "check_readings",
    "combine",
    "coupon_programs",
    "decode",
    "delivered_g_per_mm",
    "delivery_factor",
    "describe_format",
    "describe_time",
    "describe_weighing",
    "drift",
    "heat_problems",
    "learn_format",
    "linearity",
    "map_png",
    "measured_balance",
    "parse_mass",
    "plan",
    "plan_digest",
    "planned_scatter",
    "program_summary",
    "purge_mm",
    "read_line",
    "read_readings_csv",
    "repeatability",
    "request_bytes",
    "split_lines",
    "write_end",
    "write_readings_csv",
]
