"""The form of an upgrade: what people change is a part, so the fields stand by part."""

from __future__ import annotations

from dataclasses import replace

from beadworth.rig import Rig
from beadworth.web.fields_records import RIG
from beadworth.web.forms import Field, Group, fields, typed_from

PARTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "New hot end",
        "What its drawing or data sheet says.",
        (
            "hot_end.melt_zone_mm", "hot_end.bore_mm", "hot_end.nozzle_mm",
            "hot_end.temperature_limit_c", "hot_end.ptfe_in_melt_zone", "hot_end.heater_w",
            "hot_end.mass_g",
        ),
    ),
    (
        "New extruder",
        "",
        (
            "extruder.drive", "extruder.steps_per_mm", "extruder.max_feed_mm_s",
            "extruder.grip_force_n", "extruder.retract_mm", "extruder.retract_mm_s",
            "extruder.mass_g",
        ),
    ),
    (
        "New guides, belts, motors or frame",
        "What the controller is then set to.",
        (
            "motion.print_acceleration_mm_s2", "motion.travel_acceleration_mm_s2",
            "motion.corner_deviation_mm", "toolhead.mass_g",
        ),
    ),
)  # fmt: skip
OTHERS = {
    "hot_end.mass_g": Field("hot_end.mass_g", "Mass of the hot end", "g"),
    "extruder.mass_g": Field("extruder.mass_g", "Mass of what rides with the toolhead", "g"),
    "toolhead.mass_g": Field("toolhead.mass_g", "Mass of the whole toolhead", "g"),
}


def part_groups(before: Rig) -> tuple[Group, ...]:
    """The form over a rig: its present values stand as examples in the empty boxes."""
    known = {field.path: field for field in fields(RIG)} | OTHERS
    here = typed_from((Group("", "", tuple(known.values())),), before.model_dump(mode="json"))

    def shown(path: str) -> Field:
        field, value = known[path], here.get(path, "")
        empty = f"as before: {value}" if value else "as before"
        return replace(field, required=False, wanted="", example=value, empty=empty)

    first = Group(
        "What it is called",
        "",
        (
            Field("name", "Name of the upgraded rig", kind="text", required=True,
                  example=f"{before.name}, upgraded"),
            Field("price", "Price of the new parts", help="In the currency beside it."),
            Field("currency", "Currency", kind="text", example=before.currency or "EUR",
                  help="ISO 4217, as EUR."),
        ),
    )  # fmt: skip
    parts = (
        Group(title, intro, tuple(map(shown, paths)), folded=True) for title, intro, paths in PARTS
    )
    return (first, *parts)
