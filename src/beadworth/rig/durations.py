"""Record of what takes time and stands in no print file: measured with a watch."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from beadworth.core import Record

Seconds = Annotated[float, Field(gt=0, lt=7200)]


class Durations(Record):
    """How long the printer takes for what a file only asks for; each one measured."""

    heat_hot_end_s: Seconds | None = Field(
        None, description="hot end from the room's temperature to that of a print, s"
    )
    heat_bed_s: Seconds | None = Field(
        None, description="bed from the room's temperature to that of a print, s"
    )
    home_s: Seconds | None = Field(None, description="homing of all three axes (G28), s")
    level_s: Seconds | None = Field(None, description="levelling (G29), s")
    change_tool_s: Seconds | None = Field(None, description="change to another tool (T), s")
