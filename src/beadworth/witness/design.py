"""A witness print as plain data, before it is a program: layers, bands and what they claim."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from beadworth.witness.outline import Outline
from beadworth.witness.spec import Kind

FOOT = 0
"""Number of the band that is none: the foot, laid slowly."""


@dataclass(frozen=True)
class Layer:
    """One layer to lay."""

    outline: Outline
    band: int
    """Number of its band, from 1; :data:`FOOT` for the foot."""
    width_mm: float
    speed_mm_s: float
    fan: float
    graded: bool = False
    """Whether its band is judged by it: laid when the melt zone holds what was melted at the
    band's own flow."""
    cycles: int = 0
    """Retractions and recoveries on the left side of this layer."""
    object: int = 0
    """Which of the objects of the program it belongs to."""


@dataclass(frozen=True)
class Band:
    """One setting's share of a witness."""

    number: int
    """From the bottom, from 1."""
    code: str
    """What a grader calls it by."""
    mark: int | None
    """Which of the four teeth of its mark stand, as bits from the front; None: it has none."""
    chain: str
    """What rises along the bands it belongs with: 'flow', 'speed', or another."""
    settings: Mapping[str, float]
    """Each by its name with unit. Flow is the average over the last two melt-zone volumes."""
    sides: tuple[str, ...]
    """Sides graded apart."""
    side_settings: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    """What differs from side to side, as the angle of a facet."""


@dataclass(frozen=True)
class Claim:
    """What every graded layer of a band must keep to, as the replay sees it."""

    of: Literal["speed", "flow", "layer time", "passes"]
    side: str = ""
    """For a speed: on which side it is reached."""
    share: float = 1.0
    """For a speed: of the side's length, at least; for the others the part by which they may
    miss."""


@dataclass(frozen=True)
class Design:
    """A whole witness print."""

    kind: Kind
    layer_mm: float
    layers: tuple[Layer, ...]
    """Object after object, each from the bottom."""
    bands: tuple[Band, ...]
    claims: tuple[Claim, ...]
    places_mm: tuple[tuple[float, float], ...]
    """Of the middle of each object on the bed."""
    skirt: Outline
    """Laid around each object first, to fill the nozzle."""
    climb: Literal["side", "stop", "travel"]
    """How the nozzle gets a layer higher: along the left side, at a stop, on the way back."""
    shuffled: str
    """Why bands stand in the order they do."""
    notes: tuple[str, ...] = ()
    pause: bool = False
    """Whether each object is taken off the bed before the next is begun."""


@dataclass(frozen=True)
class SideReach:
    """One side of a band as the replay sees it."""

    share: float
    """Of its length, laid at 97 % of the band's speed or faster."""
    peak_mm_s: float


@dataclass(frozen=True)
class BandReach:
    """One band as the replay sees it, over its graded layers."""

    number: int
    sides: Mapping[str, SideReach]
    flow_mm3_s: float
    """Mean of the averages over the last two melt-zone volumes."""
    flow_low_mm3_s: float
    flow_high_mm3_s: float
    """Least and greatest of those averages, at the ends of layers."""
    layer_time_s: float
    passes: float
    """Filament that moved either way ÷ filament laid."""
    laid_mm3: float
    at_speed_share: float
    """Of all length laid, at 97 % of the band's speed or faster."""
