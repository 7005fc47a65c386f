"""Typical layouts: what a rig starts from, so that little has to be asked.

Every value here is typical of printers built that way (common practice, no source) and belongs to
no particular one. A rig made from a layout marks each of them as assumed: typical, not measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

from pydantic import Field, field_validator
from pydantic_core import PydanticCustomError

from beadworth.core import Record, from_mapping
from beadworth.rig.fields import Positive
from beadworth.rig.paths import look_up
from beadworth.rig.record import Rig
from beadworth.text import count

LayoutName = Literal["moving bed", "fixed gantry", "coupled belts", "lifting gantry"]
TYPICAL: Final = "typical of this layout, not measured"
"""The note of a value that came from a layout."""


@dataclass(frozen=True)
class Layout:
    """A way printers are built."""

    name: LayoutName
    words: str
    """What moves, in a sentence."""
    values: Mapping[str, Any]
    """By field path."""


def _limits(speed: tuple[float, ...], acceleration: tuple[float, ...]) -> dict[str, Any]:
    return {
        f"motion.{table}.{axis}": value
        for table, values in (
            ("max_speed_mm_s", speed), ("max_acceleration_mm_s2", acceleration),
        )
        for axis, value in zip("xyz", values, strict=True)
    }  # fmt: skip


_BELT: Final = {"drive": "belt", "pulley_teeth": 20, "belt_pitch_mm": 2.0, "full_steps": 200,
                "microsteps": 16}  # fmt: skip
_SCREW: Final = {"drive": "screw", "full_steps": 200, "microsteps": 16}


def _axes(z_motors: int, **more: Any) -> dict[str, Any]:
    found = {f"axes.{axis}.{name}": v for axis in "xy" for name, v in _BELT.items()}
    found |= {f"axes.z.{name}": value for name, value in _SCREW.items()}
    return found | {"axes.z.motors": z_motors} | more


_ALL: Final = {"electrics.supply_v": 24.0, "hot_end.heater_v": 24.0}
LAYOUTS: Final[dict[LayoutName, Layout]] = {
    layout.name: layout
    for layout in (
        Layout(
            "moving bed",
            "The bed moves in y, the toolhead in x; a beam with the toolhead rises in z.",
            {
                "frame": "moving bed", "coupled_belts": False, **_ALL,
                **_axes(1, **{"axes.x.carries_tool": True, "axes.y.carries_tool": False,
                              "axes.z.carries_tool": True}),
                **_limits((250.0, 200.0, 10.0), (2000.0, 1000.0, 100.0)),
                "motion.print_acceleration_mm_s2": 1000.0,
                "motion.travel_acceleration_mm_s2": 1500.0,
            },
        ),
        Layout(
            "fixed gantry",
            "The toolhead moves in x and y, each with a motor of its own; the bed sinks in z.",
            {
                "frame": "fixed gantry", "coupled_belts": False, **_ALL,
                **_axes(2, **{"axes.x.carries_tool": True, "axes.y.carries_tool": True,
                              "axes.z.carries_tool": False}),
                **_limits((250.0, 250.0, 10.0), (2500.0, 2000.0, 100.0)),
                "motion.print_acceleration_mm_s2": 1500.0,
                "motion.travel_acceleration_mm_s2": 2000.0,
            },
        ),
        Layout(
            "coupled belts",
            "Two fixed motors together move the toolhead in x and y; the bed sinks in z.",
            {
                "frame": "fixed gantry, coupled belts", "coupled_belts": True, **_ALL,
                **_axes(2, **{"axes.x.carries_tool": True, "axes.y.carries_tool": True,
                              "axes.z.carries_tool": False}),
                **_limits((300.0, 300.0, 12.0), (4000.0, 4000.0, 200.0)),
                "motion.print_acceleration_mm_s2": 3000.0,
                "motion.travel_acceleration_mm_s2": 4000.0,
            },
        ),
        Layout(
            "lifting gantry",
            "Two fixed motors together move the toolhead in x and y; the whole gantry rises in z.",
            {
                "frame": "lifting gantry, coupled belts", "coupled_belts": True, **_ALL,
                **_axes(4, **{"axes.x.carries_tool": True, "axes.y.carries_tool": True,
                              "axes.z.carries_tool": True, "axes.z.drive": "belt"}),
                **_limits((300.0, 300.0, 15.0), (4000.0, 4000.0, 350.0)),
                "motion.print_acceleration_mm_s2": 3000.0,
                "motion.travel_acceleration_mm_s2": 4000.0,
            },
        ),
    )
}  # fmt: skip


class RigStart(Record):
    """What a new rig is asked: the rest is typical of its layout, or unknown."""

    name: Annotated[str, Field(min_length=1, max_length=80)] = Field(
        description="name of the printer"
    )
    layout: LayoutName | None = Field(
        None, description="how it is built; left out: nothing typical is taken"
    )
    reach_mm: tuple[Positive, Positive, Positive] = Field(description="reach in x, y and z, mm")
    drive: Literal["direct", "bowden"] | None = Field(
        None, description="direct drive, or bowden with a guide tube"
    )
    nozzle_mm: Positive = Field(0.4, description="nozzle diameter, mm")
    melt_zone_mm: Positive | None = Field(None, description="heated length of the bore, mm")
    temperature_limit_c: Positive | None = Field(
        None, description="highest temperature the hot end's maker allows, °C"
    )
    ptfe_in_melt_zone: bool | None = Field(
        None, description="true where a PTFE liner reaches the melt zone"
    )

    @field_validator("reach_mm", mode="before")
    @classmethod
    def _three(cls, value: object) -> object:
        return three_numbers(value)


def three_numbers(value: object) -> object:
    """A reach as three numbers; a list of another length is refused in words."""
    if isinstance(value, (list, tuple)) and len(value) != 3:
        raise PydanticCustomError(
            "beadworth",
            "{count} where three numbers are needed, x, y and z.",
            {
                "count": count(len(value), "number"),
                "remedy": "Give all three in mm, blanks between: 220 220 250.",
            },
        )
    return tuple(value) if isinstance(value, (list, tuple)) else value


def rig_from_layout(inputs: RigStart) -> Rig:
    """A rig from a layout and eight answers; what is typical is marked as assumed."""
    typical = LAYOUTS[inputs.layout].values if inputs.layout else {}
    x_mm, y_mm, z_mm = inputs.reach_mm
    answers = {
        "name": inputs.name,
        "build_volume.x_mm": x_mm,
        "build_volume.y_mm": y_mm,
        "build_volume.z_mm": z_mm,
        "extruder.drive": inputs.drive,
        "hot_end.nozzle_mm": inputs.nozzle_mm,
        "hot_end.melt_zone_mm": inputs.melt_zone_mm,
        "hot_end.temperature_limit_c": inputs.temperature_limit_c,
        "hot_end.ptfe_in_melt_zone": inputs.ptfe_in_melt_zone,
    }
    data: dict[str, Any] = {}
    for path, value in {**typical, **answers}.items():
        if value is not None:
            _put(data, path, value)
    data["known"] = {path: {"origin": "assumed", "note": TYPICAL} for path in typical}
    return from_mapping(Rig, data, "rig")


def without_typical_marks(before: Rig, after: Rig) -> Rig:
    """The rig after a change, where what was typical and is now another value is so no longer."""
    known = {
        path: how
        for path, how in after.known.items()
        if not (
            how.note == TYPICAL
            and before.known.get(path) == how
            and look_up(before, path) != look_up(after, path)
        )
    }
    return after if len(known) == len(after.known) else after.model_copy(update={"known": known})


def _put(data: dict[str, Any], path: str, value: Any) -> None:
    *tables, last = path.split(".")
    for name in tables:
        data = data.setdefault(name, {})
    data[last] = value
