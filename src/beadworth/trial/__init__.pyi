from .planning.budget import combine
from .planning.digest import canonical_json, plan_digest, plan_from_json, plan_to_json
from .planning.plan import add_to_plan, plan
from .planning.timing import time_told
from .programs.position_map import map_png
from .programs.program import Program, coupon_programs, program_summary
from .readings.entry import check_mass, decode, parse_mass, parse_number
from .readings.loss import (
    CouponLoss,
    anchors_of,
    coupon_losses,
    delivered_g_per_mm,
    delivery_factor,
)
from .readings.table import read_readings_csv, write_readings_csv
from .record import Balance, Budget, BudgetLine, Coupon, Plan, Power, Reading, Spool, TrialSpec

__all__ = [
    "Balance",
    "Budget",
    "BudgetLine",
    "Coupon",
    "CouponLoss",
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
    "combine",
    "coupon_losses",
    "coupon_programs",
    "decode",
    "delivered_g_per_mm",
    "delivery_factor",
    "map_png",
    "parse_mass",
    "parse_number",
    "plan",
    "plan_digest",
    "plan_from_json",
    "plan_to_json",
    "program_summary",
    "read_readings_csv",
    "time_told",
    "write_readings_csv",
]
