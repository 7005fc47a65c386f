"""Three rigs and their capacities, invented for the tests that replay."""

from dataclasses import replace
from functools import cache

import numpy as np

from beadworth import capacity
from beadworth.rig import AxisLimits, Extruder, HotEnd, Motion, Rig
from beadworth.trial import Reading

STOCK = Rig(
    name="stock",
    hot_end=HotEnd(melt_zone_mm=12.0, mass_g=50.0),
    extruder=Extruder(max_feed_mm_s=80.0, max_acceleration_mm_s2=5000.0),
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=400.0, y=400.0, z=20.0),
        max_acceleration_mm_s2=AxisLimits(x=3000.0, y=3000.0, z=500.0),
        print_acceleration_mm_s2=1500.0,
    ),
)
LONG = STOCK.model_copy(
    update={"name": "long", "parent": "stock", "price": 54.0, "currency": "EUR",
            "hot_end": HotEnd(melt_zone_mm=20.0, mass_g=40.0)}
)  # fmt: skip
RAILS = LONG.model_copy(
    update={"name": "rails", "parent": "long", "price": 300.0,
            "motion": STOCK.motion.model_copy(update={"print_acceleration_mm_s2": 9000.0})}
)  # fmt: skip
RIGS = {rig.name: rig for rig in (STOCK, LONG, RAILS)}


@cache
def fit_of(**ceilings):
    rng = np.random.default_rng(5)
    return capacity.fit(
        [
            Reading(rig, "PLA", t, float(q), 600.0,
                    1.79 * min(1.0, c / q) * (1 + 0.002 * float(rng.normal())))
            for rig, top in ceilings.items()
            for t, c in ((200.0, 0.85 * top), (220.0, top))
            for q in range(4, 26, 2)
            for _ in range(3)
        ]
    )  # fmt: skip


def named_fit(name):
    """A capacity by the name a case gives it, fitted when a test first asks for it."""
    if name == "deeper":
        return replace(named_fit("long alone"), loss=0.05)
    tops = {"stock alone": {"stock": 12.0}, "long alone": {"long": 18.0}}
    return fit_of(**(tops | {"both": {"stock": 12.0, "long": 18.0}})[name])
