"""What a fit says, as plain data; the shape of ``capacity fit --json`` too."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import CONFIDENCE, ROOM_C, SEVEN_DIGITS, NotFoundError, Problem, read_back_as

Array = NDArray[np.float64]
Bound = Literal["interval", "at-least", "at-most"]


@dataclass(frozen=True)
class Ceiling:
    """The flow at a stated loss, with its interval, or a one-sided answer."""

    rig: str
    material: str
    temperature_c: float
    loss: float
    flow_mm3_s: float | None
    """Best estimate; None where the readings bound it from one side only."""
    low: float | None
    high: float | None
    bound: Bound
    confidence: float = CONFIDENCE
    extrapolated: bool = False
    """True where the temperature lies outside the tested range (or between, see ``basis``)."""
    basis: Literal["readings", "law", "between", "melt"] = "readings"
    """Read at a tested temperature, from the physical law, between tested ones, or from the melt
    model that the trial's ceilings set (replays alone)."""

    @property
    def unknown_below(self) -> bool:
        """Whether nothing says what the hot end gives at least: at most an upper bound is known."""
        return self.flow_mm3_s is None and self.low is None


@dataclass(frozen=True)
class Curve:
    """Loss over flow at one temperature, with a pointwise band."""

    rig: str
    material: str
    temperature_c: float
    flow_mm3_s: Array = field(metadata=SEVEN_DIGITS)
    loss: Array = field(metadata=SEVEN_DIGITS)
    low: Array = field(metadata=SEVEN_DIGITS)
    high: Array = field(metadata=SEVEN_DIGITS)
    """Arrays of one length, flow rising; band at ``confidence``."""
    confidence: float = CONFIDENCE
    tested_low_mm3_s: float | None = None
    tested_high_mm3_s: float | None = None
    """Lowest and highest flow weighed; None at a temperature that was not tested."""


@dataclass(frozen=True)
class Delivery:
    """Delivered ÷ commanded at low flow, for one temperature block."""

    rig: str
    material: str
    temperature_c: float
    g_per_m: float
    """Delivered mass per metre of commanded filament."""
    u_g_per_m: float
    factor: float | None
    """Absolute delivery factor; None where density (and diameter) are unknown."""
    u_factor: float | None
    anchored_by: Literal["references", "lowest flows"]


@dataclass(frozen=True)
class Law:
    """The two-unknown physical law across temperatures, and whether the data support it."""

    rig: str
    material: str
    alpha_l_mm3_s: float
    """α·L (thermal diffusivity × heated length) in mm³/s."""
    u_alpha_l_mm3_s: float
    softening_c: float
    u_softening_c: float
    correlation: float
    feed_c: float
    """Temperature of the filament entering, T₀."""
    p_value: float | None
    """Of the law against free ceilings per temperature; None with two temperatures or fewer."""
    supported: bool
    sentence: str
    misfit: float = 1.0
    """Factor on the covariance where the ceilings scatter about the law more than expected."""


LACK_LEVEL = 0.01
"""Lack of fit below which no difference is called with a curve: one good curve in a hundred."""
METHOD = "any rising loss"
"""How a fit of this release reads its intervals."""
FIRST_METHOD = "average over families"
"""How release 0.1 did; its fits and packages do not say so."""


@dataclass(frozen=True)
class Family:
    """One shape of loss over flow, with its share of the evidence: in fits of release 0.1 only."""

    name: str
    weight: float
    parameters: dict[str, float]
    u_parameters: dict[str, float]


@dataclass(frozen=True)
class Residual:
    """One reading against the fitted curve."""

    coupon: str | None
    temperature_c: float
    flow_mm3_s: float
    loss: float
    u_loss: float
    fitted_loss: float
    standardised: float
    left_out: bool = False
    """Out of line by a stated test and not used for the curve (see the group's notes)."""
    too_deep: bool = False
    """More loss than the curve is fitted to; not used for it either."""


@dataclass(frozen=True)
class CeilingPosterior:
    """A ceiling known from both sides, for comparing rigs: quantiles, and draws."""

    temperature_c: float
    flow_mm3_s: Array = field(metadata=SEVEN_DIGITS)
    """201 flows; the ceiling lies below the i-th with probability (i + ½)/201."""
    draw_mm3_s: Array | None = field(default=None, metadata=SEVEN_DIGITS)
    """400 equally likely ceilings; the i-th of all temperatures of a group belong together, since
    they share a curve. None in fits of release 0.1."""


@dataclass(frozen=True)
class Sampling:
    """How well the draws behind a fit know what they are asked."""

    effective_draws: int
    """Independent draws that would know the worst end of a 95 % interval as well."""
    end_error_mm3_s: float
    """Standard error of the worst end, from how far the walks differ among themselves."""


@dataclass(frozen=True)
class GroupFit:
    """Everything fitted for one rig and material."""

    rig: str
    material: str
    sd_relative: float
    """Standard deviation of a coupon, relative to its mass."""
    dof: float
    lack_of_fit_p: float | None
    """F test against replicate scatter; None without replicates."""
    residuals: tuple[Residual, ...]
    curves: tuple[Curve, ...]
    delivery: tuple[Delivery, ...] = field(metadata=read_back_as(()))
    law: Law | None = field(metadata=read_back_as(None))
    notes: tuple[str, ...]
    """What the reader should know: outliers, unequal noise, slipping drive, one-sided answers."""
    posteriors: tuple[CeilingPosterior, ...] = ()
    feed_c: float = ROOM_C
    """Temperature of the filament entering, used by the law."""
    families: tuple[Family, ...] = ()
    """Of a fit of release 0.1; empty in a fit of this one."""
    method: str = FIRST_METHOD
    """What the intervals assume; a fit that does not say is of release 0.1."""
    sampling: Sampling | None = None
    lack_near_p: float | None = None
    """The same of the flows a ceiling rests on, those with up to four times its loss; None in fits
    that do not say."""

    @property
    def misfit(self) -> str:
        """Why no difference may be called with this curve, or nothing."""
        near = self.lack_near_p
        p, where = (self.lack_of_fit_p, "") if near is None else (near, " near the ceiling")
        if p is None or p >= LACK_LEVEL:
            return ""
        return (
            f"the curve of {self.rig} misses its coupons{where} by more than they scatter (lack of "
            f"fit p = {p:.1g})"
        )

    @property
    def far_misfit(self) -> str:
        """That the curve misses coupons far above the ceiling alone, or nothing."""
        if self.misfit or self.lack_of_fit_p is None or self.lack_of_fit_p >= LACK_LEVEL:
            return ""
        return (
            "far above the ceiling the curve misses its coupons by more than they scatter (lack "
            f"of fit p = {self.lack_of_fit_p:.1g}); near the ceiling it fits, and ceilings rest on "
            "that."
        )

    @property
    def all_notes(self) -> tuple[str, ...]:
        """The notes, and that the curve does not fit where it does not."""
        return (*(m for m in (self.misfit, self.far_misfit) if m), *self.notes)

    def curve(self, temperature_c: float) -> Curve | None:
        """The loss curve of a tested temperature, None for any other."""
        return next((c for c in self.curves if c.temperature_c == temperature_c), None)


@dataclass(frozen=True)
class Fit:
    """Loss curves and ceilings of every rig and material in a set of readings.

    Plain data: what :func:`~beadworth.capacity.fit_to_json` writes loses nothing that
    :func:`~beadworth.capacity.ceiling_at` and the others need, so that a stored fit says what
    a fresh one does.
    """

    loss: float
    confidence: float
    ceilings: tuple[Ceiling, ...]
    groups: tuple[GroupFit, ...]
    notes: tuple[str, ...] = ()
    """What was left out of the fit as a whole, and why."""

    def group(self, rig: str | None = None, material: str | None = None) -> GroupFit:
        """The group of a rig and material; either may be left out where only one fits.

        Raises
        ------
        NotFoundError
            No such group, or several.
        """
        found = [
            g
            for g in self.groups
            if (rig is None or g.rig == rig) and (material is None or g.material == material)
        ]
        if len(found) == 1:
            return found[0]
        known = "; ".join(f"{g.rig}, {g.material}" for g in self.groups)
        wanted = ", ".join(name for name in (rig, material) if name) or "any rig and material"
        what = "no fitted readings" if not found else f"{len(found)} fitted groups"
        raise NotFoundError(
            Problem(
                f"there are {what} for {wanted}.",
                where="capacity",
                value=rig,
                remedy=f"Name one of: {known}.",
            )
        )
