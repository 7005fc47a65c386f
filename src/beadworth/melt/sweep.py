"""Sweeps of the melt model: over flow, over melt-zone length, and one or two rigs' temperatures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from beadworth.core import LOSS
from beadworth.material import Material
from beadworth.melt.prediction import DRAWS, Limit, Prediction, predict
from beadworth.melt.scales import Scales, carried, other_hot_end
from beadworth.melt.state import State, state_at
from beadworth.rig import Rig


@dataclass(frozen=True)
class LengthPoint:
    """A ceiling at one melt-zone length."""

    rig: str
    melt_zone_mm: float
    ceiling_mm3_s: float
    low: float
    high: float
    limited_by: Limit


def over_temperature(
    rig: Rig,
    material: Material,
    temperatures_c: Sequence[float],
    *,
    scales: Scales | None = None,
    draws: int = DRAWS,
    loss: float = LOSS,
) -> tuple[Prediction, ...]:
    """One prediction per temperature, in the order given (see :func:`predict`)."""
    return tuple(
        predict(rig, material, t, scales=scales, draws=draws, loss=loss) for t in temperatures_c
    )


def over_flow(
    rig: Rig,
    material: Material,
    temperature_c: float,
    flows_mm3_s: Sequence[float],
    *,
    scales: Scales | None = None,
) -> tuple[State, ...]:
    """Outlet, pressure and push force at each flow (see :func:`state_at`)."""
    return tuple(state_at(rig, material, temperature_c, q, scales=scales) for q in flows_mm3_s)


def over_length(
    rig: Rig,
    material: Material,
    temperature_c: float,
    lengths_mm: Sequence[float],
    *,
    scales: Scales | None = None,
    draws: int = DRAWS,
) -> tuple[LengthPoint, ...]:
    """The ceiling if only the melt zone had another length.

    What is known of this hot end holds for the longer one too, save for length, contact and
    wall, which are uncertain again.
    """
    here = carried(scales, rig, material)
    other = other_hot_end(here)
    points = []
    for length in lengths_mm:
        known = here if length == rig.hot_end.melt_zone_mm else other
        made = predict(with_zone(rig, length), material, temperature_c, scales=known, draws=draws)
        points.append(
            LengthPoint(rig.name, length, made.ceiling_mm3_s, made.low, made.high, made.limited_by)
        )
    return tuple(points)


def next_millimetre(
    rig: Rig, material: Material, temperature_c: float, *, scales: Scales | None = None
) -> float:
    """What one more millimetre of melt zone adds to the ceiling, mm³/s.

    Where the cold core makes most of the push force, the ceiling grows nearly in step with the
    length; where the warm melt alone meets the grip, hardly at all.
    """
    scales = carried(scales, rig, material)
    here = predict(rig, material, temperature_c, scales=scales, draws=2)
    assert rig.hot_end.melt_zone_mm is not None  # predict has refused it
    longer = with_zone(rig, rig.hot_end.melt_zone_mm + 1.0)
    there = predict(longer, material, temperature_c, scales=scales, draws=2)
    return there.ceiling_mm3_s - here.ceiling_mm3_s


def over_nozzle(
    rig: Rig,
    material: Material,
    temperature_c: float,
    nozzles_mm: Sequence[float],
    *,
    scales: Scales | None = None,
    draws: int = DRAWS,
) -> tuple[tuple[float, Prediction], ...]:
    """The prediction if only the nozzle were another; a stated land keeps its ratio to it."""
    made = []
    for nozzle in nozzles_mm:
        head = rig.hot_end
        land = head.land_mm * nozzle / head.nozzle_mm if head.land_mm is not None else None
        other = rig.model_copy(
            update={"hot_end": head.model_copy(update={"nozzle_mm": nozzle, "land_mm": land})}
        )
        here = rig if nozzle == head.nozzle_mm else other
        made.append((nozzle, predict(here, material, temperature_c, scales=scales, draws=draws)))
    return tuple(made)


def with_zone(rig: Rig, melt_zone_mm: float) -> Rig:
    """The rig with another melt-zone length."""
    hot_end = rig.hot_end.model_copy(update={"melt_zone_mm": melt_zone_mm})
    return rig.model_copy(update={"hot_end": hot_end})


def lengths_about(zones_mm: Sequence[float], count: int = 11) -> tuple[float, ...]:
    """Melt-zone lengths from half the shortest to half as long again as the longest, mm."""
    low, high = 0.5 * min(zones_mm), 1.5 * max(zones_mm)
    even = np.linspace(low, high, count)
    return tuple(sorted({*(round(float(x), 3) for x in even), *zones_mm}))


def flows_up_to(top_mm3_s: float, count: int = 40) -> tuple[float, ...]:
    """Flows from a tenth to the whole of ``top_mm3_s``."""
    top = top_mm3_s if math.isfinite(top_mm3_s) and top_mm3_s > 0 else 10.0
    return tuple(float(q) for q in np.linspace(0.1 * top, top, count))
