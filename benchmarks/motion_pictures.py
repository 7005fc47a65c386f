"""Pictures of docs/explanation/motion.md, drawn from what the planner computes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from straight_moves import from_points

from beadworth.motion import Limits, plan

INK, SOFT, PALE, FILL = "#1d2430", "#5b6675", "#d9dde3", "#eef0f3"
LINE, CAP = "#0b5d8a", "#a84a00"


def page(width: int, height: int, title: str, body: list[str]) -> str:
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
            f'font-family="sans-serif" font-size="15" fill="{INK}">',
            f"<title>{title}</title>",
            f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
            *body,
            "</svg>\n",
        ]
    )


def line(
    x1: float, y1: float, x2: float, y2: float, colour: str = INK, width: float = 2, dash: str = ""
) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
        f'stroke-width="{width}"{dashed}/>'
    )


def dot(x: float, y: float, radius: float, fill: str, stroke: str) -> str:
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="{fill}" stroke="{stroke}" '
        'stroke-width="2"/>'
    )


def text(x: float, y: float, words: str, colour: str = INK, anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}">{words}</text>'


def corner() -> str:
    """A corner with interior angle t, the circle tangent to both moves, its nearest point."""
    t, radius = math.radians(100), 125.0
    apex = np.array([330.0, 330.0])
    d = radius * (1 - math.sin(t / 2)) / math.sin(t / 2)
    centre = apex - np.array([0.0, radius + d])
    arms = [np.array([side * math.sin(t / 2), -math.cos(t / 2)]) for side in (-1, 1)]
    touch = radius / math.tan(t / 2)
    points = [apex + touch * arm for arm in arms]
    ends = [apex + 290 * arm for arm in arms]
    near = apex - np.array([0.0, d])
    body = [
        dot(*centre, radius, FILL, SOFT),
        *(line(*apex, *end, LINE, 5) for end in ends),
        line(*centre, *apex, SOFT, dash="5 5"),
        *(line(*centre, *point, SOFT) for point in points),
        *(dot(*p, 4, INK, INK) for p in (centre, apex, near, *points)),
        line(*apex, *near, CAP, 4),
        text(apex[0] + 7, (apex[1] + near[1]) / 2 + 1, "d", CAP),
        text(*(0.5 * (centre + points[0]) + [-16, -6]), "R", SOFT),
        text(apex[0] - 25, apex[1] - 26, "t/2"),
        text(centre[0] + 10, centre[1] - 8, "centre"),
        text(apex[0], apex[1] + 24, "corner", anchor="middle"),
        text(ends[0][0] - 4, ends[0][1] - 10, "move before"),
        text(ends[1][0] + 4, ends[1][1] - 10, "move after", anchor="end"),
        text(20, 395, "The corner, the centre and a touching point make a right triangle: "
             "sin(t/2) = R ÷ (R + d)."),
    ]  # fmt: skip
    title = (
        "A circle of radius R touches both moves of a corner with interior angle t; "
        "its nearest point to the corner is d away."
    )
    return page(660, 410, title, body)


def speeds() -> str:
    """Speed over distance: caps, the pass back, the pass forth."""
    points = [(0, 0), (14, 0), (20, 0.8), (23, 4), (24.2, 4.4), (24.2, 6.2), (36, 6.2), (50, 12)]
    feeds = [80, 80, 80, 80, 80, 80, 50]
    moves = from_points(points, feeds)
    limits = Limits.of(print_acceleration_mm_s2=400.0, corner_deviation_mm=0.2)
    timing = plan(moves, limits)
    # junction speeds with nothing but their own cap: an acceleration in proportion to deviation
    easy = Limits.of(print_acceleration_mm_s2=4e5, corner_deviation_mm=0.2e-3)
    caps = plan(moves, easy).junction_mm_s
    edges = np.concatenate([[0], np.cumsum(moves.length_mm)])
    left, bottom = 70.0, 300.0
    across, up = 760.0 / edges[-1], 2.7

    def at(distance: float, speed: float) -> tuple[float, float]:
        return left + across * distance, bottom - up * speed

    body = [line(left, bottom, left + 770, bottom), line(left, bottom, left, 50)]
    for speed in (0, 20, 40, 60, 80):
        x, y = at(0, speed)
        body += [line(x - 5, y, x, y), text(x - 10, y + 5, str(speed), anchor="end")]
    body += [
        text(16, 36, "speed, mm/s"),
        text(left + 770, bottom + 44, "distance, mm", anchor="end"),
    ]
    for edge, cap in zip(edges, caps, strict=True):
        x, y = at(edge, cap)
        body += [
            line(x, bottom, x, y, PALE),
            dot(x, y, 6, "#ffffff", CAP),
            text(x, bottom + 22, f"{edge:.0f}", SOFT, "middle"),
        ]
    a = 400.0
    for back in (True, False):
        path = []
        for k, length in enumerate(moves.length_mm):
            v0, v1 = timing.entry_mm_s[k], timing.exit_mm_s[k]
            s = np.linspace(0, length, 60)
            if back:
                v = np.sqrt(v1**2 + 2 * a * (length - s))
            else:
                v = np.minimum(np.sqrt(v0**2 + 2 * a * s), np.sqrt(v1**2 + 2 * a * (length - s)))
            v = np.minimum(v, timing.top_mm_s[k])
            path += [at(edges[k] + d, w) for d, w in zip(s, v, strict=True)]
        drawn = " ".join(f"{x:.1f},{y:.1f}" for x, y in path)
        style = (
            f'stroke="{SOFT}" stroke-width="2" stroke-dasharray="5 5"' if back
            else f'stroke="{LINE}" stroke-width="3.5"'
        )  # fmt: skip
        body.append(f'<polyline points="{drawn}" fill="none" {style}/>')
    body += [
        dot(420, 31, 6, "#ffffff", CAP),
        text(434, 36, "cap of the junction", CAP),
        line(590, 31, 620, 31, SOFT, dash="5 5"),
        text(628, 36, "pass back", SOFT),
        line(720, 31, 750, 31, LINE, 3.5),
        text(758, 36, "plan", LINE),
    ]
    title = (
        "Speed over distance of seven moves: caps at the junctions, what can still brake "
        "(pass back), and the plan, which also has to speed up (pass forth)."
    )
    return page(860, 360, title, body)


def draw(folder: Path) -> None:
    """Write both pictures."""
    (folder / "motion-corner.svg").write_text(corner())
    (folder / "motion-speed.svg").write_text(speeds())
