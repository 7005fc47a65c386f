from .planning.budget import combine
from .planning.digest import canonical_json, plan_digest
from .planning.plan import add_to_plan, plan
from .planning.sizing import planned_scatter
from .planning.timing import describe_time
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
    Outlook,
    Plan,
    Power,
    Reading,
    Spool,
    TrialSpec,
)

__all__ = [
    "MORE_THAN_FED",
    "Amendment",
    "Balance",
    "Budget",
    "BudgetLine",
    "Coupon",
    "Outlook",
    "Plan",
    "Power",
    "Program",
    "Reading",
    "Spool",
    "TrialSpec",
    "add_to_plan",
    "anchors_of",
    "canonical_json",
    "check_mass",
    "check_reading",
    "check_readings",
    "combine",
    "coupon_programs",
    "decode",
    "delivered_g_per_mm",
    "delivery_factor",
    "describe_time",
    "map_png",
    "parse_mass",
    "plan",
    "plan_digest",
    "planned_scatter",
    "program_summary",
    "read_readings_csv",
    "write_readings_csv",
]
