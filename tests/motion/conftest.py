"""The planner written plainly: the specification of the compiled kernel, and random paths."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from beadworth.gcode import Arcs
from beadworth.motion import Limits, MoveTable
from beadworth.motion.columns import LIMIT_NAMES

PLANES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
AXES = "xyz"


def angles_of_note(start, sweep):
    """Both ends of an arc of directions, and every quarter turn in between."""
    low, high = sorted((start, start + sweep))
    quarter = math.pi / 2
    return [
        low,
        high,
        *(quarter * k for k in range(math.ceil(low / quarter), math.floor(high / quarter) + 1)),
    ]


def describe(moves, limits):
    """Each move as plain numbers: length, tangents, top speed, acceleration. Geometry only."""
    arcs = {int(m): i for i, m in enumerate(moves.arcs.move)}
    found = []
    for k in range(len(moves)):
        row = dict(zip(LIMIT_NAMES, limits.table[moves.setting[k]].tolist(), strict=True))
        start = [moves.x0[k], moves.y0[k], moves.z0[k]]
        end = [moves.x[k], moves.y[k], moves.z[k]]
        path, fed = moves.length_mm[k], moves.filament_mm[k]
        only = path == 0
        if only and fed == 0:
            found.append(None)
            continue
        if only:
            length, first, last, worst = abs(fed), [0.0] * 3, [0.0] * 3, [0.0] * 3
            a_path = row["retract_acceleration_mm_s2"]
        else:
            length = path
            first = last = [(b - a) / length for a, b in zip(start, end, strict=True)]
            worst = [abs(c) for c in first]
            a_path = row["travel_acceleration_mm_s2" if fed == 0 else "print_acceleration_mm_s2"]
        per_mm = fed / length
        inward = math.inf
        if k in arcs:
            i = arcs[k]
            u, v, w = PLANES[int(moves.arcs.plane[i])]
            sweep, radius = moves.arcs.sweep_rad[i], moves.arcs.radius_mm[i]
            at = math.atan2(
                start[v] - moves.arcs.centre_v_mm[i], start[u] - moves.arcs.centre_u_mm[i]
            )
            turn = at + math.copysign(math.pi / 2, sweep)
            flat = radius * abs(sweep) / length
            rise = (end[w] - start[w]) / length

            def tangent(angle, u=u, v=v, w=w, flat=flat, rise=rise):
                t = [0.0] * 3
                t[u], t[v], t[w] = flat * math.cos(angle), flat * math.sin(angle), rise
                return t

            first, last = tangent(turn), tangent(turn + sweep)
            seen = [tangent(angle) for angle in angles_of_note(turn, sweep)]
            worst = [max(abs(t[axis]) for t in seen) for axis in range(3)]
            # towards the centre: a quarter turn from the tangent, so the other axis' share
            a_in = min(
                a_path,
                row[f"acceleration_{AXES[u]}_mm_s2"] * flat / max(worst[v], 1e-300),
                row[f"acceleration_{AXES[v]}_mm_s2"] * flat / max(worst[u], 1e-300),
            )
            inward = math.sqrt(a_in * radius) / flat
        top, a = min(moves.feed_mm_s[k], inward), a_path
        for axis, share in [*zip(AXES, worst, strict=True), ("e", abs(per_mm))]:
            if share > 0:
                top = min(top, row[f"speed_{axis}_mm_s"] / share)
                a = min(a, row[f"acceleration_{axis}_mm_s2"] / share)
        found.append(
            SimpleNamespace(
                length=length, first=first, last=last, e=per_mm, only=only, top=top, a=a, row=row
            )
        )  # fmt: skip
    return found


def corner_speed(before, after):
    """Corner rules as one reads them: a circle of deviation d, and a step per axis."""
    row = after.row
    step = [row[f"corner_step_{axis}_mm_s"] for axis in "xy"]
    by_step = math.isinf(row["corner_deviation_mm"]) and math.isfinite(max(step))
    if before.only != after.only and not by_step:
        return 0.0
    speed = min(before.top, after.top)
    gap = [b - a for a, b in zip(before.last, after.first, strict=True)]
    pairs = [*zip(AXES, before.last, after.first, strict=True), ("e", before.e, after.e)]
    for axis, a, b in pairs:
        # an axis that turns back stops and starts: two steps, each of its own size
        steps = [abs(a), abs(b)] if a * b < 0 else [abs(b - a)]
        if max(steps) > 0:
            speed = min(speed, row[f"corner_step_{axis}_mm_s"] / max(steps))
    size = math.hypot(*gap)
    if math.isfinite(row["corner_deviation_mm"]) and size > 0:
        cross = np.cross(before.last, after.first)
        turn = math.atan2(math.hypot(*cross), float(np.dot(before.last, after.first)))
        t = math.pi - turn  # interior angle
        if 1 - math.sin(t / 2) > 0:
            radius = row["corner_deviation_mm"] * math.sin(t / 2) / (1 - math.sin(t / 2))
            a = min(before.a, after.a)
            for axis, part in zip(AXES, gap, strict=True):
                if part != 0:
                    a = min(a, row[f"acceleration_{axis}_mm_s2"] * size / abs(part))
            speed = min(speed, math.sqrt(a * radius))
    return speed


def speed_from_rest(move, tangent):
    """Speed at which a move may start or end, the machine at rest on its other side."""
    row = move.row
    step = [row[f"corner_step_{axis}_mm_s"] for axis in AXES]
    if math.isfinite(row["corner_deviation_mm"]) or math.isinf(max(step[:2])):
        return 0.0
    speed = move.top
    for share, most in [*zip(tangent, step, strict=True), (move.e, row["corner_step_e_mm_s"])]:
        if share != 0:
            speed = min(speed, most / abs(share))
    return speed


def chain(moves, limits):
    """Moves that have a length, the cap of each junction, and 2·a·length."""
    described = describe(moves, limits)
    stops = set(moves.stop_before.tolist())
    real, caps, stop = [], [], True
    for k, move in enumerate(described):
        stop = stop or k in stops
        if move is None:
            continue
        if stop:
            ends = [speed_from_rest(real[-1][1], real[-1][1].last)] if real else []
            caps.append(min(*ends, speed_from_rest(move, move.first), math.inf) ** 2)
        else:
            caps.append(corner_speed(real[-1][1], move) ** 2)
        real.append((k, move))
        stop = False
    caps.append(speed_from_rest(real[-1][1], real[-1][1].last) ** 2 if real else 0.0)
    ramps = 1 - limits.min_cruise_share  # share of a move that its ramps may take
    return real, caps, [2 * move.a * move.length * ramps for _, move in real]


def reach_all(caps, d):
    """Largest squared speeds: each is held by some cap and the way to it."""
    far = np.concatenate([[0.0], np.cumsum(d)])
    return [min(c + abs(f - here) for c, f in zip(caps, far, strict=True)) for here in far]


def reach_window(caps, d, queue):
    """A controller with ``queue`` moves: fix the end of each move when it starts."""
    n = len(d)
    speeds = []
    for i in range(-1, n):
        known = min(i + queue, n)
        back = caps[n] if i + queue > n else 0.0
        for j in range(known - 1, i, -1):
            back = min(caps[j], back + d[j])
        if i < 0:
            speeds.append(back)
            continue
        speeds.append(min(back, speeds[-1] + d[i]))
    return speeds


def move_time(v0, v1, top, a, length, cruise):
    """The trapezoid of the textbook, phase by phase; its ramps leave a share of the length."""
    peak = min(top, math.sqrt((2 * a * length * (1 - cruise) + v0 * v0 + v1 * v1) / 2))
    up, down = (peak**2 - v0**2) / (2 * a), (peak**2 - v1**2) / (2 * a)
    return (peak - v0) / a + (peak - v1) / a + max(length - up - down, 0.0) / peak


def plain_plan(moves, limits, squares=None):
    """Time of every move and speed of every junction, empty moves included."""
    real, caps, d = chain(moves, limits)
    if squares is None:
        queue = limits.look_ahead_moves
        squares = reach_all(caps, d) if queue is None else reach_window(caps, d, queue)
    speed = [math.sqrt(max(s, 0.0)) for s in squares]
    times = np.zeros(len(moves))
    for r, (k, move) in enumerate(real):
        times[k] = move_time(
            speed[r], speed[r + 1], move.top, move.a, move.length, limits.min_cruise_share
        )
    return times, np.array(speed), [k for k, _ in real]


def random_limits(rng, rows=1, queue=None):
    """Limits of many kinds: either corner rule or both, slow and fast axes."""
    table = np.empty((rows, len(LIMIT_NAMES)))
    for row in table:
        row[:3] = rng.choice([300.0, 1000.0, 4000.0], 3)
        row[3:7] = rng.choice([400.0, 2000.0, np.inf], 4)
        row[7:11] = rng.choice([20.0, 150.0, np.inf], 4)
        row[11:15] = rng.choice([1.0, 8.0, 30.0], 4)
        row[15] = rng.choice([0.005, 0.05, 0.3])
        rule = rng.integers(3)
        if rule == 0:
            row[11:14] = np.inf
        elif rule == 1:
            row[15] = np.inf
    return Limits(table, queue)


def random_moves(rng, n, rows=1, odd=True):
    """Lines, arcs, helices, moves of E alone, empty moves, stops, reversals, straight runs."""
    found, arcs = [], []
    place, heading = [0.0, 0.0, 0.0], float(rng.uniform(0, 2 * math.pi))
    scale = float(rng.choice([0.05, 0.5, 5.0]))
    kinds = rng.choice(["line", "line", "line", "climb", "arc", "e", "empty", "back"], n).tolist()
    turns = rng.choice([0.0, 0.0, 1e-3, 0.2, math.pi / 4, math.pi / 2, 2.5], n)
    turns = (turns * rng.choice([-1, 1], n)).tolist()
    lengths = (rng.gamma(1.0, scale, n) + 1e-3).tolist()
    lays = (rng.random(n) < 0.7).tolist()
    per_mm, pushed = rng.choice([0.03, 0.03, 0.1, -0.02], n).tolist(), rng.uniform(0.05, 3.0, n)
    pushed = (pushed * rng.choice([-1, 1], n)).tolist()
    feeds = rng.choice([10.0, 60.0, 60.0, 200.0], n).tolist()
    for k in range(n):
        start = list(place)
        kind = kinds[k] if odd else "line"
        heading += turns[k]
        fed = 0.0
        if kind in ("line", "climb"):
            place[0] += lengths[k] * math.cos(heading)
            place[1] += lengths[k] * math.sin(heading)
            if kind == "climb":
                place[2] += float(rng.normal(0, scale))
        elif kind == "back" and k:
            place = list(found[-1][:3])
        elif kind == "arc":
            plane = int(rng.choice([17, 18, 19]))
            u, v, w = PLANES[plane]
            at, sweep = rng.uniform(-4, 4), float(rng.choice([-1, 1]) * rng.uniform(0.05, 9.0))
            radius = float(rng.gamma(2.0, scale) + 0.01)
            cu, cv = start[u] - radius * math.cos(at), start[v] - radius * math.sin(at)
            place[u], place[v] = (
                cu + radius * math.cos(at + sweep),
                cv + radius * math.sin(at + sweep),
            )
            place[w] += float(rng.choice([0.0, rng.normal(0, scale)]))
            arcs.append((k, cu, cv, radius, sweep, plane))
        length = math.dist(place, start)
        if arcs and arcs[-1][0] == k:
            length = math.hypot(arcs[-1][3] * arcs[-1][4], place[w] - start[w])
        if kind == "e":
            fed = pushed[k]
        elif length and lays[k]:
            fed = per_mm[k] * length
        found.append((*start, *place, fed, feeds[k], length))
    table = np.array(arcs, float).reshape(-1, 6).T
    shapes = Arcs(table[0].astype(np.int64), *table[1:5], table[5].astype(np.int32))
    stops = np.flatnonzero(rng.random(n) < 0.05) if odd else np.empty(0, np.int64)
    settings = np.sort(rng.integers(0, rows, n)).astype(np.int32)
    return MoveTable(*np.array(found).reshape(n, 9).T.copy(), settings, shapes, stops)


@pytest.fixture(scope="session")
def plain():
    return SimpleNamespace(
        plan=plain_plan, chain=chain, describe=describe, move_time=move_time,
        limits=random_limits, moves=random_moves,
    )  # fmt: skip
