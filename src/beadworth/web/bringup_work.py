"""Bring-up measurements as typed on their page, worked out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

from beadworth.bringup import (
    BringUpResult,
    HeaterLog,
    feed_agreement,
    feed_by_marks,
    feed_by_mass,
    heater_account,
    move_correction,
    read_heater_log,
    squareness,
)
from beadworth.core import Place, Problem
from beadworth.rig import Rig
from beadworth.web.rig_job import Typed

KINDS = ("moves", "feed", "square", "heater")
FIELDS: dict[str, dict[str, str]] = {
    "moves": {"axis": "x", "readings": "", "steps": "", "reading_u": "0.15", "ruler_u": "0.05"},
    "feed": {
        "marks": "", "masses": "", "density": "1.24", "diameter": "", "reading_u": "0.3",
        "mass_u": "0.005", "diameter_u": "0.02", "density_u": "0.01",
    },
    "square": {"x": "", "y": "", "up": "", "down": "", "reading_u": "0.3"},
    "heater": {"text": "", "room": "", "output": "255"},
}  # fmt: skip
"""What each form holds, and what it starts with."""
Axis = Literal["x", "y", "z"]


@dataclass(frozen=True)
class Worked:
    """What a form gave: the result, what to keep with it, and how it is shown."""

    result: BringUpResult
    given: dict[str, Any]
    not_done: tuple[str, ...] = ()
    log: HeaterLog | None = None


def work(
    kind: str, rig: Rig, typed: Mapping[str, str], log: tuple[str, str] | None = None
) -> Worked:
    """Work a form out.

    Parameters
    ----------
    kind : one of KINDS
    typed : mapping
        What the fields of that kind hold.
    log : (text, name), only for a heater
        Its log, and what messages call it.

    Raises
    ------
    BeadworthError
        What is wrong with what was typed, all at once, or cannot be worked out from it.
    """
    of = {"moves": _moves, "feed": _feed, "square": _square}
    return of[kind](rig, typed) if log is None else _heater(rig, typed, *log)


def _moves(rig: Rig, typed: Mapping[str, str]) -> Worked:
    reader = Typed()
    axis = cast(Axis, typed["axis"] if typed["axis"] in ("x", "y", "z") else "x")
    train = getattr(rig.axes, axis)
    recorded = train.steps_per_mm if train else None
    commanded, measured = reader.pairs(typed["readings"], "readings")
    steps = reader.number(typed["steps"], "steps per mm", 0.01, 1e6) or recorded
    reading_u = reader.number(
        typed["reading_u"], "uncertainty of one reading, mm", 1e-4, 10, needed=True
    )
    ruler_u = reader.number(
        typed["ruler_u"], "uncertainty of the ruler's scale, %", 0, 10, needed=True
    )
    _want_steps(reader, steps, rig, f"axes.{axis}.steps_per_mm")
    reader.refuse()
    found = move_correction(
        axis,
        commanded,
        measured,
        steps_per_mm=steps or 0.0,
        reading_u_mm=reading_u or 0.0,
        ruler_u_share=(ruler_u or 0.0) / 100,
    )
    return Worked(BringUpResult(rig=rig.name, axes=(found,)), dict(typed))


def _feed(rig: Rig, typed: Mapping[str, str]) -> Worked:
    reader = Typed()
    marks = reader.pairs(typed["marks"], "mark and measure")
    masses = reader.pairs(typed["masses"], "masses")

    def value(name: str, what: str, low: float, high: float) -> float:
        return reader.number(typed[name], what, low, high, needed=True) or 0.0

    reading_u = value("reading_u", "uncertainty of one fed length, mm", 1e-3, 20)
    density = value("density", "density, g/cm³", 0.2, 12)
    mass_u = value("mass_u", "uncertainty of one weighing, g", 1e-5, 10)
    diameter_u = value("diameter_u", "u of the diameter, mm", 0, 1)
    density_u = value("density_u", "u of the density, g/cm³", 0, 1)
    diameter = reader.number(typed["diameter"], "diameter, mm", 0.5, 5)
    steps = rig.extruder.steps_per_mm
    _want_steps(reader, steps, rig, "extruder.steps_per_mm")
    reader.refuse()
    by_mass = None
    if masses[0]:
        by_mass = feed_by_mass(
            *masses,
            diameter_mm=diameter or rig.filament_diameter_mm,
            density_g_cm3=density,
            mass_u_g=mass_u,
            diameter_u_mm=diameter_u,
            density_u_g_cm3=density_u,
        )
    by_marks = feed_by_marks(*marks, reading_u_mm=reading_u)
    found = feed_agreement(by_marks, by_mass, steps_per_mm=steps or 0.0)
    return Worked(BringUpResult(rig=rig.name, feed=found), dict(typed))


def _square(rig: Rig, typed: Mapping[str, str]) -> Worked:
    reader = Typed()
    names = {"x": "side x, mm", "y": "side y, mm", "up": "diagonal up, mm",
             "down": "diagonal down, mm",
             "reading_u": "uncertainty of one diagonal, mm"}  # fmt: skip
    values = [
        reader.number(typed[name], words, 1e-3, 1e5, needed=True) or 0.0
        for name, words in names.items()
    ]
    reader.refuse()
    return Worked(BringUpResult(rig=rig.name, square=squareness(*values)), dict(typed))


def _heater(rig: Rig, typed: Mapping[str, str], text: str, source: str) -> Worked:
    reader = Typed()
    room = reader.number(typed["room"], "room, °C", -20, 60)
    reader.refuse()
    log = read_heater_log(text, source)
    account = heater_account(rig, log, room_c=room)
    result = BringUpResult(
        rig=rig.name,
        heater=account.heater,
        gains=account.gains,
        loss=account.loss,
        heat_up=account.heat_up,
    )
    output = typed["output"] if typed["output"] in ("1", "100", "255") else "1"
    given = {"source": source, "room": typed["room"], "output": output, "log": log.thinned()}
    return Worked(result, given, account.not_done, log)


def _want_steps(reader: Typed, steps: float | None, rig: Rig, path: str) -> None:
    if steps is None:
        reader.problems.append(
            Problem(
                "the steps per mm set while measuring are not known.",
                Place.of_field(f"rig {rig.name}", path),
                remedy="Type them, or enter them in the rig's record.",
            )
        )
