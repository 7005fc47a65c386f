"""What is not known of a prediction, where each part of it belongs, and how much of it is carried.

A ceiling rests on nine unknowns, each 0 before anything is measured:

    polymer:  ln of its diffusivity factor; shift of softening, K; ln of its viscosity factor and
              of its yield stress's
    hot end:  ln of its heat-up factor (contact, gap, length); shift of its wall temperature, K
    nozzle:   ln of a factor on what land and cone resist by shear
    drive:    ln of its grip factor
    model:    ln of a factor on the flow, for what the model leaves out

A trial's ceilings narrow all of them together (their joint normal posterior, :mod:`calibration`).
Carried to another rig or polymer, what belongs to a part that is the same keeps its posterior and
its correlations; what belongs to another part is drawn anew from what is known of that one. So an
interval widens with every step away from the trial.
"""

from __future__ import annotations

import math
from collections.abc import Set
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.material import Material
from beadworth.rig import Rig, look_up

Array = NDArray[np.float64]

COMPONENTS = (
    "polymer_heat", "polymer_softening", "polymer_viscosity", "polymer_yield", "hot_end_heat",
    "hot_end_wall", "nozzle_force", "drive_grip", "model",
)  # fmt: skip
NONE: tuple[float, ...] = (0.0,) * len(COMPONENTS)

# Standard uncertainties where a record gives none; assumed, wide on purpose.
DIFFUSIVITY_U = 0.15
SOFTENING_U_C = 6.0
VISCOSITY_U = 0.4
YIELD_U = 0.2
UNMEASURED_MELT_U = 0.8
CONTACT_U = 0.6
GAP_U = 0.4
WET_SPEED_U = 0.7
LENGTH_U = 0.05
BORE_U = 0.0
WALL_U_C = 2.0
LAND_U, CONE_U, NOZZLE_U = 0.25, 0.15, 0.10
"""Of the push force: a land that is not recorded, a cone that is not, and what is left."""
GRIP_U = 0.15
MODEL_U = 0.22
"""Of a ceiling: push forces left out of the fit come out within a factor 1.7 (1 u) of what was
published; the ceiling goes with about the third root, and the loss it is read at adds to it."""
CHANNELS_U = 0.3
"""More for a bore of several channels, of which no published figure was had."""
MODEL_PER_LN_NOZZLE = 0.35
"""How little is known of the way ceilings go with the nozzle: two nozzles were published."""

MODEL_PER_HOT_END = 0.15
"""How far the model's factor may differ between two hot ends; assumed."""

GRIP_CLASS_N: dict[str | None, float] = {"direct": 65.0, "bowden": 50.0, None: 60.0}
GRIP_CLASS_U = 0.35
"""Grip of a drive nobody measured, by class: 95 % within a factor 2; common practice, no source."""

HOT_END = (
    "melt_zone_mm", "bore_mm", "block_metal", "block_mass_g", "heat_break_mm", "bore_kind",
    "wetted_perimeter_mm", "bore_section_mm2",
)  # fmt: skip
"""Two rigs with these alike have the same hot end here; a nozzle may differ."""
NOZZLE = ("nozzle_mm", "land_mm", "cone_half_angle_deg")
DRIVE = ("drive", "grip_force_n", "gear_ratio", "effective_diameter_mm", "guide_tube_mm")


@dataclass(frozen=True)
class CalibrationSource:
    """The parts and the material a calibration was made on."""

    hot_end: tuple[Any, ...]
    nozzle: tuple[Any, ...]
    drive: tuple[Any, ...]
    material: str

    @classmethod
    def of(cls, rig: Rig, material: Material) -> CalibrationSource:
        """The parts of a rig."""
        return cls(hot_end_of(rig), nozzle_of(rig), drive_of(rig), material.name)

    def fits(self, rig: Rig) -> bool:
        """Whether a rig has that hot end."""
        return self.hot_end == hot_end_of(rig)


@dataclass(frozen=True)
class Scales:
    """What a calibration found of :data:`COMPONENTS`, or that nothing is known of them yet."""

    mean: tuple[float, ...] = NONE
    covariance: tuple[tuple[float, ...], ...] = ()
    """Of the components a trial taught; empty where none did."""
    taught: tuple[str, ...] = ()
    """Those components, in the order of the covariance."""
    source: CalibrationSource | None = None
    """None for values that hold for any rig and material they are used with."""

    def value(self, name: str) -> float:
        """One component."""
        return self.mean[COMPONENTS.index(name)]

    def u(self, name: str) -> float | None:
        """Standard uncertainty of one component; None where no trial taught it."""
        if name not in self.taught:
            return None
        at = self.taught.index(name)
        return math.sqrt(self.covariance[at][at])

    @property
    def heat_factor(self) -> float:
        """Factor on how fast the core warms up."""
        return math.exp(self.value("polymer_heat") + self.value("hot_end_heat"))

    @property
    def softening_shift_c(self) -> float:
        """K by which the polymer softens later."""
        return self.value("polymer_softening")

    @property
    def wall_shift_c(self) -> float:
        """K by which the wall is hotter than what is set."""
        return self.value("hot_end_wall")

    @property
    def viscosity_factor(self) -> float:
        """Factor on the viscosity; what yields scales with :attr:`yield_factor`."""
        return math.exp(self.value("polymer_viscosity"))

    @property
    def yield_factor(self) -> float:
        """Factor on the yield stress."""
        return math.exp(self.value("polymer_yield"))

    @property
    def nozzle_factor(self) -> float:
        """Factor on what land and cone resist by shear."""
        return math.exp(self.value("nozzle_force"))

    @property
    def grip_factor(self) -> float:
        """Factor on the drive's grip."""
        return math.exp(self.value("drive_grip"))

    @property
    def flow_factor(self) -> float:
        """Factor on the ceiling for what the model leaves out."""
        return math.exp(self.value("model"))

    def knows(self, *names: str) -> bool:
        """Whether a trial taught all of these."""
        return all(name in self.taught for name in names)


def hot_end_of(rig: Rig) -> tuple[Any, ...]:
    """What tells one hot end from another."""
    return tuple(getattr(rig.hot_end, name) for name in HOT_END)


def nozzle_of(rig: Rig) -> tuple[Any, ...]:
    """What tells one nozzle from another."""
    return tuple(getattr(rig.hot_end, name) for name in NOZZLE)


def drive_of(rig: Rig) -> tuple[Any, ...]:
    """What tells one drive from another."""
    return tuple(getattr(rig.extruder, name) for name in DRIVE)


def recorded_u(rig: Rig, path: str, otherwise: float) -> float:
    """Relative standard uncertainty of a value: as the record has it, else what is assumed."""
    known, value = rig.known.get(path), look_up(rig, path)
    return known.u / value if known and known.u and value else otherwise


def grip_of(rig: Rig) -> tuple[float, float]:
    """Grip of the drive, N, and its relative standard uncertainty: recorded, or by its class."""
    recorded = rig.extruder.grip_force_n
    if recorded is not None:
        return recorded, recorded_u(rig, "extruder.grip_force_n", GRIP_U)
    return GRIP_CLASS_N[rig.extruder.drive], GRIP_CLASS_U


def own_u(rig: Rig, material: Material) -> dict[str, float]:
    """Standard uncertainty of every component but the hot end's heat, before any trial."""
    land = 0.0 if rig.hot_end.land_mm is not None else LAND_U
    cone = 0.0 if rig.hot_end.cone_half_angle_deg is not None else CONE_U
    force = material.viscosity_u or VISCOSITY_U
    return {
        "polymer_heat": material.diffusivity_u or DIFFUSIVITY_U,
        "polymer_softening": material.softening_u_c or SOFTENING_U_C,
        "polymer_viscosity": force if material.rheology else UNMEASURED_MELT_U,
        "polymer_yield": YIELD_U,
        "hot_end_wall": WALL_U_C,
        "nozzle_force": math.hypot(land, cone, NOZZLE_U),
        "drive_grip": grip_of(rig)[1],
        "model": math.hypot(MODEL_U, CHANNELS_U if rig.hot_end.bore_kind == "channels" else 0.0),
    }


def carried(scales: Scales | None, rig: Rig, material: Material) -> Scales:
    """What a calibration says of a rig and a material, which need not be those it was made on.

    Returns
    -------
    Scales
        With nothing more to carry: ``source`` is None.
    """
    if scales is None:
        return Scales()
    source = scales.source
    if source is None:
        return scales
    same = {
        "polymer": source.material == material.name,
        "hot_end": source.fits(rig),
        "nozzle": source.nozzle == nozzle_of(rig),
        "drive": source.drive == drive_of(rig),
    }
    same["model"] = same["polymer"]
    lost = {name for name in COMPONENTS if not same[_part(name)]}
    ratio = rig.hot_end.nozzle_mm / source.nozzle[0]
    return _without(scales, lost, model_apart_u2(ratio, same_hot_end=same["hot_end"]))


def model_apart_u2(nozzle_ratio: float, *, same_hot_end: bool) -> float:
    """Variance of the model's own factor between two nozzles and hot ends, relative."""
    nozzles = (MODEL_PER_LN_NOZZLE * math.log(nozzle_ratio)) ** 2
    return nozzles + (0.0 if same_hot_end else MODEL_PER_HOT_END**2)


def _part(name: str) -> str:
    """Whose a component is."""
    return name if name == "model" else name.rsplit("_", 1)[0]


def other_hot_end(scales: Scales) -> Scales:
    """A calibration for another hot end with all else alike, whose length alone differs."""
    return _without(scales, {"hot_end_heat", "hot_end_wall"}, MODEL_PER_HOT_END**2)


def _without(scales: Scales, lost: Set[str], model_variance: float) -> Scales:
    """What is left of a calibration without some components, its model's factor this much wider."""
    keep = [name for name in scales.taught if name not in lost]
    at = [scales.taught.index(name) for name in keep]
    covariance = np.array(scales.covariance)[np.ix_(at, at)] if at else np.empty((0, 0))
    if "model" in keep:
        covariance[keep.index("model"), keep.index("model")] += model_variance
    mean = [0.0 if n in lost else v for n, v in zip(COMPONENTS, scales.mean, strict=True)]
    return Scales(tuple(mean), as_rows(covariance), tuple(keep))


def as_rows(covariance: NDArray[np.floating[Any]]) -> tuple[tuple[float, ...], ...]:
    """A covariance as :class:`Scales` holds it."""
    return tuple(tuple(float(v) for v in row) for row in covariance)
