from .packages import WORKSHOPS as WORKSHOPS
from .packages import seed_packages as seed_packages
from .rigs import LONG_ZONE as LONG_ZONE
from .rigs import STOCK as STOCK
from .rigs import seed_bring_up as seed_bring_up
from .trials import (
    FINISHED as FINISHED,
)
from .trials import (
    PLA as PLA,
)
from .trials import (
    STARTED as STARTED,
)
from .trials import (
    TRUE_CEILING_MM3_S as TRUE_CEILING_MM3_S,
)
from .trials import (
    seed as seed,
)
from .trials import (
    simulated_reading as simulated_reading,
)
from .trials import (
    true_loss as true_loss,
)
from .wear import demo_wear as demo_wear
from .wear import seed_wear as seed_wear
from .worth import demo_prints as demo_prints
from .worth import seed_worth as seed_worth

__all__ = [
    "FINISHED",
    "LONG_ZONE",
    "PLA",
    "STARTED",
    "STOCK",
    "TRUE_CEILING_MM3_S",
    "WORKSHOPS",
    "demo_prints",
    "demo_wear",
    "seed",
    "seed_bring_up",
    "seed_packages",
    "seed_wear",
    "seed_worth",
    "simulated_reading",
    "true_loss",
]
