"""The fit of the melt model's assumed values to published push forces; what it leaves out.

The values of the library (hot yield stress, viscosity, air gap, wetting) are those of
:func:`fit` over all sets, rounded. Every value has a range it is held in (the source's or, where
none was had, a wide one); what the paper does not give (melt zone, grip) is fitted too.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np

from beadworth.material import Material
from beadworth.material.library import GENERIC
from beadworth.melt.ceilings import ceiling_mm3_s
from beadworth.melt.channel import GAP_FACTOR, Channel
from beadworth.melt.scales import Scales
from beadworth.melt.state import _state
from beadworth.melt.terms import ALL, Terms

TABLE = Path(__file__).parents[1] / "tests" / "melt" / "data" / "hot_end_published.csv"
Set = tuple[str, float, float]
TRADE = {210.0: 13.0, 220.0: 14.5, 230.0: 16.0}
"""Common practice, no source: PLA, 20 mm melt zone, 0.4 mm nozzle; mm³/s."""
TRADE_GRIP_N = 60.0

# Start and range (1 u): 16 mm and ×/÷ 1.65 of melt zone, 65 N and ×/÷ 1.4 of grip, …
START: dict[str, tuple[float, float]] = {
    "ln zone": (math.log(16.0), 0.5),
    "ln grip": (math.log(65.0), 0.35),
    "ln ABS viscosity": (math.log(9000.0), 0.5),
    "ln ABS activation": (math.log(90e3), 0.12),
    "ln ABS hot yield": (math.log(20.0), 0.4),
    "ln PLA viscosity": (math.log(3.3e9), 0.5),
    "ln PLA hot yield": (math.log(20.0), 0.4),
    "ln wet speed": (math.log(0.5), 0.7),
    "ln gap": (0.0, 0.6),
    "ln contact": (math.log(1e-4), 0.6),
    "ln practice": (math.log(0.72), 0.1),
}
NAMES = tuple(START)
CENTRE, SPREAD = (np.array(column) for column in zip(*START.values(), strict=True))
FORCE_U, CEILING_U, TRADE_U = 0.2, 0.09, 0.025
"""How close the fit is asked to come: ln of a force, ln of a ceiling, ln of a trade fact."""

ROUNDED = {
    "ln zone": math.log(16.0), "ln grip": math.log(108.0),
    "ln ABS viscosity": math.log(9500.0), "ln ABS activation": math.log(97e3),
    "ln ABS hot yield": math.log(18.0), "ln PLA viscosity": math.log(1.8e9),
    "ln PLA hot yield": math.log(18.0), "ln wet speed": math.log(0.75),
    "ln gap": math.log(GAP_FACTOR), "ln contact": math.log(2.5e-4),
    "ln practice": math.log(0.70),
}  # fmt: skip
"""What the program uses, and the melt zone and grip of the paper's hot end."""


def published() -> tuple[dict[Set, dict[float, float]], dict[float, float]]:
    """Relative forces by set and flow, and flows by the lowest temperature that passes them."""
    forces: dict[Set, dict[float, float]] = {}
    ceilings: dict[float, float] = {}
    for row in csv.DictReader(TABLE.read_text().splitlines()):
        if row["quantity"] == "relative_pressure":
            one = (row["material"], float(row["nozzle_mm"]), float(row["temperature_C"]))
            forces.setdefault(one, {})[float(row["flow_mm3_s"])] = float(row["value"])
        elif row["quantity"] == "lowest_temperature_for_flow":
            ceilings[float(row["value"])] = float(row["flow_mm3_s"])
    return forces, ceilings


FORCES, CEILINGS = published()


class Model:
    """The model with one set of fitted values."""

    def __init__(self, x: np.ndarray | dict[str, float], terms: Terms = ALL) -> None:
        of = x if isinstance(x, dict) else dict(zip(NAMES, x, strict=True))
        self.of = {name.removeprefix("ln "): math.exp(value) for name, value in of.items()}
        self.terms = terms
        self.polymers = {"ABS": self._abs(), "PLA": self._pla()}

    def _abs(self) -> Material:
        fluid = GENERIC["ABS"].rheology.model_copy(
            update={
                "consistency_pa_sn": self.of["ABS viscosity"],
                "activation_j_mol": self.of["ABS activation"],
            }
        )
        return GENERIC["ABS"].model_copy(
            update={"rheology": fluid, "yield_hot_mpa": self.of["ABS hot yield"]}
        )

    def _pla(self) -> Material:
        fluid = GENERIC["PLA"].rheology.model_copy(update={"d1_pa_s": self.of["PLA viscosity"]})
        return GENERIC["PLA"].model_copy(
            update={"rheology": fluid, "yield_hot_mpa": self.of["PLA hot yield"]}
        )

    def channel(self, nozzle_mm: float, zone_mm: float) -> Channel:
        """A 2 mm bore; the gap's factor goes into its thickness."""
        return Channel(
            2.0, zone_mm, nozzle_mm, nozzle_mm, 30.0, 1.75, contact_m2k_w=self.of["contact"],
            gap_mm=0.125 * self.of["gap"] / GAP_FACTOR, wet_speed_mm_s=self.of["wet speed"],
        )  # fmt: skip

    def force_n(self, one: Set, flow: float) -> float:
        """Push force on the paper's hot end."""
        name, nozzle, celsius = one
        channel = self.channel(nozzle, self.of["zone"])
        return _state(channel, self.polymers[name], celsius, flow, Scales(), self.terms).force_n

    def ceiling(
        self, name: str, nozzle: float, celsius: float, grip_n: float, zone_mm: float | None = None
    ) -> float:
        """The flow at which the drive slips."""
        channel = self.channel(nozzle, zone_mm or self.of["zone"])
        polymer = self.polymers[name]
        return ceiling_mm3_s(channel, polymer, celsius, grip_n, terms=self.terms)

    def published_ceilings(self) -> dict[float, float]:
        """ABS, 0.8 mm nozzle."""
        return {t: self.ceiling("ABS", 0.8, t, self.of["grip"]) for t in CEILINGS}

    def trade(self) -> dict[float, float]:
        """The trade facts' hot end, before the free factor."""
        return {t: self.ceiling("PLA", 0.4, t, TRADE_GRIP_N, 20.0) for t in TRADE}

    def multiples(self, one: Set) -> dict[float, float]:
        """Force over that of the lowest flow."""
        flows = sorted(FORCES[one])
        lowest = self.force_n(one, flows[0])
        return {q: self.force_n(one, q) / lowest for q in flows}

    def misses(self, *sets: Set) -> list[float]:
        """ln of multiple over published multiple, the lowest flows (1 by definition) left out."""
        found = []
        for one in sets or tuple(FORCES):
            lowest = min(FORCES[one])
            for flow, multiple in self.multiples(one).items():
                if flow != lowest:
                    wanted = FORCES[one][flow] / FORCES[one][lowest]
                    found.append(math.log(multiple / wanted))
        return found


def fit(*sets: Set) -> np.ndarray:
    """Least squares over these sets of forces, the ABS ceilings, the trade facts, the ranges."""
    from scipy.optimize import least_squares

    def misfit(x: np.ndarray) -> np.ndarray:
        model = Model(x)
        off = [
            math.log(model.force_n(one, flow) / (share * model.of["grip"])) / FORCE_U
            for one in sets
            for flow, share in FORCES[one].items()
        ]
        off += [
            math.log(max(made, 1e-3) / CEILINGS[t]) / CEILING_U
            for t, made in model.published_ceilings().items()
        ]
        off += [
            math.log(max(made, 1e-3) * model.of["practice"] / TRADE[t]) / TRADE_U
            for t, made in model.trade().items()
        ]
        return np.concatenate([off, (x - CENTRE) / SPREAD])

    made = least_squares(misfit, CENTRE, x_scale=SPREAD, diff_step=1e-3, max_nfev=20)
    return np.asarray(made.x)


def rms(values: list[float]) -> float:
    """Root mean square."""
    return math.sqrt(sum(v * v for v in values) / len(values))
