from .planning.budget import (
    combine as combine,
)
from .planning.digest import (
    canonical_json as canonical_json,
)
from .planning.digest import (
    plan_digest as plan_digest,
)
from .planning.digest import (
    plan_from_json as plan_from_json,
)
from .planning.digest import (
    plan_to_json as plan_to_json,
)
from .planning.plan import (
    add_to_plan as add_to_plan,
)
from .planning.plan import (
    plan as plan,
)
from .planning.timing import (
    time_told as time_told,
)
from .programs.position_map import (
    map_png as map_png,
)
from .programs.program import (
    Program as Program,
)
from .programs.program import (
    coupon_programs as coupon_programs,
)
from .programs.program import (
    program_summary as program_summary,
)
from .readings.entry import (
    check_mass as check_mass,
)
from .readings.entry import (
    decode as decode,
)
from .readings.entry import (
    parse_mass as parse_mass,
)
from .readings.entry import (
    parse_number as parse_number,
)
from .readings.loss import (
    CouponLoss as CouponLoss,
)
from .readings.loss import (
    anchors_of as anchors_of,
)
from .readings.loss import (
    coupon_losses as coupon_losses,
)
from .readings.loss import (
    delivered_g_per_mm as delivered_g_per_mm,
)
from .readings.loss import (
    delivery_factor as delivery_factor,
)
from .readings.table import (
    read_readings_csv as read_readings_csv,
)
from .readings.table import (
    write_readings_csv as write_readings_csv,
)
from .record import (
    Balance as Balance,
)
from .record import (
    Budget as Budget,
)
from .record import (
    BudgetLine as BudgetLine,
)
from .record import (
    Coupon as Coupon,
)
from .record import (
    Plan as Plan,
)
from .record import (
    Power as Power,
)
from .record import (
    Reading as Reading,
)
from .record import (
    Spool as Spool,
)
from .record import (
    TrialSpec as TrialSpec,
)

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
