"""``beadworth material``: polymers with their densities and working ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.cli.records import RecordNoun, record_app

if TYPE_CHECKING:
    from beadworth.core import Record
    from beadworth.material import Material


def _kind() -> type[Record]:
    from beadworth.material import Material

    return Material


def _row(material: Material) -> tuple[object, ...]:
    return (
        material.name,
        material.density_g_cm3,
        material.min_temperature_c,
        material.max_temperature_c,
        material.source,
    )


app = record_app(
    RecordNoun(
        noun="material",
        plural="materials",
        help="Materials: density, working range, and where each value comes from.",
        kind=_kind,
        save=lambda bench, material: bench.save_material(material),
        one=lambda bench, name: bench.material(name),
        all=lambda bench: bench.materials(),
        columns=("name", "density g/cm³", "from °C", "to °C", "source"),
        row=_row,
    )
)
