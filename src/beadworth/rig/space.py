"""Records of room: what the nozzle reaches, what the toolhead fills, where the screws go."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from beadworth.core import Record
from beadworth.rig.fields import NotNegative, Positive


class BuildVolume(Record):
    """What the nozzle can reach, from the origin."""

    x_mm: Positive = Field(description="reach in x, mm")
    y_mm: Positive = Field(description="reach in y, mm")
    z_mm: Positive = Field(description="reach in z, mm")


class Room(Record):
    """Room to each side, seen from the front; from the mounting reference of the carriage."""

    left_mm: NotNegative | None = Field(None, description="to the left, mm")
    right_mm: NotNegative | None = Field(None, description="to the right, mm")
    front_mm: NotNegative | None = Field(None, description="to the front, mm")
    back_mm: NotNegative | None = Field(None, description="to the back, mm")
    above_mm: NotNegative | None = Field(None, description="upwards, mm")


class Toolhead(Record):
    """The room a toolhead needs, and where its nozzle hangs.

    Offsets are measured from one point of the carriage, the same for every part that is
    screwed to it: the mounting reference (a hole's centre on the mounting face, say).
    """

    radius_mm: Positive = Field(45.0, description="farthest part from the nozzle axis, mm")
    height_mm: Positive = Field(
        25.0, description="height above the nozzle tip of the lowest part outside the nozzle, mm"
    )
    nozzle_x_mm: float | None = Field(
        None, description="nozzle to the right of the mounting reference, mm"
    )
    nozzle_y_mm: float | None = Field(
        None, description="nozzle behind the mounting reference, mm; negative in front of it"
    )
    nozzle_z_mm: Positive | None = Field(
        None, description="nozzle tip below the mounting reference, mm"
    )
    probe_x_mm: float | None = Field(
        None, description="bed probe to the right of the mounting reference, mm"
    )
    probe_y_mm: float | None = Field(
        None, description="bed probe behind the mounting reference, mm; negative in front of it"
    )
    probe_z_mm: Positive | None = Field(
        None, description="where the bed probe triggers, below the mounting reference, mm"
    )
    envelope: Room | None = Field(None, description="what the toolhead fills to each side")
    centre_mm: NotNegative | None = Field(
        None, description="distance of its centre of mass from the guide, mm"
    )
    mass_g: Positive | None = Field(
        None, description="mass of plate, ducts and probe, without hot end, extruder and fans, g"
    )


class Hole(Record):
    """A round hole."""

    x_mm: float = Field(description="centre in x, mm")
    y_mm: float = Field(description="centre in y, mm")
    diameter_mm: Positive = Field(description="diameter, mm; of a thread the screw's")


class Slot(Record):
    """A slot with round ends."""

    x_mm: float = Field(description="middle in x, mm")
    y_mm: float = Field(description="middle in y, mm")
    travel_mm: Positive = Field(description="way of a screw in it from end to end, mm")
    angle_deg: float = Field(0.0, description="direction from the x axis, degrees")
    width_mm: Positive = Field(description="width, mm")


class Pattern(Record):
    """Holes and slots of one mounting face, seen from in front of it."""

    holes: tuple[Hole, ...] = Field((), description="holes")
    slots: tuple[Slot, ...] = Field((), description="slots")


class Mounting(Record):
    """How the toolhead is screwed to the carriage."""

    carriage: Pattern | None = Field(None, description="pattern of the carriage")
    part: Pattern | None = Field(None, description="pattern of the part screwed to it")
    screw_mm: Annotated[float, Field(gt=0.5, lt=20)] | None = Field(
        None, description="nominal diameter of the screws, mm"
    )
    either_face: bool = Field(
        False, description="true where the part can be turned over and mounted by its other face"
    )
