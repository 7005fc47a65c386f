"""A melt-flow trial: question, plan, run sheet, coupon programs, readings, loss.

Pure: plain data in, plain data out. The bench stores it, the doors show it.
"""

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

__all__ = [
    "Balance",
    "Budget",
    "BudgetLine",
    "Coupon",
    "Plan",
    "Power",
    "Reading",
    "Spool",
    "TrialSpec",
]
