"""Programs and the sheet of a bring-up, for a rig that may stand in a file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from beadworth.bringup import (
    CAUTIONS,
    HOT_CAUTIONS,
    bring_up_sheet,
    feed_program,
    heater_program,
    moves_program,
    sheet_page,
    square_program,
)

if TYPE_CHECKING:
    from beadworth.bringup import BringUpResult
    from beadworth.material import Material
    from beadworth.rig import Rig


def measurement_program(
    rig: Rig,
    kind: Literal["moves", "feed", "square", "heater"],
    axis: Literal["x", "y", "z"],
    material: Material,
    temperature_c: float,
) -> tuple[str, tuple[str, ...]]:
    """The G-code that makes a bring-up measurement, and what to beware of.

    Raises
    ------
    LimitError
        A program that would leave the rig's limits.
    """
    if kind == "moves":
        return moves_program(rig, axis), CAUTIONS
    make = {"feed": feed_program, "square": square_program, "heater": heater_program}[kind]
    return make(rig, material, temperature_c), HOT_CAUTIONS


def rig_sheet_page(
    rig: Rig, found: Sequence[tuple[datetime, BringUpResult]], css: str
) -> tuple[str, list[str]]:
    """The bring-up sheet of a rig as HTML, and the titles of its sections."""
    made = bring_up_sheet(rig, list(found))
    return sheet_page(made, css), [section.title for section in made.sections]
