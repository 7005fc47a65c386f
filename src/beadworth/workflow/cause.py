"""Causes of a pattern on a wall: a print's walls, a photo of one, the ranked list."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from beadworth.cause import (
    FEWEST_PERIODS,
    CauseAnswer,
    GaugeRow,
    Photo,
    PrintedSide,
    Question,
    Reading,
    Rectified,
    cause_answer,
    data_address,
    main_cause,
    matrix_png,
    mirrored,
    photo_notes,
    printed_sides,
    read_photo,
    read_wall,
    rectify,
    sources_of,
    spectrum_svg,
    walls_svg,
)
from beadworth.core import InputError, NotFoundError, Problem
from beadworth.rig import Rig
from beadworth.store import Photo as StoredPhoto
from beadworth.store import clean_photo
from beadworth.workflow.witness import stored_witness, stored_witnesses

if TYPE_CHECKING:
    from beadworth.store import Bench, PrintShelf

CORNERS: Final = ("bottom left", "bottom right", "top right", "top left")
"""In the order in which corners are given, as the wall lies in the photo."""
MOST_WALLS: Final = 4
START_CORNERS: Final = ((0.06, 0.9), (0.94, 0.9), (0.94, 0.1), (0.06, 0.1))
"""Where the corners stand before anyone has dragged them, as shares of the photo."""
Corners = Sequence[Sequence[float]]


@dataclass(frozen=True)
class WallPhoto:
    """A photo as it was taken in: decoded, and small enough to be shown and stored."""

    name: str
    pixels: Photo
    small: StoredPhoto

    @property
    def size_px(self) -> tuple[int, int]:
        """Columns and rows of the whole photo."""
        rows, columns = self.pixels.grey.shape
        return columns * self.pixels.reduced, rows * self.pixels.reduced


@dataclass(frozen=True)
class WallRead:
    """One wall of a print as a photo shows it."""

    side: PrintedSide
    photo: WallPhoto
    corners: tuple[tuple[float, float], ...]
    """As shares of the photo's width and height."""
    found: Rectified
    reading: Reading
    notes: tuple[str, ...]
    """On distance, light, and what the print smears."""


def take_photo(data: bytes, name: str) -> WallPhoto:
    """Decode a photo within bounds.

    Raises
    ------
    InputError
        Too large, no such picture, cut short, or claiming more pixels than are decoded.
    """
    small = clean_photo(data, name)
    return WallPhoto(name, read_photo(data, name), small)


def print_walls(
    source: Path | bytes, rig: Rig, name: str, progress: Callable[[int], None] | None = None
) -> list[PrintedSide]:
    """The walls of a print that a photo can show; see :func:`beadworth.cause.printed_sides`."""
    return printed_sides(source, rig, name=name, progress=progress)


def printed_source(bench: Bench, shelf: PrintShelf | None, of: str) -> tuple[str, Path | bytes]:
    """A print of the bench: its name and program.

    Parameters
    ----------
    bench, shelf
        Where prints lie; a witness print needs no shelf.
    of : str
        ``witness 12``, or the id of a print.

    Raises
    ------
    NotFoundError
        None of that number or id, or its file is gone.
    """
    word, _, number = of.partition(" ")
    if word == "witness" and number.isdecimal() and len(number) < 10:
        found = stored_witness(bench, int(number))
        return f"{found.spec.kind} {found.number}", found.program.encode()
    if shelf is None:
        raise NotFoundError(
            f"there is no print {of!r} on the bench.", "print", of,
            "Give a file, or witness and its number.",
        )  # fmt: skip
    stored = shelf.one(of)
    return stored.name, shelf.file(stored)


_PRINTS_MOST = 200
"""Prints to choose from: those given last."""


def printed_choices(bench: Bench, shelf: PrintShelf) -> list[tuple[str, str]]:
    """Prints that walls may be read of, key and words: cause walls first, the newest on top."""
    walls = [
        (f"witness {one.number}", f"cause wall {one.number}, {one.rig}")
        for one in reversed(stored_witnesses(bench))
        if one.spec.kind == "cause wall"
    ]
    return walls + [(one.id, one.name) for one in shelf.here()[:_PRINTS_MOST]]


def pick_wall(sides: Sequence[PrintedSide], number: int) -> PrintedSide:
    """A wall by its number, from 1.

    Raises
    ------
    NotFoundError
        No wall of that number.
    """
    if not 1 <= number <= len(sides):
        raise NotFoundError(
            f"there is no wall {number} in this print.", "wall", number,
            f"It has 1 to {len(sides)}; `cause walls` lists them.",
        )  # fmt: skip
    return sides[number - 1]


def read_wall_photo(photo: WallPhoto, side: PrintedSide, corners: Corners) -> WallRead:
    """Read one wall from its photo.

    Parameters
    ----------
    photo : WallPhoto
    side : PrintedSide
    corners : four pairs
        Shares of the photo's width and height, from its top left: bottom left, bottom right, top
        right, top left of the wall as it lies in the photo.

    Raises
    ------
    InputError
        Corners outside the photo or round no wall, no layer lines, too few pixels a layer.
    """
    shares = np.array(corners, float)
    if shares.shape != (4, 2) or not np.all((shares >= 0) & (shares <= 1)):
        raise InputError(
            "these are not four places inside the photo.", "corners", None,
            f"Give {', '.join(CORNERS)}, each with its column and row.",
        )  # fmt: skip
    at = shares * np.array(photo.size_px)
    pixels = photo.pixels
    if not side.left_to_right:
        pixels, at = mirrored(pixels, at)
    found = rectify(pixels, at, side.wall.length_mm, side.wall.layer_mm)
    notes = [*side.notes, *photo_notes(found.layer_px, float(found.matrix.values.std()))]
    off = found.length_mm / side.wall.length_mm - 1
    if abs(off) > 0.05:
        notes.append(
            f"By its layer lines the wall between your corners is {found.length_mm:.0f} mm long, "
            f"by its program {side.wall.length_mm:.0f} mm. Drag the corners to where the straight "
            "stretch begins and ends, or choose the wall that this is."
        )
    return WallRead(
        side, photo, tuple((float(x), float(y)) for x, y in shares), found,
        read_wall(found.matrix, side.wall), tuple(notes),
    )  # fmt: skip


def rank_causes(
    rig: Rig,
    walls: Sequence[WallRead],
    answers: Mapping[str, bool] | None = None,
    gauge: GaugeRow | None = None,
) -> CauseAnswer:
    """What the walls of one print say of a rig.

    Parameters
    ----------
    rig, walls
    answers : by the keys of its questions, optional
    gauge : GaugeRow, optional
        Measured along the first of the walls, from where its path begins.

    Raises
    ------
    InputError
        No wall, too many, or an answer to no question.
    """
    if not 1 <= len(walls) <= MOST_WALLS:
        raise InputError(
            f"{len(walls)} walls were given.", "walls", len(walls),
            f"Give one to {MOST_WALLS}; two speeds of one print tell most.",
        )  # fmt: skip
    sources = sources_of(rig, [one.side.wall for one in walls])
    return cause_answer([one.reading for one in walls], sources, answers, gauge)


def walls_plan(sides: Sequence[PrintedSide]) -> str:
    """The walls of a print from above as a drawing, numbered."""
    return walls_svg(sides, f"Plan of the print: {len(sides)} walls, numbered as in the list.")


def wall_pictures(wall: WallRead, index: int, answer: CauseAnswer) -> tuple[str, str]:
    """A wall's matrix as the address of a picture, and its spectrum as a drawing.

    Parameters
    ----------
    wall : WallRead
    index : int
        Which of the walls that the answer is of.
    answer : CauseAnswer
        Its causes are numbered in their order.
    """
    spots = [
        (str(number), spot)
        for number, cause in enumerate(answer.causes, start=1)
        if (spot := cause.spots[index]) is not None
    ]
    first = main_cause(answer.causes[0].name)
    alt = (
        f"Spectrum of {wall.side.name}: dark where the pattern repeats, rings where each source "
        f"would lie, numbered as in the list of causes; the first is {first}."
    )
    return data_address(matrix_png(wall.found.matrix)), spectrum_svg(wall.reading, spots, alt)


def witness_fields(
    asked: Question, rig: str, walls: Sequence[WallRead], answer: CauseAnswer
) -> dict[str, str]:
    """What the form of a witness print is filled in with for a deciding test; empty: none."""
    if not asked.making:
        return {}
    fields = {"kind": asked.making, "rig": rig}
    if asked.key == "half speed":
        speed = max(one.side.wall.speed_mm_s for one in walls)
        fields["speeds_mm_s"] = f"{speed / 2:.0f} {speed:.0f}"
    if asked.key == "longer wall":
        fields["longest_mm"] = f"{longest_unseen_mm(answer)}"
    return fields


def longest_unseen_mm(answer: CauseAnswer) -> int | None:
    """The longest period that a longer wall would show, in whole mm; None where none would.

    Rounded up: a wall made for less would be too short again.
    """
    needs = [one.needs_mm for one in answer.unseen if one.needs_mm is not None]
    return math.ceil(round(max(needs) / FEWEST_PERIODS, 6)) if needs else None


def check_corners(texts: Sequence[str]) -> list[tuple[float, float]]:
    """Four corners from texts like ``96,1141``: columns and rows of the photo in pixels.

    Raises
    ------
    InputError
        Every text that is no pair of numbers, or not four of them.
    """
    found: list[tuple[float, float]] = []
    problems = []
    for text in texts:
        parts = text.split(",")
        try:
            column, row = (float(part) for part in parts)
        except ValueError:
            problems.append(Problem(f"{text!r} is no place in a photo.", "corners", text,
                                    "Write column,row in pixels, as 96,1141."))  # fmt: skip
            continue
        found.append((column, row))
    if not problems and len(found) != len(CORNERS):
        problems.append(Problem(f"{len(found)} corners were given.", "corners", len(found),
                                f"Give four: {', '.join(CORNERS)}."))  # fmt: skip
    if problems:
        raise InputError(problems)
    return found


def place_corners(photo: WallPhoto, side: PrintedSide, texts: Sequence[str]) -> WallRead:
    """Read a wall whose corners are written in pixels; see :func:`read_wall_photo`."""
    size = np.array(photo.size_px)
    return read_wall_photo(photo, side, (np.array(check_corners(texts)) / size).tolist())
