"""A melt-flow trial: question, plan, run sheet, coupon programs, readings, loss.

Pure: plain data in, plain data out. The bench stores it, the doors show it.
"""

from beadworth.trial.digest import plan_digest, plan_from_json, plan_to_json
from beadworth.trial.loss import (
    CouponLoss,
    coupon_losses,
    delivered_g_per_mm,
    delivery_factor,
)
from beadworth.trial.planning import add_to_plan, plan
from beadworth.trial.readings import read_readings_csv, write_readings_csv
from beadworth.trial.record import (
    Balance,
    Budget,
    BudgetLine,
    Coupon,
    Plan,
    Power,
    Reading,
    Spool,
    TrialSpec,
)
from beadworth.trial.typed import check_mass, decode, parse_mass, parse_number

__all__ = [
    "Balance",
    "Budget",
    "BudgetLine",
    "Coupon",
    "CouponLoss",
    "Plan",
    "Power",
    "Reading",
    "Spool",
    "TrialSpec",
    "add_to_plan",
    "check_mass",
    "coupon_losses",
    "decode",
    "delivered_g_per_mm",
    "delivery_factor",
    "parse_mass",
    "parse_number",
    "plan",
    "plan_digest",
    "plan_from_json",
    "plan_to_json",
    "read_readings_csv",
    "write_readings_csv",
]
