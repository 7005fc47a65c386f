"""The form of a flow ramp."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from beadworth.web.fields_rig import material_field
from beadworth.web.forms import Field, Group
from beadworth.workflow import RampSpec

if TYPE_CHECKING:
    from beadworth.workflow import Bench


NOISE = ("hang_mg", "hang_s")
"""What a first minute found, in the address of the page: mg that hang, s over which they sway."""


def _start(name: str) -> Any:
    """What a ramp has where nothing is said."""
    return RampSpec.model_fields[name].default


def ramp_groups(bench: Bench) -> tuple[Group, ...]:
    """What a ramp is asked: rig, material, temperatures, flows, cycles, the cup."""
    rigs = tuple((rig.name, rig.name) for rig in bench.rigs())
    return (
        Group(
            "The ramp",
            "",
            (
                Field("rig", "Rig", kind="choice", choices=rigs, required=True, empty="choose"),
                material_field(
                    Field("material", "Material", kind="choice", required=True), bench, "choose"
                ),
                Field("temperatures_c", "Nozzle temperatures", "°C", kind="numbers", required=True,
                      start="200  215  230"),
                Field("lowest_mm3_s", "From flow", "mm³/s",
                      "Where nothing is lost yet: 0.7 times the ceiling you expect. One for "
                      "all temperatures, or one for each.",
                      kind="numbers", required=True, start="7  8  9"),
                Field("highest_mm3_s", "To flow", "mm³/s",
                      "1.4 times the ceiling you expect; less where the drive would slip or grind.",
                      kind="numbers", required=True,
                      start="14  16  18"),
                Field("cycles", "Times up and down", kind="whole", required=True,
                      start=f"{_start('cycles')}"),
            ),
        ),
        Group(
            "Balance and cup",
            "",
            (
                Field("cup_height_mm", "Height of both over the bed", "mm", required=True,
                      start=f"{_start('cup_height_mm'):g}"),
                Field("cup_capacity_ml", "The cup holds", "ml", required=True,
                      start=f"{_start('cup_capacity_ml'):g}"),
                Field("leg_s", "Time from the lowest flow to the highest", "s", required=True,
                      start=f"{_start('leg_s'):g}"),
            ),
            folded=True,
        ),
    )  # fmt: skip
