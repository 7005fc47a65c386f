"""Grades as they are entered, one sheet for each look of each grader; blind until all are in."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from beadworth.core import InputError, Place, Problem, Record
from beadworth.text import count
from beadworth.witness.design import Band

SETTINGS = (
    "flow_mm3_s", "speed_mm_s", "width_mm", "fan", "layer_time_s", "passes", "angle_deg",
)  # fmt: skip
"""Settings of a band or side that its grades are told with."""
Cell = tuple[str, str]
"""Code of a band and side of it."""


class GradedPhoto(Record):
    """A photo of a band, by the digest of what is stored of it."""

    code: Annotated[str, Field(min_length=1, max_length=2)]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    alt: Annotated[str, Field(min_length=1, max_length=400)] = Field(
        description="what the picture shows, for whoever cannot see it"
    )


class LookSheet(Record):
    """One look of one grader at a whole witness."""

    grader: Annotated[str, Field(min_length=1, max_length=40)] = Field(
        description="initials or a made-up name"
    )
    look: Annotated[int, Field(ge=1, le=9)] = Field(
        1, description="1 the first look, 2 a repeat, fresh"
    )
    grades: dict[str, Annotated[int, Field(ge=0, le=4)] | None] = Field(
        {}, description="grade by code and side, as 'K front'; empty: cannot be judged"
    )
    masses_g: dict[str, Annotated[float, Field(gt=0, lt=100)]] = Field(
        {}, description="weighed pair: mass of each wall by its code, g"
    )
    photos: Annotated[tuple[GradedPhoto, ...], Field(max_length=16)] = ()
    simulated: bool = Field(False, description="true for invented grades")


def key_of(cell: Cell) -> str:
    """A band and side as one word."""
    return " ".join(cell)


def grader_key(name: str) -> str:
    """What a grader is known by: 'AB', 'ab' and 'ab ' are one person."""
    return name.strip().casefold()


def cells_of(bands: Sequence[Band]) -> list[Cell]:
    """Everything to be graded, from the bottom."""
    return [(band.code, side) for band in bands for side in band.sides if side != "weight"]


def looking_order(bands: Sequence[Band], grader: str, look: int) -> list[Cell]:
    """The order in which a grader looks at bands: drawn by lot for each look."""
    cells = cells_of(bands)
    random.Random(f"{grader_key(grader)} {look}").shuffle(cells)
    return cells


def check_sheet(sheet: LookSheet, bands: Sequence[Band], weighed: bool) -> None:
    """Whether a sheet is whole and about these bands.

    Raises
    ------
    InputError
        Every code that is missing or is none of this witness.
    """
    if weighed:
        wanted, given = {band.code for band in bands}, set(sheet.masses_g)
    else:
        wanted, given = {key_of(cell) for cell in cells_of(bands)}, set(sheet.grades)
    what = "mass" if weighed else "grade"
    problems = [
        Problem(f"{code} has no {what}.", Place.of_field("look", code), None,
                "Enter one, or say that it cannot be judged.")
        for code in sorted(wanted - given)
    ]  # fmt: skip
    problems += [
        Problem(f"{code} is no band of this witness.", Place.of_field("look", code), None,
                "Look at the map again.")
        for code in sorted(given - wanted)
    ]  # fmt: skip
    codes = {band.code for band in bands}
    problems += [
        Problem(f"a photo is of {photo.code}, no band of this witness.",
                Place.of_field("look", "photos"), photo.code, "Look at the map again.")
        for photo in sheet.photos
        if photo.code not in codes
    ]  # fmt: skip
    if problems:
        raise InputError(problems[:12])


def missing_looks(sheets: Sequence[LookSheet], graders: int, looks: int) -> list[str]:
    """What must still be entered before the codes are opened, in words."""
    by_grader: dict[str, set[int]] = {}
    for sheet in sheets:
        by_grader.setdefault(grader_key(sheet.grader), set()).add(sheet.look)
    done = sum(len(own) >= looks for own in by_grader.values())
    missing = [
        f"{name}: look {', '.join(str(n) for n in range(1, looks + 1) if n not in own)}"
        for name, own in sorted(by_grader.items())
        if len(own) < looks
    ]
    if graders > len(by_grader):
        more = graders - len(by_grader)
        missing.append(count(more, "more grader"))
    return missing if done < graders else []


def grades_by_grader(sheets: Sequence[LookSheet]) -> Mapping[str, list[LookSheet]]:
    """Sheets of each grader, by look; a grader is named as in their first one."""
    found: dict[str, list[LookSheet]] = {}
    names: dict[str, str] = {}
    for sheet in sorted(sheets, key=lambda one: one.look):
        name = names.setdefault(grader_key(sheet.grader), sheet.grader.strip())
        found.setdefault(name, []).append(sheet)
    return found


@dataclass(frozen=True)
class GradeRow:
    """One grade or mass of a witness, flat: what open data hold of it."""

    witness: int
    kind: str
    rig: str
    material: str
    temperature_c: float
    band: int
    code: str
    side: str
    flow_mm3_s: float | None
    speed_mm_s: float | None
    width_mm: float | None
    fan: float | None
    layer_time_s: float | None
    passes: float | None
    angle_deg: float | None
    grader: str
    """'grader 1' and so on: who it was stays with the bench."""
    look: int
    grade: int | None
    mass_g: float | None


def grade_rows(
    witness: int,
    kind: str,
    rig: str,
    material: str,
    temperature_c: float,
    bands: Sequence[Band],
    sheets: Sequence[LookSheet],
) -> list[GradeRow]:
    """Every grade and mass of some sheets with the settings of its band and side."""
    rows = []
    for number, own in enumerate(grades_by_grader(sheets).values(), start=1):
        for sheet in own:
            for band in bands:
                for side in band.sides:
                    settings = {**band.settings, **band.side_settings.get(side, {})}
                    said = {
                        name: round(settings[name], 4) if name in settings else None
                        for name in SETTINGS
                    }
                    rows.append(GradeRow(
                        witness, kind, rig, material, temperature_c, band.number, band.code, side,
                        **said, grader=f"grader {number}", look=sheet.look,
                        grade=sheet.grades.get(key_of((band.code, side))),
                        mass_g=sheet.masses_g.get(band.code),
                    ))  # fmt: skip
    return rows
