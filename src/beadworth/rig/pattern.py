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
from itertools import combinations, groupby, permutations

from beadworth.rig.board import Board, Place, pairs
from beadworth.rig.ease import LEAST_CLEARANCE_MM, Match, eased
from beadworth.rig.space import Pattern


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
                Place(-p.middle.conjugate(), -p.half.conjugate(), p.clearance) for p in places
            ]
        board = Board(places, targets)
        most = min(len(places), len(targets))
        for count, turn, shift in _promising(board):
            perfect = best.screws == most and max(best.tightest, best.slot_travel) < 1e-9
            if perfect or count < best.screws:
                break
            found = eased(board, turn, shift, flipped)
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


def _places(pattern: Pattern, screw: float) -> list[Place]:
    holes = [
        Place(complex(h.x_mm, h.y_mm), 0j, max((h.diameter_mm - screw) / 2.0, 0.0))
        for h in pattern.holes
    ]
    slots = [
        Place(
            complex(s.x_mm, s.y_mm),
            cmath.rect(s.travel_mm / 2.0, math.radians(s.angle_deg)),
            max((s.width_mm - screw) / 2.0, 0.0),
        )
        for s in pattern.slots
    ]
    return holes + slots


def _placings(
    places: Sequence[Place], targets: Sequence[Place]
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
    a: Place, b: Place, c: Place, d: Place, play: float
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


def _anchors(place: Place) -> tuple[complex, ...]:
    if not place.half:
        return (place.middle,)
    return tuple(place.middle + s * place.half for s in (0.0, -0.5, 0.5, -1.0, 1.0))


def _reach(place: Place, origin: complex, distance: float, play: float) -> Iterator[complex]:
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


def _promising(board: Board) -> Iterator[tuple[int, complex, complex]]:
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
            count = len(pairs(board, turn, shift, board.near(turn, shift, 0.0)))
            waiting.setdefault(count, []).append(n)
        ready = [count for count in waiting if count >= bound]
        for count in sorted(ready, reverse=True):
            yield from ((count, *placings[n]) for n in sorted(waiting.pop(count)))
    for count in sorted(waiting, reverse=True):
        yield from ((count, *placings[n]) for n in sorted(waiting[count]))
