"""What a fit says at temperatures, losses and flows that were not weighed.

Tested temperatures are read off the fit. Between and beyond them the physical law
answers where the readings support it; where they do not, ceilings are interpolated between
neighbours, and beyond the tested range only 'at least' (hotter) or 'at most' (cooler) is
said: a hotter wall never melts less. Every answer carries its basis.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.fitting.law import predict
from beadworth.capacity.model.prepare import check_loss
from beadworth.capacity.result import Ceiling, Curve, Fit, GroupFit
from beadworth.core import FitError, Problem

Array = NDArray[np.float64]

_BEYOND = 1.25
"""A ceiling at another loss is read up to this multiple of the highest flow weighed."""


def tested_ceilings(fit: Fit, group: GroupFit) -> list[Ceiling]:
    """The group's own ceilings at the fit's loss, temperature rising."""
    own = [c for c in fit.ceilings if c.rig == group.rig and c.material == group.material]
    return sorted(own, key=lambda c: c.temperature_c)


def ceiling_at(
    fit: Fit,
    rig: str | None,
    material: str | None,
    temperature_c: float,
    loss: float | None = None,
) -> Ceiling:
    """The ceiling of a rig and material at any temperature and loss.

    Parameters
    ----------
    rig, material : str, optional
        Either may be None where only one group fits (see :meth:`Fit.group`).
    temperature_c : float
        °C; outside the tested range the answer is marked ``extrapolated``.
    loss : float, optional
        0.005 to 0.2; left out: the fit's. Another loss is read across the curve's band,
        whose pointwise limits are the limits of the ceiling at that loss.

    Raises
    ------
    NotFoundError
        No such group, or several.
    FitError
        Not a temperature, or a loss outside its range.
    """
    return ceiling_of(fit, fit.group(rig, material), temperature_c, loss)


def ceiling_of(
    fit: Fit, group: GroupFit, temperature_c: float, loss: float | None = None
) -> Ceiling:
    """:func:`ceiling_at` for a group at hand."""
    if loss is not None:
        check_loss(loss, fit.confidence)
    if loss is not None and abs(loss - fit.loss) > 1e-12:
        return _across(_curve(fit, group, temperature_c), loss, _place(fit, group, temperature_c))
    return _place(fit, group, temperature_c)


def _place(fit: Fit, group: GroupFit, temperature_c: float) -> Ceiling:
    """The ceiling at the fit's own loss."""
    tested = tested_ceilings(fit, group)
    for ceiling in tested:
        if ceiling.temperature_c == temperature_c:
            return ceiling
    if not (np.isfinite(temperature_c) and temperature_c > 0):
        raise FitError(
            Problem(
                f"{temperature_c:g} °C is not a nozzle temperature.",
                "temperature",
                temperature_c,
                "Give a temperature in °C.",
            )
        )
    outside = not tested[0].temperature_c < temperature_c < tested[-1].temperature_c
    if group.law is not None and group.law.supported:
        flow, low, high = predict(group.law, temperature_c, group.dof, fit.confidence)
        return Ceiling(
            group.rig, group.material, temperature_c, fit.loss, flow, low, high,
            "interval", fit.confidence, outside, "law",
        )  # fmt: skip
    return _neighbours(fit, group, tested, temperature_c, outside)


def _neighbours(
    fit: Fit, group: GroupFit, tested: list[Ceiling], temperature_c: float, outside: bool
) -> Ceiling:
    cooler = next((c for c in reversed(tested) if c.temperature_c < temperature_c), None)
    hotter = next((c for c in tested if c.temperature_c > temperature_c), None)
    if cooler and hotter and cooler.flow_mm3_s and hotter.flow_mm3_s:
        share = (temperature_c - cooler.temperature_c) / (
            hotter.temperature_c - cooler.temperature_c
        )
        flow, low, high = (
            (1 - share) * float(a or 0.0) + share * float(b or 0.0)
            for a, b in (
                (cooler.flow_mm3_s, hotter.flow_mm3_s),
                (cooler.low, hotter.low),
                (cooler.high, hotter.high),
            )
        )
        return Ceiling(
            group.rig, group.material, temperature_c, fit.loss, flow, low, high,
            "interval", fit.confidence, False, "between",
        )  # fmt: skip
    low_known = cooler.low if cooler and _rising(tested) else None
    high_known = hotter.high if hotter and _rising(tested) else None
    bound: Literal["at-least", "at-most"] = (
        "at-most" if low_known is None and high_known is not None else "at-least"
    )
    return Ceiling(
        group.rig, group.material, temperature_c, fit.loss, None, low_known, high_known,
        bound, fit.confidence, outside, "between",
    )  # fmt: skip


def _rising(tested: list[Ceiling]) -> bool:
    """Whether no hotter ceiling lies clearly below a cooler one."""
    return not any(
        a.low is not None and b.high is not None and b.high < a.low
        for i, a in enumerate(tested)
        for b in tested[i + 1 :]
    )


def _curve(fit: Fit, group: GroupFit, temperature_c: float) -> Curve:
    """The loss curve of a group at any temperature.

    At a temperature that was not tested, the curve of the nearest tested one with its flows
    in proportion to the ceilings; the band takes in both the shape's and the ceiling's
    uncertainty. Where only a bound is known, the band is open on the side that is not.
    """
    own = group.curve(temperature_c)
    if own is not None:
        return own
    place = _place(fit, group, temperature_c)
    tested = tested_ceilings(fit, group)
    known = [c for c in tested if c.flow_mm3_s] or tested
    near = min(known, key=lambda c: abs(c.temperature_c - temperature_c))
    curve = group.curve(near.temperature_c)
    assert curve is not None
    blank = replace(
        curve, temperature_c=temperature_c, tested_low_mm3_s=None, tested_high_mm3_s=None
    )
    if place.flow_mm3_s and near.flow_mm3_s and place.low and place.high:
        scale = place.flow_mm3_s / near.flow_mm3_s
        flow = curve.flow_mm3_s * scale
        slow = np.interp(flow * near.flow_mm3_s / place.high, curve.flow_mm3_s, curve.loss)
        fast = np.interp(flow * near.flow_mm3_s / place.low, curve.flow_mm3_s, curve.loss)
        return replace(
            blank,
            flow_mm3_s=flow,
            low=np.minimum(curve.low, slow),
            high=np.maximum(curve.high, fast),
        )
    hotter = temperature_c > near.temperature_c
    if not _rising(tested):
        return replace(blank, low=np.zeros_like(curve.low), high=np.ones_like(curve.high))
    if hotter:
        return replace(blank, low=np.zeros_like(curve.low))
    return replace(blank, high=np.ones_like(curve.high))


def loss_at(
    fit: Fit,
    rig: str | None,
    material: str | None,
    temperature_c: float,
    flow_mm3_s: float | Array,
) -> tuple[Array, Array, Array]:
    """Predicted loss at some flows, with its band.

    Parameters
    ----------
    flow_mm3_s : float or array, mm³/s, ≥ 0

    Returns
    -------
    loss, low, high : arrays shaped like the flow
        Beyond the curve's grid (1.6 × the highest flow weighed) the delivered flow is taken as
        it is at the grid's end for ``loss`` and ``low``, and nothing is claimed above: high 1.
    """
    curve = _curve(fit, fit.group(rig, material), temperature_c)
    flow = np.asarray(flow_mm3_s, dtype=np.float64)
    end = float(curve.flow_mm3_s[-1])
    beyond = flow > end
    kept = np.where(beyond, end / np.maximum(flow, end), 1.0)
    loss, low, high = (
        np.interp(flow, curve.flow_mm3_s, column) for column in (curve.loss, curve.low, curve.high)
    )
    return (
        np.asarray(1.0 - (1.0 - loss) * kept),
        np.asarray(1.0 - (1.0 - low) * kept),
        np.where(beyond, 1.0, high),
    )


def _across(curve: Curve, loss: float, place: Ceiling) -> Ceiling:
    """Read a ceiling at another loss across a curve and its band."""
    low = _crossing(curve.flow_mm3_s, curve.high, loss)
    flow = _crossing(curve.flow_mm3_s, curve.loss, loss)
    high = _crossing(curve.flow_mm3_s, curve.low, loss)
    top = curve.tested_high_mm3_s
    floor = curve.tested_low_mm3_s
    if high is None or (top is not None and high > _BEYOND * top):
        known = low if low is not None and (floor is None or low > floor) else None
        return replace(place, loss=loss, flow_mm3_s=None, low=known, high=None, bound="at-least")
    if low is None or (floor is not None and low < floor):
        return replace(place, loss=loss, flow_mm3_s=None, low=None, high=high, bound="at-most")
    return replace(place, loss=loss, flow_mm3_s=flow, low=low, high=high, bound="interval")


def _crossing(flow: Array, loss: Array, level: float) -> float | None:
    """The flow at which a rising curve comes to a level; None where it does not."""
    rising = np.maximum.accumulate(loss)
    at = int(np.searchsorted(rising, level))
    if at == 0 or at == len(flow):
        return None
    a, b = rising[at - 1], rising[at]
    return float(flow[at - 1] + (level - a) / max(b - a, 1e-300) * (flow[at] - flow[at - 1]))
