"""Readings become groups (rig × material) and blocks (temperatures) that a fit can use."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import UNKNOWN_SCATTER, Block, Scatter
from beadworth.capacity.model.joint import joint_block, joint_covariance, scaled
from beadworth.core import FitError, Problem
from beadworth.rig import Rig
from beadworth.trial import JointErrors, Reading, delivered_g_per_mm

Array = NDArray[np.float64]

LOSS_RANGE = (0.005, 0.2)
FEWEST_FLOWS = 3
"""Distinct flows a temperature needs before its ceiling is read."""
SHARED = 0.1
"""What coupons of one flow share, as a part of the scatter of a coupon: neighbours on the
spool. Replicates do not average it away."""


@dataclass(frozen=True)
class Group:
    """The usable readings of one rig and material, as columns."""

    rig: str
    material: str
    readings: tuple[Reading, ...]
    temperature: Array
    flow: Array
    log_delivered: Array
    """ln(g/mm), diameter-corrected where measured."""
    temperatures: tuple[float, ...] = field(default=())
    """Temperatures with flows enough to read a ceiling, rising."""
    scatter: Scatter = UNKNOWN_SCATTER
    shared: Array | None = None
    """Covariance of the readings' errors over the variance of a coupon, where some belong
    together."""

    def members(self, temperature_c: float) -> NDArray[np.intp]:
        """Places of the readings of one temperature."""
        return np.flatnonzero(self.temperature == temperature_c)

    def blocks(self, weight: Array | None = None) -> tuple[Block, ...]:
        """The blocks the likelihood is computed from; readings of weight 0 count for nothing."""
        w = np.ones(len(self.readings)) if weight is None else weight
        return tuple(self._block(t, w) for t in self.temperatures)

    def _block(self, temperature: float, weight: Array) -> Block:
        at = self.members(temperature)
        at = at[weight[at] > 0]
        if self.shared is not None:
            shared = self.shared[np.ix_(at, at)]
            return joint_block(
                temperature, self.flow[at], self.log_delivered[at], weight[at], shared, SHARED**2
            )
        flows, cell = np.unique(self.flow[at], return_inverse=True)
        w, z = weight[at], self.log_delivered[at]
        total = np.bincount(cell, w)
        mean = np.bincount(cell, w * z) / total
        within = float(w @ (z - mean[cell]) ** 2)
        weights = total / (1 + SHARED**2 * total)
        return Block(temperature, flows, mean, weights, within, len(at))

    @property
    def joint(self) -> NDArray[np.bool_]:
        """Readings whose errors belong together with those of others."""
        if self.shared is None:
            return np.zeros(len(self.readings), dtype=np.bool_)
        return np.asarray(np.diag(self.shared) > 0)


def groups_of(
    readings: Sequence[Reading],
    rigs: Mapping[str, Rig] | None = None,
    scatter: Scatter = UNKNOWN_SCATTER,
    joint: Sequence[JointErrors] = (),
) -> tuple[tuple[Group, ...], tuple[str, ...]]:
    """Split readings into groups; voided ones are left out.

    Returns
    -------
    groups, notes
        Groups with at least one temperature that has flows enough, by rig and material in
        order of name; and what was left out and why.

    Raises
    ------
    FitError
        Readings that cannot be (all of them named), or none from which a ceiling can be read.
    """
    used = [reading for reading in readings if not reading.void]
    problems = [problem for reading in used for problem in _impossible(reading)]
    if problems:
        raise FitError(problems)
    if not used:
        raise FitError(
            Problem(
                f"there is nothing to fit: {len(readings)} readings, all void."
                if readings
                else "there is nothing to fit: no readings.",
                where="readings",
                remedy="Weigh coupons at three flows or more at one temperature, then fit.",
            )
        )
    by_name: dict[tuple[str, str], list[Reading]] = {}
    for reading in used:
        by_name.setdefault((reading.rig, reading.material), []).append(reading)
    groups, lacking = [], []
    for key in sorted(by_name):
        group, short = _group(key, by_name[key], rigs or {}, scatter, joint)
        lacking += short
        if group.temperatures:
            groups.append(group)
    if not groups:
        raise FitError(lacking)
    return tuple(groups), tuple(str(problem) for problem in lacking)


def _group(
    key: tuple[str, str],
    readings: list[Reading],
    rigs: Mapping[str, Rig],
    scatter: Scatter,
    joint: Sequence[JointErrors],
) -> tuple[Group, list[Problem]]:
    rig, material = key
    # a fixed order of the rows, so that the answer does not depend on how they were typed
    readings = sorted(
        readings, key=lambda r: (r.temperature_c, r.flow_mm3_s, r.net_g, r.coupon or "")
    )
    nominal = rigs[rig].filament_diameter_mm if rig in rigs else None
    temperature = np.array([r.temperature_c for r in readings])
    flow = np.array([r.flow_mm3_s for r in readings])
    enough, short = [], []
    for t in np.unique(temperature):
        flows = np.unique(flow[temperature == t])
        if len(flows) >= FEWEST_FLOWS:
            enough.append(float(t))
            continue
        seen = ", ".join(f"{q:g}" for q in flows)
        short.append(
            Problem(
                f"readings at {len(flows)} flow{'s' if len(flows) > 1 else ''} only "
                f"({seen} mm³/s) do not show where delivery falls off: {FEWEST_FLOWS} "
                "different flows are needed.",
                where=f"{rig}, {material}, {t:g} °C",
                remedy="Add coupons at flows below and above where delivery falls off.",
            )
        )
    z = np.log(delivered_g_per_mm(readings, nominal))
    shared = None
    if (found := joint_covariance(readings, joint)) is not None:
        alone = bool((np.diag(found[0]) == 0).any())
        shared, scatter = scaled(*found, scatter, alone)
    group = Group(
        rig, material, tuple(readings), temperature, flow, z, tuple(enough), scatter, shared
    )
    return group, short


def _impossible(reading: Reading) -> list[Problem]:
    name = f"coupon {reading.coupon}" if reading.coupon else "a coupon"
    where = (
        f"{reading.rig}, {reading.material}, {name} at {reading.temperature_c:g} °C "
        f"and {reading.flow_mm3_s:g} mm³/s"
    )
    checks = (
        ("net mass", reading.net_g, "g", "Check mass and tare, or void the reading."),
        ("flow", reading.flow_mm3_s, "mm³/s", "Correct the flow."),
        ("fed length", reading.filament_mm, "mm", "Correct the filament length."),
    )
    return [
        Problem(f"its {what} is {value:g} {unit}; it must be above 0.", where, value, remedy)
        for what, value, unit, remedy in checks
        if not (np.isfinite(value) and value > 0)
    ]


def check_loss(loss: float, confidence: float) -> None:
    """Refuse a loss or confidence outside what a ceiling is read at."""
    low, high = LOSS_RANGE
    problems = []
    if not low <= loss <= high:
        problems.append(
            Problem(
                f"a ceiling is read at a loss from {low:g} to {high:g}, not at {loss:g}.",
                "loss",
                loss,
                "Give the loss as a fraction: 0.02 is 2 %.",
            )
        )
    if not 0.5 <= confidence <= 0.999:
        problems.append(
            Problem(
                f"confidence must lie from 0.5 to 0.999, not at {confidence:g}.",
                "confidence",
                confidence,
                "Give 0.95 for a 95 % interval.",
            )
        )
    if problems:
        raise FitError(problems)
