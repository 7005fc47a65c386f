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
from dataclasses import dataclass
from itertools import combinations, permutations

from beadworth.rig.space import Pattern

ROUNDS = 30
"""Easing rounds at most; placings of real patterns settle in a few."""
LEAST_CLEARANCE_MM = 0.01
"""What is taken where hole and screw are equally wide (threads): positions must agree to this."""
CAPTURE_MM = 1.5
"""How far a hole may lie from its partner before easing to be counted as one pair."""


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
        most = min(len(places), len(targets))
        for count, turn, shift in _promising(places, targets):
            perfect = best.screws == most and max(best.tightest, best.slot_travel) < 1e-9
            if perfect or count < best.screws:
                break
            found = _eased(places, targets, turn, shift, flipped)
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


def _promising(
    places: Sequence[_Place], targets: Sequence[_Place]
) -> list[tuple[int, complex, complex]]:
    """Different placings with the screws within reach of each, most first."""
    seen: dict[tuple[int, ...], tuple[int, complex, complex]] = {}
    for turn, shift in _placings(places, targets):
        key = tuple(round(20 * v) for v in (40 * turn.real, 40 * turn.imag, shift.real, shift.imag))
        if key not in seen:
            count = len(_pairs(places, targets, turn, shift, CAPTURE_MM))
            seen[key] = (count, turn, shift)
    return sorted(seen.values(), key=lambda item: -item[0])


def _pairs(
    places: Sequence[_Place],
    targets: Sequence[_Place],
    turn: complex,
    shift: complex,
    within: float,
) -> list[tuple[int, int, complex, complex, float]]:
    """Nearest partners, each used once: part, carriage, part's point, carriage's point, travel."""
    near = []
    for i, place in enumerate(places):
        moved = _Place(turn * place.middle + shift, turn * place.half, place.clearance)
        for k, target in enumerate(targets):
            point, along = target.nearest(moved.middle)
            own, own_along = moved.nearest(point)
            if place.half and target.half:  # two slots: a few rounds find their closest points
                for _ in range(6):
                    point, along = target.nearest(own)
                    own, own_along = moved.nearest(point)
            gap = abs(point - own)
            if gap <= within:
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

    places: Sequence[_Place]
    targets: Sequence[_Place]
    turn: complex
    shift: complex
    banned: set[tuple[int, int]]

    def pairs(self) -> list[tuple[int, int, complex, complex, float]]:
        found = _pairs(self.places, self.targets, self.turn, self.shift, CAPTURE_MM)
        return [p for p in found if (p[0], p[1]) not in self.banned]

    def play(self, i: int, k: int) -> float:
        return max(self.places[i].clearance + self.targets[k].clearance, LEAST_CLEARANCE_MM)

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


def _eased(
    places: Sequence[_Place],
    targets: Sequence[_Place],
    turn: complex,
    shift: complex,
    flipped: bool,
) -> Match | None:
    """Ease a placing; then drop the worst screw until the rest go in.

    Least squares first. Its worst screw uses at most √n times the play that the best possible
    placing needs, so only up to there are weights shifted to the worst screws (Lawson's
    algorithm) until the largest share is as small as can be.
    """
    at = _Placing(places, targets, turn, shift, set())
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
        len(places),
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
