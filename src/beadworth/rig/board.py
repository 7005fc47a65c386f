"""Places of a part over places of a carriage: which of them meet, wherever the part is put."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

CAPTURE_MM = 1.5
"""How far a hole may lie from its partner before easing to be counted as one pair."""
AT_ONCE = 2000
"""Placings looked over together, to bound memory."""


@dataclass(frozen=True)
class Place:
    """A hole (half = 0) or a slot from middle − half to middle + half."""

    middle: complex
    half: complex
    clearance: float
    """Radial play of the screw in it."""

    def nearest(self, point: complex) -> tuple[complex, float]:
        """Nearest point of the centre line, and how far along it: −1 to 1."""
        length = abs(self.half)
        if length == 0:
            return self.middle, 0.0
        along = ((point - self.middle) * self.half.conjugate()).real / (length * length)
        along = min(1.0, max(-1.0, along))
        return self.middle + along * self.half, along


class Board:
    """A part's places over a carriage's, and which pairs can be within reach at all."""

    def __init__(self, places: Sequence[Place], targets: Sequence[Place]) -> None:
        self.places, self.targets = places, targets
        self._own = np.array([p.middle for p in places], dtype=np.complex128)
        self._goal = np.array([t.middle for t in targets], dtype=np.complex128)
        halves = np.array([abs(p.half) for p in places])
        # a slot's nearest point is at most its half away from its middle; 1e-6 for rounding
        self._reach = np.add.outer(halves, [abs(t.half) for t in targets]) + CAPTURE_MM + 1e-6
        self.size = float(np.abs(self._own).max(initial=0.0) + halves.max(initial=0.0))

    def near(self, turn: complex, shift: complex, slack: float) -> list[tuple[int, int]]:
        """Every pair that can be within reach after the part has moved by up to ``slack``."""
        gap = np.abs((turn * self._own + shift)[:, None] - self._goal)
        rows, columns = np.nonzero(gap <= self._reach + slack)
        return list(zip(rows.tolist(), columns.tolist(), strict=True))

    def at_most(self, turns: Sequence[complex], shifts: Sequence[complex]) -> list[int]:
        """For each placing a number of screws within reach that the true one cannot exceed."""
        bounds: list[int] = []
        for first in range(0, len(turns), AT_ONCE):
            turn = np.array(turns[first : first + AT_ONCE])[:, None]
            shift = np.array(shifts[first : first + AT_ONCE])[:, None]
            gap = np.abs((turn * self._own + shift)[:, :, None] - self._goal)
            within = gap <= self._reach
            found = np.minimum(within.any(2).sum(1), within.any(1).sum(1))
            bounds += found.tolist()
        return bounds


def pairs(
    board: Board, turn: complex, shift: complex, candidates: Sequence[tuple[int, int]]
) -> list[tuple[int, int, complex, complex, float]]:
    """Nearest partners, each used once: part, carriage, part's point, carriage's point, travel."""
    near = []
    places, targets = board.places, board.targets
    for i, k in candidates:
        place, target = places[i], targets[k]
        point, along, own_along = target.middle, 0.0, 0.0
        own = turn * place.middle + shift
        if target.half:
            point, along = target.nearest(own)
        if place.half:
            moved = Place(own, turn * place.half, place.clearance)
            own, own_along = moved.nearest(point)
            if target.half:  # two slots: a few rounds find their closest points
                for _ in range(6):
                    point, along = target.nearest(own)
                    own, own_along = moved.nearest(point)
        gap = abs(point - own)
        if gap <= CAPTURE_MM:
            origin = place.middle + own_along * place.half
            near.append((gap, i, k, origin, point, max(abs(along), abs(own_along))))
    near.sort(key=lambda item: item[:3])
    used_i: set[int] = set()
    used_k: set[int] = set()
    chosen = []
    for _, i, k, origin, point, travel in near:
        if i not in used_i and k not in used_k:
            used_i.add(i)
            used_k.add(k)
            chosen.append((i, k, origin, point, travel))
    return chosen
