"""A hot end before buying it: ceiling, what the interval is made of, force, power, temperatures."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import LOSS, coverage_factor
from beadworth.material import Material
from beadworth.melt.calibration import hot_end_heat_u
from beadworth.melt.ceilings import ceiling_mm3_s, draw_ceilings_mm3_s, loss_share
from beadworth.melt.channel import Channel, beyond_limits, channel_of
from beadworth.melt.narrowing import Measurement, Share, measurements_of, named_shares, shares_of
from beadworth.melt.scales import (
    BORE_U,
    COMPONENTS,
    CONTACT_U,
    GAP_U,
    GRIP_CLASS_U,
    LENGTH_U,
    WET_SPEED_U,
    Scales,
    carried,
    grip_of,
    own_u,
    recorded_u,
)
from beadworth.melt.squeeze import rheology_of, way_of
from beadworth.melt.state import WARM, state_at
from beadworth.melt.terms import ALL, Terms
from beadworth.rig import Rig

Array = NDArray[np.float64]
Limit = Literal["heat", "force", "temperature"]

DRAWS = 1000
"""One number for page, command and library, so that all give the same interval."""
LEAST_MM3_S = 0.3
"""A ceiling under this is none: the polymer is hardly soft."""
BENT = 1.2
"""An interval taken as linear in the unknowns is about so much too narrow: in drawn worlds it held
the truth in 91 % where 95 % were asked (benchmarks/melt_published.py)."""
HOT_END_INPUTS = ("air gap", "contact at the wall", "wetted wall", "melt-zone length", "bore")
INPUTS = (*COMPONENTS, *HOT_END_INPUTS)


@dataclass(frozen=True)
class Prediction:
    """What the model says of one rig, material and temperature; intervals at 95 %."""

    rig: str
    material: str
    temperature_c: float
    ceiling_mm3_s: float
    """Flow at which the push force meets the drive's grip and the drive slips."""
    low: float
    high: float
    limited_by: Limit
    """heat: over half of the push force at the ceiling comes of a core that is not warm;
    force: the warm melt alone takes more than that; temperature: hardly anything passes."""
    stiff_share: float
    """Share of the push force at the ceiling that a core which is not warm adds."""
    loss: float
    at_loss_mm3_s: float
    """Flow at which this share of the polymer is missing; it comes before the drive slips."""
    at_loss_low: float
    at_loss_high: float
    grip_n: float
    """Grip of the drive, recorded or assumed for its class."""
    grip_u: float
    """Its relative standard uncertainty."""
    force_n: float
    """Push force at the ceiling."""
    pressure_mpa: float
    power_w: float
    """Heat the polymer takes up at the ceiling, standing losses left out."""
    outlet_core_c: float
    outlet_mean_c: float
    radius_mm: Array
    profile_c: Array
    """Temperature at the outlet over the radius, at the ceiling."""
    shares: tuple[Share, ...]
    """What the interval is made of, the largest share first."""
    measurements: tuple[Measurement, ...]
    """What would narrow it, most of all first."""
    notes: tuple[str, ...]
    """What was assumed and what to measure."""


def predict(
    rig: Rig,
    material: Material,
    temperature_c: float,
    *,
    draws: int = DRAWS,
    seed: int = 1,
    scales: Scales | None = None,
    loss: float = LOSS,
    terms: Terms = ALL,
) -> Prediction:
    """Predict a rig's ceiling with one material at one wall temperature.

    The ceiling is the flow at which what it takes to squeeze the polymer out, of which a core that
    is still stiff makes most, meets the drive's grip. The interval comes from ``draws`` Monte
    Carlo draws of what is uncertain (JCGM 101:2008, equal tails); what nobody measured is drawn
    from what is usual for its class.

    Raises
    ------
    InputError
        What the model needs and the records do not hold, all at once.
    """
    channel, notes = channel_of(rig)
    known = carried(scales, rig, material)
    grip, grip_u = grip_of(rig)
    notes = (
        *beyond_limits(rig, material, temperature_c), *notes, *_assumed(rig, material, known),
    )  # fmt: skip
    ceiling = ceiling_mm3_s(channel, material, temperature_c, grip, known, terms)
    rng = np.random.default_rng(seed)
    if known.taught:
        found, shares = _near_the_trial(rig, material, channel, temperature_c, known, draws, rng)
    else:
        normals, values = _unknowns(rig, material, draws, rng)
        found = _ceilings(channel, material, temperature_c, grip, values, ceiling, terms)
        shares = shares_of(found, normals)
    low, high = (float(v) for v in np.quantile(found, [0.025, 0.975]))
    limited: Limit = "temperature"
    stiff = 0.0
    if ceiling < LEAST_MM3_S:
        ceiling = 0.0
        notes = (*notes, f"{temperature_c:g} °C is too cold: hardly anything passes.")
    else:
        stiff = _stiff_share(channel, material, temperature_c, ceiling, known, terms)
        limited = "heat" if stiff > 0.5 else "force"
    state = state_at(rig, material, temperature_c, max(ceiling, 1e-2), scales=known, terms=terms)
    part = loss_share(loss)
    variance = float(np.var(np.log(np.maximum(found, 1e-3))))
    return Prediction(
        rig.name, material.name, temperature_c, ceiling, low, high, limited, stiff, loss,
        ceiling * part, low * part, high * part, grip, known.u("drive_grip") or grip_u,
        state.force_n, state.pressure_mpa, state.power_w if ceiling else 0.0, state.core_c,
        state.mean_c, state.radius_mm, state.profile_c, shares,
        measurements_of(variance, shares, grip_u, known), notes,
    )  # fmt: skip


def expected_mm3_s(
    rig: Rig, material: Material, temperature_c: float, *, loss: float = LOSS
) -> float:
    """The flow at which a share of the polymer is missing, mm³/s; 0 where hardly anything passes.

    ``at_loss_mm3_s`` of :func:`predict`, for who needs no interval: nothing is drawn.

    Raises
    ------
    InputError
        What the model needs and the records do not hold, all at once.
    """
    channel, _ = channel_of(rig)
    grip, _ = grip_of(rig)
    ceiling = ceiling_mm3_s(channel, material, temperature_c, grip)
    return ceiling * loss_share(loss) if ceiling >= LEAST_MM3_S else 0.0


def _assumed(rig: Rig, material: Material, known: Scales) -> tuple[str, ...]:
    """What stands in for values nobody recorded."""
    notes = []
    if rig.extruder.grip_force_n is None:
        grip, _ = grip_of(rig)
        whose = f"a {rig.extruder.drive} drive" if rig.extruder.drive else "any drive"
        spread = math.exp(coverage_factor() * GRIP_CLASS_U)
        taught = " A trial has narrowed it." if known.knows("drive_grip") else ""
        notes.append(
            f"The force at which the drive slips is not recorded; {grip:g} N ({grip / spread:.0f} "
            f"to {grip * spread:.0f} N, usual for {whose}, no source) assumed.{taught} To know it, "
            "measure it: pull filament against the idle drive with a hand scale until it slips "
            "(extruder.grip_force_n)."
        )
    if rig.hot_end.bore_kind == "channels":
        notes.append(
            "Several channels: heated and pushed as round ones of that perimeter and section. No "
            "published figure was had for such a bore, so the interval is wider."
        )
    if rheology_of(material)[1]:
        notes.append(
            f"The melt viscosity of {material.name} is not known; that of a usual polymer is "
            "assumed, within a factor 5. A data sheet's melt-flow rate narrows it."
        )
    return tuple(notes)


def _open_u(rig: Rig) -> tuple[float, ...]:
    """Relative standard uncertainty of :data:`HOT_END_INPUTS`."""
    return (
        GAP_U, CONTACT_U, WET_SPEED_U, recorded_u(rig, "hot_end.melt_zone_mm", LENGTH_U),
        recorded_u(rig, "hot_end.bore_mm", BORE_U),
    )  # fmt: skip


def _unknowns(
    rig: Rig, material: Material, draws: int, rng: np.random.Generator
) -> tuple[Array, dict[str, Array]]:
    """Standard normals of every input, (inputs, draws), and the values they make."""
    normals = rng.standard_normal((len(INPUTS), draws)).clip(-3.5, 3.5)
    u = own_u(rig, material) | dict(zip(HOT_END_INPUTS, _open_u(rig), strict=True))
    values = {name: u.get(name, 0.0) * row for name, row in zip(INPUTS, normals, strict=True)}
    return normals, values


def _near_the_trial(
    rig: Rig,
    material: Material,
    channel: Channel,
    temperature_c: float,
    known: Scales,
    draws: int,
    rng: np.random.Generator,
) -> tuple[Array, tuple[Share, ...]]:
    """Draws about what a trial found, the ceiling's logarithm linear in the unknowns.

    As the calibration has it, so that what it fixed together stays fixed together. What the trial
    did not teach is open.
    """
    grip, _ = grip_of(rig)
    u = own_u(rig, material)
    taught = known.u("hot_end_heat")
    u["hot_end_heat"] = taught or hot_end_heat_u(rig, material, channel, temperature_c)
    spread = np.diag([u[name] ** 2 for name in COMPONENTS])
    at = [COMPONENTS.index(name) for name in known.taught]
    spread[at, :] = 0.0
    spread[np.ix_(at, at)] = np.array(known.covariance)
    slopes = np.empty(len(COMPONENTS))
    centre = ceiling_mm3_s(channel, material, temperature_c, grip, known)
    for i, name in enumerate(COMPONENTS):
        step = 0.1 * u[name]
        ends = []
        for sign in (1.0, -1.0):
            mean = list(known.mean)
            mean[i] += sign * step
            one = replace(known, mean=tuple(mean))
            ends.append(ceiling_mm3_s(channel, material, temperature_c, grip, one))
        slopes[i] = math.log(max(ends[0], 1e-3) / max(ends[1], 1e-3)) / (2 * step)
    parts = np.maximum(slopes * (spread @ slopes), 0.0)
    if set(known.taught) == set(COMPONENTS):
        parts[:] = 0.0  # what one unknown lacks another has: only their sum was weighed
    variance = float(slopes @ spread @ slopes)
    found = max(centre, 1e-3) * np.exp(BENT * math.sqrt(variance) * rng.standard_normal(draws))
    return found, named_shares(np.append(parts, np.zeros(len(HOT_END_INPUTS))))


def _ceilings(
    channel: Channel,
    material: Material,
    temperature_c: float,
    grip_n: float,
    of: dict[str, Array],
    guess_mm3_s: float,
    terms: Terms,
) -> Array:
    """The ceiling of every draw, mm³/s."""
    base = way_of(channel, temperature_c, terms=terms)
    ways = np.repeat(base[None, :], of["model"].size, axis=0)
    bore = np.exp(of["bore"])
    ways[:, 0] *= np.maximum(bore, 1.05 * base[3] / base[0])
    ways[:, 1] *= np.exp(of["melt-zone length"].clip(-1.5, 1.5))
    ways[:, 7] += of["hot_end_wall"]
    ways[:, 9] *= np.exp(of["contact at the wall"])
    ways[:, 10] *= np.exp(of["air gap"])
    ways[:, 11] *= np.exp(of["wetted wall"])
    ways[:, 13] *= np.exp(of["polymer_heat"] + of["hot_end_heat"])
    ways[:, 14] += of["polymer_softening"]
    ways[:, 19] += of["polymer_viscosity"]
    ways[:, 20] *= np.exp(of["nozzle_force"])
    ways[:, 21] += of["polymer_yield"]
    grips = grip_n * np.exp(of["drive_grip"])
    found = draw_ceilings_mm3_s(
        ways, grips, material, terms, guess_mm3_s=min(max(guess_mm3_s, 1.0), 200.0)
    )
    return found * np.exp(of["model"])


def _stiff_share(
    channel: Channel,
    material: Material,
    temperature_c: float,
    flow_mm3_s: float,
    known: Scales,
    terms: Terms,
) -> float:
    """Share of the push force at one flow that goes away once the core is warm."""
    from beadworth.melt.state import _state

    warm_at = replace(known, mean=(known.mean[0] + math.log(WARM), *known.mean[1:]))
    here = _state(channel, material, temperature_c, flow_mm3_s, known, terms).force_n
    warm = _state(channel, material, temperature_c, flow_mm3_s, warm_at, terms).force_n
    return max(0.0, 1.0 - warm / here)
