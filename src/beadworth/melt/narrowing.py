"""What an interval is made of, and which one measurement would narrow it most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.melt.scales import (
    MODEL_U,
    Scales,
    drive_of,
    hot_end_of,
    model_apart_u2,
    nozzle_of,
)
from beadworth.rig import Rig

Array = NDArray[np.float64]

NAMES = (
    "how fast the polymer warms", "where the polymer softens", "viscosity of the polymer",
    "yield stress of the polymer", "heat-up of the hot end", "wall temperature",
    "land and cone of the nozzle", "grip of the drive", "the model itself",
    "air gap at the wall", "contact at the wall", "how much of the wall is wetted",
    "melt-zone length", "bore",
)  # fmt: skip
"""In plain words, in the order of :data:`beadworth.melt.prediction.INPUTS`."""
GRIP, NOZZLE, FORCE = 7, 6, 2
POLYMER, HOT_END, MODEL = NAMES[0:4], (*NAMES[4:6], *NAMES[9:14]), NAMES[8]
"""Whose each input is; drive and nozzle have one each."""

LADDER_U = 0.05
"""Relative standard uncertainty of a ceiling that one coupon ladder weighs; usual for a trial."""
WORTH_DOING = 0.95
"""A measurement that leaves more than this of the width is not named."""
SCALE_U = 0.10
"""That of a grip pulled with a hand scale; assumed."""


@dataclass(frozen=True)
class Share:
    """The share of the interval's variance that one input makes."""

    of: str
    share: float


@dataclass(frozen=True)
class Measurement:
    """One measurement, and how wide the interval would be after it."""

    name: str
    do: str
    """What to do, in a sentence."""
    width: float
    """Width of the interval after it over the width now, 0 to 1."""
    is_ladder: bool = False
    """True of the measurement that a trial is."""


def shares_of(ceilings: Array, normals: Array) -> tuple[Share, ...]:
    """Shares of the variance of the ceiling's logarithm, the largest first; they sum to 1.

    The squared correlation with every input's draws (first-order index of a model near linear in
    them; Saltelli et al., Global Sensitivity Analysis, 2008, chapter 1, from memory).
    """
    logs = np.log(np.maximum(ceilings, 1e-3))
    if len(logs) < 20 or float(np.std(logs)) < 1e-9:
        return ()
    logs = logs - logs.mean()
    centred = normals - normals.mean(axis=1, keepdims=True)
    squared = (centred @ logs) ** 2 / ((centred**2).sum(axis=1) * (logs @ logs))
    return named_shares(np.maximum(squared - 1.0 / len(logs), 0.0))  # less what chance gives


def named_shares(parts: Array) -> tuple[Share, ...]:
    """Parts of a variance, in the order of :data:`NAMES`, as shares, the largest first."""
    total = float(parts.sum())
    if total <= 0:
        return ()
    made = [Share(name, float(v) / total) for name, v in zip(NAMES, parts, strict=True)]
    return tuple(sorted((s for s in made if s.share > 0.005), key=lambda s: -s.share))


def in_common(one: Rig, other: Rig, *, same_material: bool) -> dict[str, float]:
    """Of each input, the part of its variance that two rigs have in common, 0 to 1.

    What belongs to a part is common where both have that part; the model's own factor as far as
    hot ends and nozzles are not known to differ in it (:mod:`~beadworth.melt.scales`).
    """
    alike = hot_end_of(one) == hot_end_of(other)
    common = dict.fromkeys(NAMES, 0.0)
    common |= dict.fromkeys(POLYMER, float(same_material))
    common |= dict.fromkeys(HOT_END, float(alike))
    common[NAMES[NOZZLE]] = float(nozzle_of(one) == nozzle_of(other))
    common[NAMES[GRIP]] = float(drive_of(one) == drive_of(other))
    nozzles = one.hot_end.nozzle_mm / other.hot_end.nozzle_mm
    differs = model_apart_u2(nozzles, same_hot_end=alike)
    common[MODEL] = max(0.0, 1.0 - 0.5 * differs / MODEL_U**2) if same_material else 0.0
    return common


def measurements_of(
    variance: float, shares: Sequence[Share], grip_u: float, known: Scales
) -> tuple[Measurement, ...]:
    """Measurements that narrow this interval, the one that does most first.

    ``variance`` is that of the ceiling's logarithm.
    """
    if not shares or variance <= 0:
        return ()
    found = _possible(variance, shares, grip_u, known)
    return tuple(sorted((m for m in found if m.width < WORTH_DOING), key=lambda m: m.width))


def _possible(
    variance: float, shares: Sequence[Share], grip_u: float, known: Scales
) -> list[Measurement]:
    """Every measurement there is, with what it would do."""
    share = {s.of: s.share for s in shares}
    grip = share.get(NAMES[GRIP], 0.0)
    nozzle = share.get(NAMES[NOZZLE], 0.0)
    found = [
        Measurement(
            "a coupon ladder",
            "Weigh one ladder of coupons on this rig with this polymer, past the ceiling.",
            min(1.0, LADDER_U / math.sqrt(variance)),
            is_ladder=True,
        )
    ]
    if grip_u > SCALE_U and grip > 0:
        left = 1.0 - grip * (1.0 - (SCALE_U / grip_u) ** 2)
        found.append(
            Measurement(
                "grip by a pull",
                "Pull filament against the idle drive with a hand scale until it slips, and record "
                "that force (extruder.grip_force_n).",
                math.sqrt(max(left, 0.0)),
            )
        )
    if known.taught and not known.knows("nozzle_force"):
        left = 1.0 - nozzle - share.get(NAMES[FORCE], 0.0) / 2
        found.append(
            Measurement(
                "a second nozzle",
                "Weigh a ladder with a second nozzle on the hot end that was tried: it parts heat "
                "from force.",
                math.sqrt(max(left, 0.0)),
            )
        )
    return found
