"""What a fit says, as plain data; the shape of ``capacity fit --json`` too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

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
    confidence: float = 0.95
    extrapolated: bool = False
    """True where the temperature lies outside the tested range (or between, see ``basis``)."""
    basis: Literal["readings", "law", "between"] = "readings"
    """Read at a tested temperature, from the physical law, or between tested ones."""


@dataclass(frozen=True)
class Curve:
    """Loss over flow at one temperature, with a pointwise band."""

    rig: str
    material: str
    temperature_c: float
    flow_mm3_s: Array
    loss: Array
    low: Array
    high: Array
    """Arrays of one length, flow rising; band at ``confidence``."""
    confidence: float = 0.95
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


@dataclass(frozen=True)
class Family:
    """One shape of loss over flow, with its share of the evidence."""

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
    """Evenly spaced quantiles of a ceiling known from both sides, for comparing rigs."""

    temperature_c: float
    flow_mm3_s: Array
    """201 flows; the ceiling lies below the i-th with probability (i + ½)/201."""


@dataclass(frozen=True)
class GroupFit:
    """Everything fitted for one rig and material."""

    rig: str
    material: str
    families: tuple[Family, ...]
    sd_relative: float
    """Residual standard deviation of a coupon, relative to its mass."""
    dof: float
    lack_of_fit_p: float | None
    """F test against replicate scatter; None without replicates."""
    residuals: tuple[Residual, ...]
    curves: tuple[Curve, ...]
    delivery: tuple[Delivery, ...]
    law: Law | None
    notes: tuple[str, ...]
    """What the reader should know: outliers, unequal noise, slipping drive, one-sided answers."""
    posteriors: tuple[CeilingPosterior, ...] = ()
    feed_c: float = 25.0
    """Temperature of the filament entering, used by the law."""

    def curve(self, temperature_c: float) -> Curve | None:
        """The loss curve of a tested temperature, None for any other."""
        return next((c for c in self.curves if c.temperature_c == temperature_c), None)


@dataclass(frozen=True)
class Fit:
    """Loss curves and ceilings of every rig and material in a set of readings.

    Plain data: :meth:`to_json` and :meth:`from_json` lose nothing a method needs, so a saved
    fit answers like a fresh one.
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
        from beadworth.capacity.reading.interpolate import find_group

        return find_group(self, rig, material)

    def ceiling(
        self,
        rig: str | None,
        material: str | None,
        temperature_c: float,
        loss: float | None = None,
    ) -> Ceiling:
        """The ceiling at any temperature and loss (see :func:`~.answers.ceiling_at`)."""
        from beadworth.capacity.reading.interpolate import ceiling_at

        return ceiling_at(self, self.group(rig, material), temperature_c, loss)

    def curve(self, rig: str | None, material: str | None, temperature_c: float) -> Curve:
        """The loss curve at any temperature (see :func:`~.answers.curve_at`)."""
        from beadworth.capacity.reading.interpolate import curve_at

        return curve_at(self, self.group(rig, material), temperature_c)

    def loss_at(
        self, rig: str | None, material: str | None, temperature_c: float, flow_mm3_s: float | Array
    ) -> tuple[Array, Array, Array]:
        """Predicted loss with its band: (loss, low, high), each shaped like the flow."""
        from beadworth.capacity.reading.interpolate import loss_at

        return loss_at(self, self.group(rig, material), temperature_c, flow_mm3_s)

    def to_json(self) -> dict[str, Any]:
        """Plain data for ``json.dumps``: ceilings, delivery, law, fit."""
        from beadworth.capacity.fitting.codec import fit_to_json

        return fit_to_json(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Fit:
        """The fit that :meth:`to_json` wrote.

        Raises
        ------
        FitError
            Data that is not a saved fit, with the field that is missing or wrong.
        """
        from beadworth.capacity.fitting.codec import fit_from_json

        return fit_from_json(data)
