"""Photos of walls that are being read: held in memory, the last few only, never on disk."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from beadworth.core import InputError, NotFoundError
from beadworth.rig import Rig
from beadworth.workflow import (
    MOST_WALLS,
    START_CORNERS,
    CauseAnswer,
    PrintedSide,
    WallPhoto,
    WallRead,
    rank_causes,
    read_gauge,
    read_wall_photo,
)

MOST_BYTES = 300_000_000
"""Grey values of all photos held; of the readings asked for longest ago the first to go."""
Places = tuple[tuple[float, float], ...]


@dataclass
class Photographed:
    """One photo on the desk, with where its corners stand now."""

    photo: WallPhoto
    number: int
    """Of its wall, from 1."""
    corners: Places = START_CORNERS
    read: WallRead | None = None


@dataclass
class Sitting:
    """One reading that is under way."""

    rig: Rig
    of: str
    """The print, as forms name it."""
    print_name: str
    sides: Sequence[PrintedSide]
    photos: list[Photographed] = field(default_factory=list)
    answers: dict[str, bool] = field(default_factory=dict)
    """By the keys of questions, as last given."""
    gauge_text: str = ""
    """A row measured along the first wall, as typed; empty: none."""
    answered: tuple[CauseAnswer, list[WallRead]] | None = None
    """What was answered last; None once anything changed."""
    lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def bytes(self) -> int:
        """What its photos hold."""
        return sum(one.photo.pixels.grey.nbytes for one in self.photos)

    def add(self, photo: WallPhoto, number: int) -> None:
        """Put a photo beside the others.

        Raises
        ------
        InputError
            More than :data:`MOST_WALLS`.
        """
        with self.lock:
            if len(self.photos) == MOST_WALLS:
                raise InputError(
                    f"{MOST_WALLS} photos are read together at most.", "photo", None,
                    "Begin another reading.",
                )  # fmt: skip
            self.photos.append(Photographed(photo, number))
            self.answered = None

    def move(
        self, corners: Sequence[Places], answers: Mapping[str, bool], gauge_text: str = ""
    ) -> None:
        """Take corners as they were dragged, what was looked at, and what was measured."""
        with self.lock:
            told = dict(answers), gauge_text.strip()
            if told != (self.answers, self.gauge_text):
                self.answers, self.gauge_text = told
                self.answered = None
            for one, places in zip(self.photos, corners, strict=False):
                if one.corners != places:
                    one.corners, one.read, self.answered = places, None, None

    def answer(self) -> tuple[CauseAnswer, list[WallRead]]:
        """Read the walls whose corners moved, and rank anew where anything changed.

        Raises
        ------
        InputError
            Corners round no wall, no layer lines, or no photo.
        ReadingsError
            A measured row that is none.
        """
        with self.lock:
            for one in self.photos:
                if one.read is None:
                    side = self.sides[one.number - 1]
                    one.read = read_wall_photo(one.photo, side, one.corners)
            if self.answered is None:
                walls = [one.read for one in self.photos if one.read is not None]
                row = read_gauge(self.gauge_text.encode(), "row") if self.gauge_text else None
                self.answered = rank_causes(self.rig, walls, self.answers, row), walls
            return self.answered


class CauseDesk:
    """The readings under way."""

    def __init__(self) -> None:
        self._sittings: OrderedDict[str, Sitting] = OrderedDict()
        self._lock = threading.Lock()

    def begin(self, sitting: Sitting) -> str:
        """Take a reading up; its key."""
        key = secrets.token_hex(8)
        with self._lock:
            self._sittings[key] = sitting
        self.trim()
        return key

    def trim(self) -> None:
        """Let the oldest go until the photos fit; the newest stays in any case."""
        with self._lock:
            while len(self._sittings) > 1 and (
                sum(one.bytes for one in self._sittings.values()) > MOST_BYTES
            ):
                self._sittings.popitem(last=False)

    def sitting(self, key: str) -> Sitting:
        """A reading under way.

        Raises
        ------
        NotFoundError
            It was let go, or the server was started anew.
        """
        with self._lock:
            if key in self._sittings:
                self._sittings.move_to_end(key)
                return self._sittings[key]
        raise NotFoundError(
            "this photo is no longer held.", "reading", key,
            "Give it again: a photo stays only while it is read, the reading once it is recorded.",
        )  # fmt: skip
