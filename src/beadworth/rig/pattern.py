"""Do the holes and slots of a part meet those of a carriage, turned and shifted as need be?

Every pair of the part's holes or slots is laid on every pair of the carriage's; each such
placing is then eased (rotation and shift by least squares, screws free along slots) and the
screws that go in are counted. The placing with most screws wins; among equals the one whose
screws sit most easily: smallest share of the clearance, then least slot travel. Points are
complex numbers, so a rotation is one product.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, groupby, permutations

import numpy as np

from beadworth.rig.space import Pattern

ROUNDS = 30
"""Easing rounds at most; placings of real patterns settle in a few."""
LEAST_CLEARANCE_MM = 0.01
"""What is taken where hole and screw are equally wide (threads): positions must agree to this."""
CAPTURE_MM = 1.5
"""How far a hole may lie from its partner before easing to be counted as one pair."""
SLACK_MM = 0.3
"""How far a placing may move before the pairs that can be within reach are sought anew."""
AT_ONCE = 2000
"""Placings looked over together, to bound memory."""


@dataclass(frozen=True)
class _Place:
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


def match(
    part: Pattern, carriage: Pattern, screw_mm: float | None, *, either_face: bool = False
) -> Match:
    """The best placing of a part on a carriage.

    Parameters
    ----------
    part, carriage : Pattern
        Up to a dozen holes and slots each; both seen from in front of the carriage.
    screw_mm : float or None
        Nominal screw; left out: the narrowest hole, so that every screw has as little play as
        can be.
    either_face : bool
        Also try the part turned over (mirrored); never tried otherwise.
    """
    narrow = min(
        [h.diameter_mm for p in (part, carriage) for h in p.holes]
        + [s.width_mm for p in (part, carriage) for s in p.slots],
        default=0.0,
    )
    screw = narrow if screw_mm is None else screw_mm
    targets = _places(carriage, screw)
    best = Match(0, len(part.holes) + len(part.slots), 0.0, (0.0, 0.0), False, (), 0.0, 0.0)
    for flipped in (False, True) if either_face else (False,):
        places = _places(part, screw)
        if flipped:
            places = [
                _Place(-p.middle.conjugate(), -p.half.conjugate(), p.clearance) for p in places
            ]
        board = _Board(places, targets)
        most = min(len(places), len(targets))
        for count, turn, shift in _promising(board):
            perfect = best.screws == most and max(best.tightest, best.slot_travel) < 1e-9
            if perfect or count < best.screws:
                break
            found = _eased(board, turn, shift, flipped)
            if found and _rank(found) > _rank(best):
                best = found
    return best


def _rank(found: Match) -> tuple[int, float, float, float]:
    return (
        found.screws,
        -round(found.tightest, 6),
        -round(found.slot_travel, 6),
        -abs(round(found.turn_deg, 6)),
    )


def _places(pattern: Pattern, screw: float) -> list[_Place]:
    holes = [
        _Place(complex(h.x_mm, h.y_mm), 0j, max((h.diameter_mm - screw) / 2.0, 0.0))
        for h in pattern.holes
    ]
    slots = [
        _Place(
            complex(s.x_mm, s.y_mm),
            cmath.rect(s.travel_mm / 2.0, math.radians(s.angle_deg)),
            max((s.width_mm - screw) / 2.0, 0.0),
        )
        for s in pattern.slots
    ]
    return holes + slots


def _placings(
    places: Sequence[_Place], targets: Sequence[_Place]
) -> Iterator[tuple[complex, complex]]:
    """Rotation (a unit complex number) and shift of every pair laid on every pair."""
    for i, j in combinations(range(len(places)), 2):
        for k, m in permutations(range(len(targets)), 2):
            a, b, c, d = places[i], places[j], targets[k], targets[m]
            play = a.clearance + b.clearance + c.clearance + d.clearance
            yield from _pair_on_pair(a, b, c, d, play)
            if a.half or c.half:
                yield from _pair_on_pair(b, a, d, c, play)
    for place in places:  # one screw alone always goes in
        for target in targets:
            yield 1 + 0j, target.middle - place.middle


def _pair_on_pair(
    a: _Place, b: _Place, c: _Place, d: _Place, play: float
) -> Iterator[tuple[complex, complex]]:
    """Lay a–b on c–d: slots give way until the distances agree."""
    for p in _anchors(a):
        for r in _anchors(c):
            for q in _anchors(b):
                for s in _reach(d, r, abs(q - p), play + LEAST_CLEARANCE_MM):
                    yield from _lay(p, q, r, s)
            if b.half and not d.half:
                for q in _reach(b, p, abs(d.middle - r), play + LEAST_CLEARANCE_MM):
                    yield from _lay(p, q, r, d.middle)


def _anchors(place: _Place) -> tuple[complex, ...]:
    if not place.half:
        return (place.middle,)
    return tuple(place.middle + s * place.half for s in (0.0, -0.5, 0.5, -1.0, 1.0))


def _reach(place: _Place, origin: complex, distance: float, play: float) -> Iterator[complex]:
    """Points of a place that lie ``distance`` from an origin."""
    if not place.half:
        if abs(abs(place.middle - origin) - distance) <= play:
            yield place.middle
        return
    m, h = place.middle - origin, place.half
    a, b = abs(h) ** 2, (m * h.conjugate()).real
    root = b * b - a * (abs(m) ** 2 - distance * distance)
    near = (max(-1.0, min(1.0, -b / a)),)  # closest approach, where play must make up the rest
    at = near if root < 0 else tuple((-b + sign * math.sqrt(root)) / a for sign in (1.0, -1.0))
    for along in at:
        point = place.middle + max(-1.0, min(1.0, along)) * h
        if abs(abs(point - origin) - distance) <= play:
            yield point


def _lay(p: complex, q: complex, r: complex, s: complex) -> Iterator[tuple[complex, complex]]:
    if abs(q - p) < 1e-9 or abs(s - r) < 1e-9:
        return
    turn = (s - r) / (q - p)
    turn /= abs(turn)
    yield turn, (r + s) / 2.0 - turn * (p + q) / 2.0


class _Board:
    """A part's places over a carriage's, and which pairs can be within reach at all."""

    def __init__(self, places: Sequence[_Place], targets: Sequence[_Place]) -> None:
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


def _promising(board: _Board) -> Iterator[tuple[int, complex, complex]]:
    """Different placings with the screws within reach of each, most first.

    They are counted only when their turn comes: by their bounds for all at once, truly from the
    highest bound down, so that the order is that of the true counts.
    """
    seen: dict[tuple[int, ...], tuple[complex, complex]] = {}
    for turn, shift in _placings(board.places, board.targets):
        key = tuple(round(20 * v) for v in (40 * turn.real, 40 * turn.imag, shift.real, shift.imag))
        seen.setdefault(key, (turn, shift))
    placings = list(seen.values())
    bounds = board.at_most([t for t, _ in placings], [s for _, s in placings])
    order = sorted(range(len(placings)), key=lambda n: -bounds[n])
    waiting: dict[int, list[int]] = {}
    for bound, numbers in groupby(order, key=bounds.__getitem__):
        for n in numbers:
            turn, shift = placings[n]
            count = len(_pairs(board, turn, shift, board.near(turn, shift, 0.0)))
            waiting.setdefault(count, []).append(n)
        ready = [count for count in waiting if count >= bound]
        for count in sorted(ready, reverse=True):
            yield from ((count, *placings[n]) for n in sorted(waiting.pop(count)))
    for count in sorted(waiting, reverse=True):
        yield from ((count, *placings[n]) for n in sorted(waiting[count]))


def _pairs(
    board: _Board, turn: complex, shift: complex, candidates: Sequence[tuple[int, int]]
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
            moved = _Place(own, turn * place.half, place.clearance)
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


@dataclass
class _Placing:
    """A placing while it is eased."""

    board: _Board
    turn: complex
    shift: complex
    banned: set[tuple[int, int]]
    candidates: Sequence[tuple[int, int]] = ()
    sought_at: tuple[complex, complex] | None = field(default=None)

    def pairs(self) -> list[tuple[int, int, complex, complex, float]]:
        if self._gone() > SLACK_MM:
            self.sought_at = self.turn, self.shift
            self.candidates = self.board.near(self.turn, self.shift, SLACK_MM)
        found = _pairs(self.board, self.turn, self.shift, self.candidates)
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


def _eased(board: _Board, turn: complex, shift: complex, flipped: bool) -> Match | None:
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
