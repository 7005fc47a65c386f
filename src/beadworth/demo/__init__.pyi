from .packages import WORKSHOPS, seed_packages
from .rigs import LONG_ZONE, STOCK, seed_bring_up
from .trials import FINISHED, PLA, STARTED, TRUE_CEILING_MM3_S, seed, simulated_reading, true_loss
from .wear import demo_wear, seed_wear
from .worth import demo_prints, seed_worth

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
