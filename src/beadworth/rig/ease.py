"""Ease a placing of a part on a carriage until as many screws go in as can."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from beadworth.rig.board import Board, pairs

ROUNDS = 30
"""Easing rounds at most; placings of real patterns settle in a few."""
LEAST_CLEARANCE_MM = 0.01
"""What is taken where hole and screw are equally wide (threads): positions must agree to this."""
SLACK_MM = 0.3
"""How far a placing may move before the pairs that can be within reach are sought anew."""


@dataclass(frozen=True)
class Match:
    """How a part sits on a carriage at its best."""

    screws: int
    """Screws that go in."""
    wanted: int
    """Holes and slots of the part."""
    turn_deg: float
    """Rotation of the part, counterclockwise seen from in front, −180 to 180."""
    shift_mm: tuple[float, float]
    """Shift of the part after the rotation about its origin."""
    flipped: bool
    """True where the part is turned over first (mirrored in x)."""
    pairs: tuple[tuple[int, int], ...]
    """Part's and carriage's place by number, holes first, then slots."""
    tightest: float
    """Largest share of a screw's play used, 0 to 1."""
    slot_travel: float
    """Largest share of a slot's half travel used, 0 (middle) to 1 (end); 0 without slots."""


@dataclass
class _Placing:
    """A placing while it is eased."""

    board: Board
    turn: complex
    shift: complex
    banned: set[tuple[int, int]]
    candidates: Sequence[tuple[int, int]] = ()
    sought_at: tuple[complex, complex] | None = field(default=None)

    def pairs(self) -> list[tuple[int, int, complex, complex, float]]:
        if self._gone() > SLACK_MM:
            self.sought_at = self.turn, self.shift
            self.candidates = self.board.near(self.turn, self.shift, SLACK_MM)
        found = pairs(self.board, self.turn, self.shift, self.candidates)
        return [p for p in found if (p[0], p[1]) not in self.banned]

    def _gone(self) -> float:
        """How far any point of the part can have moved since its candidates were sought."""
        if self.sought_at is None:
            return math.inf
        turn, shift = self.sought_at
        return abs(self.turn - turn) * self.board.size + abs(self.shift - shift)

    def play(self, i: int, k: int) -> float:
        clearance = self.board.places[i].clearance + self.board.targets[k].clearance
        return max(clearance, LEAST_CLEARANCE_MM)

    def share(self, pair: tuple[int, int, complex, complex, float]) -> float:
        """Share of the play that one screw uses."""
        i, k, own, goal, _ = pair
        return abs(self.turn * own + self.shift - goal) / self.play(i, k)

    def ease(self, weights: dict[int, float]) -> bool:
        """One round of weighted least squares; False where nothing moves any more."""
        pairs = self.pairs()
        if not pairs:
            return False
        old = self.turn, self.shift
        if len(pairs) > 1:
            heavy = [weights.get(p[0], 1.0) / self.play(p[0], p[1]) ** 2 for p in pairs]
            self.turn, self.shift = _least_squares(
                [p[2] for p in pairs], [p[3] for p in pairs], heavy, self.turn
            )
        else:
            self.shift = pairs[0][3] - self.turn * pairs[0][2]
        return abs(self.turn - old[0]) > 1e-12 or abs(self.shift - old[1]) > 1e-9


def eased(board: Board, turn: complex, shift: complex, flipped: bool) -> Match | None:
    """Ease a placing; then drop the worst screw until the rest go in.

    Least squares first. Its worst screw uses at most √n times the play that the best possible
    placing needs, so only up to there are weights shifted to the worst screws (Lawson's
    algorithm) until the largest share is as small as can be.
    """
    at = _Placing(board, turn, shift, set())
    while True:
        for _ in range(ROUNDS):
            if not at.ease({}):
                break
        pairs = at.pairs()
        if not pairs:
            return None
        shares = [at.share(p) for p in pairs]
        if 1.0 + 1e-9 < max(shares) <= math.sqrt(len(shares)):
            weights = {p[0]: 1.0 for p in pairs}
            for _ in range(4 * ROUNDS):
                weights = {
                    p[0]: weights.get(p[0], 1.0) * share
                    for p, share in zip(pairs, shares, strict=True)
                }
                total = sum(weights.values())
                if total == 0.0:  # all weight lay on pairs that meet exactly, or are gone
                    break
                weights = {i: w / total for i, w in weights.items()}
                at.ease(weights)
                pairs = at.pairs()
                shares = [at.share(p) for p in pairs]
                if max(shares) <= 1.0:
                    break
        worst = max(range(len(shares)), key=shares.__getitem__)
        if shares[worst] <= 1.0 + 1e-9:
            break
        at.banned.add((pairs[worst][0], pairs[worst][1]))
    return Match(
        len(pairs),
        len(board.places),
        math.degrees(cmath.phase(at.turn)),
        (at.shift.real, at.shift.imag),
        flipped,
        tuple(sorted((p[0], p[1]) for p in pairs)),
        max(shares),
        max(p[4] for p in pairs),
    )


def _least_squares(
    own: Sequence[complex], goal: Sequence[complex], weights: Sequence[float], turn: complex
) -> tuple[complex, complex]:
    """Rotation and shift that bring points nearest to others (weighted Procrustes in a plane)."""
    total = sum(weights)
    mean_own = sum(w * o for w, o in zip(weights, own, strict=True)) / total
    mean_goal = sum(w * g for w, g in zip(weights, goal, strict=True)) / total
    cross = sum(
        w * (g - mean_goal) * (o - mean_own).conjugate()
        for w, o, g in zip(weights, own, goal, strict=True)
    )
    if abs(cross) > 1e-12 * total:
        turn = cross / abs(cross)
    return turn, mean_goal - turn * mean_own
