"""Data packages of four other invented workshops, imported the way everyone's are.

Nothing here was measured. Each workshop tested an invented printer of its own with a standard and
a long melt zone; what the readings were drawn with stands in :data:`WORKSHOPS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from beadworth.core import FILAMENT_MM, LOSS, filament_mass_g
from beadworth.demo.rigs import LONG_ZONE, STOCK
from beadworth.demo.trials import (
    COUPON_SCATTER,
    MICROMETER_U_MM,
    PLA,
    SPOOL_SD_MM,
    TRUE_CEILING_MM3_S,
    knee_loss,
)
from beadworth.report import ReadingEntry, ReportData
from beadworth.rig import Rig
from beadworth.trial import Reading

if TYPE_CHECKING:
    from collections.abc import Callable

    from beadworth.store import Bench

TEMPERATURES_C = (210.0, 220.0, 230.0)
FLOWS_MM3_S = (4.0, 9.0, 11.0, 13.0, 15.0, 17.0, 19.0, 21.0, 24.0)
FED_MM = 600.0
PUBLISHED = date(2026, 3, 14)


@dataclass(frozen=True)
class Workshop:
    """An invented workshop and how its printer differs from the Saltmarsh shed's."""

    name: str
    printer: str
    zones_mm: tuple[float, float]
    """Heated lengths of its standard and its long melt zone."""
    factor: float
    """Its true ceilings over those of the shed's printer."""


WORKSHOPS = (
    Workshop("The reed loft", "Plover", (12.0, 21.0), 0.93),
    Workshop("The mill attic", "Dunlin", (13.0, 19.0), 1.06),
    Workshop("The ferry house", "Godwit", (12.5, 20.0), 0.99),
    Workshop("The lime kiln", "Ruff", (11.5, 20.5), 1.10),
)


def workshop_rigs(workshop: Workshop) -> tuple[Rig, Rig]:
    """Its printer with either melt zone."""
    made = []
    for parent, kind, zone in zip(
        (STOCK, LONG_ZONE), ("standard", "long"), workshop.zones_mm, strict=True
    ):
        hot_end = parent.hot_end.model_copy(update={"melt_zone_mm": zone})
        made.append(
            Rig(
                name=f"{workshop.printer}, {kind} melt zone",
                frame="moving bed",
                hot_end=hot_end,
                simulated=True,
                source="invented for the demo",
            )
        )
    return made[0], made[1]


def workshop_readings(workshop: Workshop, seed: int) -> list[Reading]:
    """One coupon per setting as its balance would have shown it."""
    rng = np.random.default_rng(seed)
    readings = []
    for rig, twin in zip(workshop_rigs(workshop), (STOCK, LONG_ZONE), strict=True):
        for temperature in TEMPERATURES_C:
            ceiling = workshop.factor * TRUE_CEILING_MM3_S[twin.name, temperature]
            for flow in FLOWS_MM3_S:
                diameter = FILAMENT_MM + SPOOL_SD_MM * rng.standard_normal()
                fed = filament_mass_g(FED_MM, diameter, PLA.density_g_cm3)
                kept = 0.99 * (1 - knee_loss(ceiling, flow))
                mass = fed * kept * (1 + COUPON_SCATTER * rng.standard_normal())
                readings.append(
                    Reading(
                        rig.name, PLA.name, temperature, flow, FED_MM, round(mass, 2),
                        diameter_mm=round(diameter + MICROMETER_U_MM * rng.standard_normal(), 3),
                        reference=flow == FLOWS_MM3_S[0], note="simulated",
                    )
                )  # fmt: skip
    return readings


def seed_packages(bench: Bench, tell: Callable[[str], None] | None = None) -> None:
    """Import the four packages; those that are here already stay as they are.

    ``tell`` hears which is being made.
    """
    from beadworth.datapackage import PublicationOptions, package_files
    from beadworth.workflow import fit_readings, import_package, imported_packages

    here = {package.source for package in imported_packages(bench)}
    for seed, workshop in enumerate(WORKSHOPS, 41):
        if workshop.name in here:
            continue
        if tell is not None:
            tell(f"data package {seed - 40} of {len(WORKSHOPS)}")
        rigs = workshop_rigs(workshop)
        readings = workshop_readings(workshop, seed)
        records = {rig.name: rig for rig in rigs}
        fitted = fit_readings(readings, LOSS, records, {PLA.name: PLA})
        data = ReportData(
            question=f"{workshop.name}: what does a longer melt zone bring to {workshop.printer}?",
            rigs=rigs,
            candidate=rigs[1].name,
            material=PLA,
            generated_at=PUBLISHED,
            entries=tuple(ReadingEntry(reading) for reading in readings),
            groups=fitted.groups,
            ceilings=fitted.ceilings,
            disclosure="Invented for the demo; nothing was supplied or bought.",
            simulated=True,
        )
        files = package_files(data, PublicationOptions(creator=workshop.name))
        import_package(bench, files, workshop.name)
