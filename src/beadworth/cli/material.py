"""``beadworth material``: polymers with their densities and working ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from beadworth.cli.records import RecordNoun, add_record_commands

if TYPE_CHECKING:
    from beadworth.core import Record

app = typer.Typer(help="Describe filaments: density, working range, sources.")


def _kind() -> type[Record]:
    from beadworth.material import Material

    return Material


add_record_commands(
    app,
    RecordNoun(
        noun="material",
        example="PLA, grey",
        kind=_kind,
        save=lambda bench, material: bench.save_material(material),
        one=lambda bench, name: bench.material(name),
        all=lambda bench: bench.materials(),
        cells={
            "name": "name",
            "density g/cm³": "density_g_cm3",
            "from °C": "min_temperature_c",
            "to °C": "max_temperature_c",
            "source": "source",
        },
    ),
)
