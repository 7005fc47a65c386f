from .packages import seed_packages
from .rigs import LONG_ZONE, STOCK
from .trials import FINISHED, PLA, TRUE_CEILING_MM3_S, seed, simulated_reading
from .worth import demo_prints

__all__ = [
    "FINISHED",
    "LONG_ZONE",
    "PLA",
    "STOCK",
    "TRUE_CEILING_MM3_S",
    "demo_prints",
    "seed",
    "seed_packages",
    "simulated_reading",
]
