"""The flow at which push force meets grip, for one set of values or for many draws of them."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from beadworth.material import Material
from beadworth.melt.channel import Channel
from beadworth.melt.heat import properties_of, velocity_share
from beadworth.melt.scales import Scales
from beadworth.melt.squeeze import ROWS, TUBES, calibrated_way, melt_of, tables_of
from beadworth.melt.terms import ALL, Terms

Array = NDArray[np.float64]

SLIP_LOSS = 0.25
"""The loss at which a drive counts as slipping: true feed under 75 % of what was commanded (Read
et al. 2024)."""
LOSS_POWER = 0.14
"""A smaller loss comes at a smaller flow: at 2 % at 0.70 of it. Set to the ceilings of PLA that are
common practice (13, 14.5, 16 mm³/s of a 20 mm melt zone at 210, 220, 230 °C; no source), whose loss
is taken as those 2 %."""
EXACT, ROUGH = 1e-6, 1e-2


def loss_share(loss: float) -> float:
    """Flow at which a share of the polymer is missing, over the flow at which the drive slips."""
    return float(min(max(loss, 1e-3) / SLIP_LOSS, 1.0) ** LOSS_POWER)


def ceiling_mm3_s(
    channel: Channel,
    material: Material,
    temperature_c: float,
    grip_n: float,
    scales: Scales = Scales(),  # noqa: B008 - frozen
    terms: Terms = ALL,
) -> float:
    """Flow at which the push force meets the grip; 0 where hardly anything passes.

    ``scales`` are taken as they are, whatever rig or material they were learned on.
    """
    way = calibrated_way(channel, temperature_c, scales, terms)
    grip = grip_n * scales.grip_factor
    found = draw_ceilings_mm3_s(way[None, :], np.array([grip]), material, terms, tolerance=EXACT)
    return float(found[0]) * scales.flow_factor


def draw_ceilings_mm3_s(
    ways: Array,
    grips_n: Array,
    material: Material,
    terms: Terms = ALL,
    *,
    guess_mm3_s: float = 12.0,
    tolerance: float = ROUGH,
) -> Array:
    """Ceilings of many ways and grips, on two threads (the kernels let go of the interpreter)."""
    from beadworth.melt import _kernel_push

    melt = melt_of(material, terms)
    tables = tables_of(properties_of(material))
    flux = velocity_share(TUBES, 0.0)
    ceilings = np.empty(len(ways))

    def share(first: int, last: int) -> None:
        _kernel_push.draw_ceilings(
            first, last, ways, grips_n, guess_mm3_s * 1e-9, tolerance, *tables, flux,
            melt.by_temperature, melt.ln_rate, melt.ln_stress, ROWS, ceilings,
        )  # fmt: skip

    if len(ways) < 4:
        share(0, len(ways))
    else:
        cuts = [0, len(ways) // 2, len(ways)]
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(share, cuts[:-1], cuts[1:]))
    return ceilings * 1e9
