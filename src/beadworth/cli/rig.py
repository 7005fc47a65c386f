"""``beadworth rig``: printers in one state, as records on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.cli import rig_bringup, rig_fit
from beadworth.cli.records import RecordNoun, record_app

if TYPE_CHECKING:
    from beadworth.core import Record
    from beadworth.rig import Rig


def _kind() -> type[Record]:
    from beadworth.rig import Rig

    return Rig


def _row(rig: Rig) -> tuple[object, ...]:
    hot_end = rig.hot_end
    return (
        rig.name,
        rig.parent,
        hot_end.nozzle_mm,
        hot_end.melt_zone_mm,
        hot_end.heater_w,
        hot_end.temperature_limit_c,
    )


app = record_app(
    RecordNoun(
        noun="rig",
        plural="rigs",
        help="Rigs: a printer in one state; an upgrade makes a child rig.",
        kind=_kind,
        save=lambda bench, rig: bench.save_rig(rig),
        one=lambda bench, name: bench.rig(name),
        all=lambda bench: bench.rigs(),
        columns=("name", "parent", "nozzle mm", "melt zone mm", "heater W", "limit °C"),
        row=_row,
    )
)
rig_fit.add_to(app)
app.add_typer(rig_bringup.app, name="bringup")
