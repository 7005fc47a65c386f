"""Forms of a witness print: what one wants to know, and one look of a grader."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.web.fields_rig import material_field
from beadworth.web.forms import Field, Group
from beadworth.workflow import WITNESS_QUESTIONS

if TYPE_CHECKING:
    from beadworth.workflow import Bench

KIND = Group("Question", "", (
    Field("kind", "Question", kind="text", required=True, start=next(iter(WITNESS_QUESTIONS))),
))  # fmt: skip
"""Chosen from a list of its own, above the fields."""


def witness_groups(bench: Bench) -> tuple[Group, ...]:
    """The question, and what is chosen for the rig where it is left out."""
    rigs = tuple((rig.name, rig.name) for rig in bench.rigs())
    return (
        Group(
            "What do you want to know?",
            "",
            (
                Field("rig", "Rig", kind="choice", choices=rigs, required=True, empty="choose"),
                material_field(
                    Field("material", "Material", kind="choice", required=True, start="PLA"), bench
                ),
                Field("temperature_c", "Nozzle temperature", "°C", required=True, start="210"),
                Field("ceiling_mm3_s", "Flow you suspect", "mm³/s",
                      "Where walls begin to look bad, or the ceiling you weighed. Needed for the "
                      "pair and for melt or motion.", example="12"),
            ),
        ),
        Group(
            "More",
            "",
            (
                Field("layer_mm", "Layer height", "mm", "Left out: half the nozzle."),
                Field("fan", "Part fan", "%", scale=0.01, start="100"),
                Field("seed", "Seed", help="Draws codes and order. Another seed, another draw.",
                      kind="whole", start="1"),
            ),
            folded=True,
        ),
        Group(
            "Ladders and wall",
            "",
            (
                Field("grams", "Weighed pair: mass of each", "g", start="2"),
                Field("angles_deg", "Overhang: angles from upright", "degrees", kind="numbers",
                      example="30 40 47 54 61 68"),
                Field("fans", "Overhang: part fan, 0 to 1", kind="numbers", example="1 0.6 0.3"),
                Field("layer_times_s", "Overhang: layer times", "s", kind="numbers",
                      example="14 7"),
                Field("spans_mm", "Overhang: bridges", "mm", kind="numbers",
                      example="8 14 20 28"),
                Field("passes", "Grip: passes over the drive", kind="numbers",
                      example="1 3 5 9 13 19"),
                Field("speeds_mm_s", "Cause wall: two speeds", "mm/s", kind="numbers",
                      example="50 83"),
                Field("longest_mm", "Cause wall: longest repeat", "mm",
                      "Left out: as long as the bed allows."),
            ),
            folded=True,
        ),
    )  # fmt: skip
