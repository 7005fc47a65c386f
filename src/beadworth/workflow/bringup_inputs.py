"""Bring-up measurements as they are typed, and what they come to; programs that make them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal

import numpy as np
from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from beadworth.bringup import (
    HOT_CAUTIONS,
    BringUpResult,
    Finding,
    GainsLine,
    HeaterLog,
    applied,
    bring_up_sheet,
    describe_result,
    feed_agreement,
    feed_by_marks,
    feed_by_mass,
    feed_program,
    gains_lines,
    gross_errors,
    heater_program,
    move_correction,
    move_lengths,
    moves_program,
    read_heater_log,
    sheet_page,
    square_program,
    squareness,
    summarise_heater,
)
from beadworth.core import InputError, Place, Record
from beadworth.text import parse_number
from beadworth.workflow.bringup import stored_bring_ups
from beadworth.workflow.materials import find_material

if TYPE_CHECKING:
    from beadworth.rig import Rig
    from beadworth.store import Bench

__all__ = [
    "BRING_UP_INPUTS",
    "HOT_CAUTIONS",
    "BringUpWork",
    "Finding",
    "GainsLine",
    "HeaterLog",
    "ProgramInputs",
    "applied",
    "bring_up_page",
    "bring_up_program",
    "describe_result",
    "gains_lines",
    "gross_errors",
    "stored_log",
    "travel_lengths",
    "work_out_bring_up",
]


def _two_numbers(line: Any) -> Any:
    """Two numbers of a line; a comma inside a number is a decimal comma."""
    if not isinstance(line, str):
        return line
    cells = [cell for cell in re.split(r"[;\s=→>]+", line) if cell]
    values = tuple(parse_number(cell) for cell in cells)
    if len(values) != 2 or None in values:
        raise PydanticCustomError(
            "beadworth",
            "{what}",
            {
                "what": f"{line!r} is not two numbers.",
                "remedy": "Write commanded and measured with a space between: 30 30.1",
            },
        )
    return values


Pairs = tuple[Annotated[tuple[float, float], BeforeValidator(_two_numbers)], ...]


class MovesInputs(Record):
    """Measured moves of one axis."""

    readings: Pairs = Field((), description="readings; a line per length: commanded, measured, mm")
    axis: Literal["x", "y", "z"] = Field(description="axis", examples=["x"])
    steps: float | None = Field(
        None, ge=0.01, le=1e6, description="set while measuring, steps/mm; empty: as recorded"
    )
    reading_u: float = Field(
        ge=1e-4,
        le=10,
        description="uncertainty of one reading, mm; a 0.5 mm line read to the nearest: "
        "0.5 ÷ √12 ≈ 0.15",
        examples=[0.15],
    )
    ruler_u: float = Field(
        ge=0,
        le=10,
        description="uncertainty of the ruler's scale, %; shifts every length alike: no number of "
        "readings removes it",
        examples=[0.05],
    )


class FeedInputs(Record):
    """Filament fed: by marks, and by weighing what came out."""

    marks: Pairs = Field((), description="mark and measure; a line per feeding: commanded, fed, mm")
    masses: Pairs = Field(
        (), description="masses; a line per piece, if you weighed: commanded mm and grams"
    )
    reading_u: float = Field(
        ge=1e-3,
        le=20,
        description="uncertainty of one fed length, mm; a difference of two readings: √2 × one",
        examples=[0.3],
    )
    diameter: float | None = Field(
        None,
        ge=0.5,
        le=5,
        description="filament diameter, mm; mean of what you measured; empty: nominal",
    )
    diameter_u: float = Field(
        ge=0, le=1, description="uncertainty of the diameter, mm", examples=[0.02]
    )
    density: float = Field(ge=0.2, le=12, description="density, g/cm³", examples=[1.24])
    density_u: float = Field(
        ge=0, le=1, description="uncertainty of the density, g/cm³", examples=[0.01]
    )
    mass_u: float = Field(
        ge=1e-5, le=10, description="uncertainty of one weighing, g", examples=[0.005]
    )


class SquareInputs(Record):
    """Sides and diagonals of one large rectangle."""

    x: float = Field(ge=1e-3, le=1e5, description="side along x, mm")
    y: float = Field(ge=1e-3, le=1e5, description="side along y, mm")
    up: float = Field(ge=1e-3, le=1e5, description="front left to back right, mm")
    down: float = Field(ge=1e-3, le=1e5, description="back left to front right, mm")
    reading_u: float = Field(
        ge=1e-3, le=1e5, description="uncertainty of one diagonal, mm", examples=[0.3]
    )


class HeaterInputs(Record):
    """What goes with a heater's log."""

    room: float | None = Field(
        None, ge=-20, le=60, description="room, °C; needed only where the log starts warm"
    )
    output: Literal["1", "100", "255"] = Field(
        description="the controller calls full output", examples=["255"]
    )


class ProgramInputs(Record):
    """Which program is wanted."""

    kind: Literal["moves", "feed", "square", "heater"] = Field(description="measurement")
    axis: Literal["x", "y", "z"] = Field("x", description="axis")
    material: str = Field("PLA", description="material", examples=["PLA"])
    temperature: float = Field(ge=20, le=600, description="temperature, °C", examples=[210])


BRING_UP_INPUTS: dict[str, type[Record]] = {
    "moves": MovesInputs,
    "feed": FeedInputs,
    "square": SquareInputs,
    "heater": HeaterInputs,
}


@dataclass(frozen=True)
class BringUpWork:
    """What measurements came to."""

    result: BringUpResult
    not_done: tuple[str, ...] = ()
    """What could not be worked out, and why."""
    log: HeaterLog | None = None


def work_out_bring_up(rig: Rig, inputs: Record, log: tuple[str, str] | None = None) -> BringUpWork:
    """Work measurements out.

    Parameters
    ----------
    inputs : one of ``BRING_UP_INPUTS``
    log : (text, name), only for a heater
        Its log, and what messages call it.

    Raises
    ------
    BeadworthError
        What is wrong with the measurements, or cannot be worked out from them.
    """
    if isinstance(inputs, MovesInputs):
        return _moves(rig, inputs)
    if isinstance(inputs, FeedInputs):
        return _feed(rig, inputs)
    if isinstance(inputs, SquareInputs):
        found = squareness(inputs.x, inputs.y, inputs.up, inputs.down, inputs.reading_u)
        return BringUpWork(BringUpResult(rig=rig.name, square=found))
    assert isinstance(inputs, HeaterInputs)
    assert log is not None
    read = read_heater_log(*log)
    found_of = summarise_heater(rig, read, room_c=inputs.room)
    result = BringUpResult(
        rig=rig.name, heater=found_of.heater, gains=found_of.gains, loss=found_of.loss,
        heat_up=found_of.heat_up,
    )  # fmt: skip
    return BringUpWork(result, found_of.not_done, read)


def _moves(rig: Rig, inputs: MovesInputs) -> BringUpWork:
    train = getattr(rig.axes, inputs.axis)
    steps = inputs.steps or (train.steps_per_mm if train else None)
    found = move_correction(
        inputs.axis,
        *_columns(inputs.readings),
        steps_per_mm=_wanted(steps, rig, f"axes.{inputs.axis}.steps_per_mm"),
        reading_u_mm=inputs.reading_u,
        ruler_u_share=inputs.ruler_u / 100,
    )
    return BringUpWork(BringUpResult(rig=rig.name, axes=(found,)))


def _feed(rig: Rig, inputs: FeedInputs) -> BringUpWork:
    steps = _wanted(rig.extruder.steps_per_mm, rig, "extruder.steps_per_mm")
    by_mass = None
    if inputs.masses:
        by_mass = feed_by_mass(
            *_columns(inputs.masses),
            diameter_mm=inputs.diameter or rig.filament_diameter_mm,
            density_g_cm3=inputs.density,
            mass_u_g=inputs.mass_u,
            diameter_u_mm=inputs.diameter_u,
            density_u_g_cm3=inputs.density_u,
        )
    by_marks = feed_by_marks(*_columns(inputs.marks), reading_u_mm=inputs.reading_u)
    found = feed_agreement(by_marks, by_mass, steps_per_mm=steps)
    return BringUpWork(BringUpResult(rig=rig.name, feed=found))


def _columns(pairs: Pairs) -> tuple[list[float], list[float]]:
    return [first for first, _ in pairs], [second for _, second in pairs]


def _wanted(steps: float | None, rig: Rig, path: str) -> float:
    if steps is None:
        raise InputError(
            "the steps per mm set while measuring are not known.",
            Place.of_field(f"rig {rig.name}", path),
            remedy="Type them, or enter them in the rig's record.",
        )
    return steps


def bring_up_program(bench: Bench, rig: Rig, inputs: ProgramInputs) -> tuple[str, str]:
    """Name and text of the program that makes one of the measurements."""
    if inputs.kind == "moves":
        return f"moves-{inputs.axis}", moves_program(rig, inputs.axis)
    make = {"feed": feed_program, "square": square_program,
            "heater": heater_program}[inputs.kind]  # fmt: skip
    return inputs.kind, make(rig, find_material(bench, inputs.material), inputs.temperature)


def travel_lengths(rig: Rig) -> dict[str, tuple[float, ...]]:
    """Where the program of measured moves stops, mm, by axis; nothing without a build volume."""
    if rig.build_volume is None:
        return {"x": (), "y": (), "z": ()}
    return {
        "x": move_lengths(rig, "x"),
        "y": move_lengths(rig, "y"),
        "z": move_lengths(rig, "z"),
    }


def bring_up_page(bench: Bench, rig: str, css: str) -> str:
    """The sheet to print and tick, with what was measured before."""
    there = [(one.at, one.result) for one in stored_bring_ups(bench, rig)]
    return sheet_page(bring_up_sheet(bench.rig(rig), there), css)


def stored_log(given: Mapping[str, Any]) -> HeaterLog | None:
    """The heater's log stored with a bring-up, thinned."""
    log = given.get("log")
    if not log:
        return None
    return HeaterLog(*(np.array(log[name]) for name in ("time_s", "temperature_c", "duty")))
