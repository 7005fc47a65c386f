"""The stack drawn to scale: carriage, toolhead, nozzle and bed from the side, and the melt's way.

One function from a rig to SVG text. Only plain presentation attributes in the light colours of
the project are used, so a page can map each to its token; parts also differ in line and label, so
nothing rests on colour alone. What is not recorded is drawn dashed at a plain size, and
labelled so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape

from beadworth.rig.paths import describe
from beadworth.rig.record import Rig

WIDTH, HEIGHT = 900.0, 600.0
LINE = 16.0
"""Height of a line of the note under the picture."""
PAPER, SHEET, INK, SOFT, RULE, STRONG = (
    "#fafaf7", "#f1f2ec", "#17212c", "#4f5964", "#d4d5cc", "#7a8490",
)  # fmt: skip
HOT, COOL = "#b04d0a", "#1d3b61"
FONT = "Arial, Liberation Sans, Helvetica, sans-serif"

# Sizes of what is drawn where nothing is recorded, mm; labelled in the picture as not recorded.
PLAIN = {"nozzle_z": 45.0, "melt_zone": 12.0, "bore": 2.0, "break": 8.0, "cone": 30.0}


@dataclass
class _Panel:
    """A part of the drawing with a scale of its own: mm to the right and up from an origin."""

    x0: float
    y0: float
    scale: float
    parts: list[str]

    def at(self, x: float, z: float) -> tuple[float, float]:
        return self.x0 + x * self.scale, self.y0 - z * self.scale

    def box(self, x1: float, z1: float, x2: float, z2: float, fill: str, stroke: str,
            dashed: bool = False, width: float = 1.5) -> None:  # fmt: skip
        a, b = self.at(min(x1, x2), max(z1, z2))
        dash = ' stroke-dasharray="6 4"' if dashed else ""
        self.parts.append(
            f'<rect x="{a:.1f}" y="{b:.1f}" width="{abs(x2 - x1) * self.scale:.1f}" '
            f'height="{abs(z2 - z1) * self.scale:.1f}" fill="{fill}" stroke="{stroke}" '
            f'stroke-width="{width:g}"{dash}/>'
        )

    def shape(self, points: list[tuple[float, float]], fill: str, stroke: str,
              dashed: bool = False) -> None:  # fmt: skip
        path = " ".join(f"{a:.1f},{b:.1f}" for a, b in (self.at(*p) for p in points))
        dash = ' stroke-dasharray="6 4"' if dashed else ""
        self.parts.append(
            f'<polygon points="{path}" fill="{fill}" stroke="{stroke}" stroke-width="1.5"{dash}/>'
        )

    def line(self, x1: float, z1: float, x2: float, z2: float, stroke: str, dash: str = "",
             width: float = 1.5) -> None:  # fmt: skip
        (a, b), (c, d) = self.at(x1, z1), self.at(x2, z2)
        extra = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<line x1="{a:.1f}" y1="{b:.1f}" x2="{c:.1f}" y2="{d:.1f}" stroke="{stroke}" '
            f'stroke-width="{width:g}"{extra}/>'
        )

    def height(self, x: float, z1: float, z2: float, words: str, side: str = "right") -> None:
        """A measure from z1 to z2 at x, its words beside it."""
        a, top = self.at(x, max(z1, z2))
        bottom = self.at(x, min(z1, z2))[1]
        self.parts.append(
            f'<path d="M{a - 5:.1f},{top:.1f} h10 M{a:.1f},{top:.1f} V{bottom:.1f} '
            f'M{a - 5:.1f},{bottom:.1f} h10" fill="none" stroke="{SOFT}" stroke-width="1.2"/>'
        )
        anchor, shift = ("start", 10) if side == "right" else ("end", -10)
        self.parts.append(_text(a + shift, (top + bottom) / 2 + 5, words, anchor))


def _text(x: float, y: float, words: str, anchor: str = "start", *, bold: bool = False,
          colour: str = INK, halo: str = "") -> str:  # fmt: skip
    weight = ' font-weight="bold"' if bold else ""
    under = f' stroke="{halo}" stroke-width="5" paint-order="stroke"' if halo else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}"{weight}{under}>'
        f"{escape(words)}</text>"
    )


def _label(what: str, value: float | None) -> str:
    return f"{what} not recorded" if value is None else f"{what} {value:g} mm"


def side_view(rig: Rig) -> str:
    """The rig's stack as SVG text, drawn to scale, with a description inside.

    900 wide and 600 high; higher by a line for each the note under it runs over.
    """
    parts: list[str] = []
    missing = [*_stack(rig, parts), *_way(rig, parts)]
    note = "Width of block and outline of nozzle at a plain size."
    if missing:
        words = ", ".join(describe(Rig, path).partition(", ")[0] for path in missing)
        note += f" Dashed, at a plain size, because not recorded: {words}."
    story, under = describe_stack(rig), _wrapped(note)
    height = HEIGHT + LINE * (len(under) - 1)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" '
            f'role="img" aria-label="{escape(story, quote=True)}" font-family="{FONT}" '
            'font-size="14">',
            f"<title>{escape(f'{rig.name}: side view of the stack')}</title>",
            f"<desc>{escape(story)}</desc>",
            f'<rect width="{WIDTH:g}" height="{height:g}" fill="{PAPER}"/>',
            *parts,
            *under,
            "</svg>\n",
        ]
    )


def describe_stack(rig: Rig) -> str:
    """The same in words, for those who do not see the picture."""
    head, tool = rig.hot_end, rig.toolhead
    lines = [f"Side view of {rig.name}, front to the left, drawn to scale."]
    if tool.nozzle_z_mm is not None:
        lines.append(f"The nozzle tip hangs {tool.nozzle_z_mm:g} mm below the mounting reference.")
    lines.append(f"The lowest part beside the nozzle is {tool.height_mm:g} mm above the tip.")
    zone = f"{head.melt_zone_mm:g} mm" if head.melt_zone_mm else "of unknown length"
    bore = f"{head.bore_mm:g} mm" if head.bore_mm else "of unknown width"
    lines.append(f"Melt zone {zone}, bore {bore}, nozzle {head.nozzle_mm:g} mm.")
    return " ".join(lines)


def _stack(rig: Rig, parts: list[str]) -> list[str]:
    """Toolhead, carriage and bed; returns what is not recorded."""
    tool, missing = rig.toolhead, []
    nozzle_y = tool.nozzle_y_mm
    tip = tool.nozzle_z_mm
    if tip is None:
        missing.append("toolhead.nozzle_z_mm")
        tip = PLAIN["nozzle_z"]
    env, room = tool.envelope, rig.room
    if nozzle_y is None:
        missing.append("toolhead.nozzle_y_mm")
        nozzle_y = -20.0
    if env is None or None in (env.front_mm, env.back_mm, env.above_mm):
        missing.append("toolhead.envelope")
    given = [(getattr(r, f"{side}_mm") if r else None) or 0.0
             for side in ("front", "back", "above") for r in (room, env)]  # fmt: skip
    wide = max(*given[0:2], 15.0 - nozzle_y, 30.0)
    deep = max(*given[2:4], nozzle_y + 12.0, 14.0)
    head = rig.hot_end
    hot = (head.melt_zone_mm or PLAIN["melt_zone"]) + (head.heat_break_mm or PLAIN["break"])
    tall = max(tip + max(*given[4:6], 25.0), hot + 6.0) + 6.0
    scale = min(330.0 / (wide + deep), 425.0 / tall, 5.0)
    left, bottom = 95.0, 520.0
    panel = _Panel(left + wide * scale, bottom, scale, parts)
    parts.append(_text(40, 36, "Stack from the side, front to the left", bold=True))
    _draw_room(rig, panel, tip)
    _draw_toolhead(rig, panel, tip, nozzle_y, missing)
    panel.line(-wide, 0, deep, 0, INK, width=4)
    bed_x, bed_z = panel.at(-wide, 0)
    parts.append(_text(bed_x, bed_z + 20, "bed, with the nozzle on it"))
    _ruler(panel, deep - 20.0 if deep * scale > 150 else 0.0, parts, 10.0)
    return missing


def _draw_room(rig: Rig, panel: _Panel, tip: float) -> None:
    room = rig.room
    if room is None or room.front_mm is None or room.back_mm is None or room.above_mm is None:
        return
    panel.box(-room.front_mm, 0.0, room.back_mm, tip + room.above_mm, "none", STRONG, True)
    x, y = panel.at(-room.front_mm, tip + room.above_mm)
    panel.parts.append(_text(x, y - 8, "free room", colour=SOFT))


def _draw_toolhead(
    rig: Rig, panel: _Panel, tip: float, nozzle_y: float, missing: list[str]
) -> None:
    tool, head = rig.toolhead, rig.hot_end
    env = tool.envelope
    known = env is not None and None not in (env.front_mm, env.back_mm, env.above_mm)
    front = env.front_mm if env and env.front_mm is not None else -nozzle_y + 15.0
    back = env.back_mm if env and env.back_mm is not None else 4.0
    above = env.above_mm if env and env.above_mm is not None else 20.0
    low = min(tool.height_mm, tip + above - 1.0)
    panel.box(-front, low, back, tip + above, SHEET, INK, not known)
    panel.line(0.0, max(low, tip - 18.0), 0.0, tip + min(above, 18.0), COOL, width=5)
    x, y = panel.at(0.0, tip)
    panel.parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{PAPER}" '
                       f'stroke="{COOL}" stroke-width="2.5"/>')  # fmt: skip
    zone = head.melt_zone_mm or PLAIN["melt_zone"]
    neck = head.heat_break_mm or PLAIN["break"]
    nozzle = min(6.0, tip * 0.2)
    dashed = head.melt_zone_mm is None
    panel.shape([(nozzle_y - 1.0, 0), (nozzle_y + 1.0, 0), (nozzle_y + 3.5, nozzle),
                 (nozzle_y - 3.5, nozzle)], SOFT, INK)  # fmt: skip
    panel.box(nozzle_y - 8, nozzle, nozzle_y + 8, nozzle + zone, "#e6cbac", HOT, dashed)
    panel.box(nozzle_y - 2, nozzle + zone, nozzle_y + 2, nozzle + zone + neck, SHEET, INK,
              head.heat_break_mm is None)  # fmt: skip
    if head.heat_break_mm is None:
        missing.append("hot_end.heat_break_mm")
    top = tip + above
    panel.line(nozzle_y, nozzle + zone + neck, nozzle_y, top, SOFT, "2 4")
    panel.parts.append(_text(x - 10, y - 9, "mounting reference", "end", colour=COOL, halo=SHEET))
    tx, ty = panel.at(nozzle_y, nozzle + zone / 2)
    panel.parts.append(_text(tx, ty + 5, "block", "middle"))
    room_back = (rig.room.back_mm if rig.room else None) or 0.0
    words = "tip not recorded" if tool.nozzle_z_mm is None else f"{tip:g} mm"
    panel.height(max(back, room_back) + 12.0 / panel.scale, 0.0, tip, words)
    panel.height(-front - 4.0, 0.0, tool.height_mm, f"{tool.height_mm:g} mm", "left")


def _way(rig: Rig, parts: list[str]) -> list[str]:
    """The melt's way, enlarged; returns what is not recorded."""
    head = rig.hot_end
    fields = ("melt_zone_mm", "bore_mm", "land_mm", "cone_half_angle_deg")
    missing = [f"hot_end.{name}" for name in fields if getattr(head, name) is None]
    zone = head.melt_zone_mm or PLAIN["melt_zone"]
    bore = head.bore_mm or max(PLAIN["bore"], 1.5 * head.nozzle_mm)
    land = head.land_mm or head.nozzle_mm
    angle = head.cone_half_angle_deg or PLAIN["cone"]
    cone = (bore - head.nozzle_mm) / 2.0 / math.tan(math.radians(angle))
    scale = min(400.0 / (zone + cone + land + 3.0), 22.0)
    panel = _Panel(640.0, 520.0, scale, parts)
    wall = 60.0 / scale
    r, n = bore / 2.0, head.nozzle_mm / 2.0
    parts.append(_text(500, 36, "The melt's way, enlarged", bold=True))
    top = land + cone + zone
    for side in (-1.0, 1.0):
        panel.shape(
            [(side * n, 0), (side * n, land), (side * r, land + cone), (side * r, top),
             (side * wall, top), (side * wall, land + cone), (side * (n + 0.25 * wall), 0)],
            "#e6cbac", HOT, head.melt_zone_mm is None or head.bore_mm is None,
        )  # fmt: skip
    f = min(rig.filament_diameter_mm / 2.0, r * 0.98)
    panel.box(-f, top - zone * 0.35, f, top + 2.5, SHEET, INK)
    panel.shape([(-f, top - zone * 0.35), (f, top - zone * 0.35), (0, top - zone * 0.8)],
                SHEET, INK)  # fmt: skip
    edge = wall + 12.0 / scale
    small = cone + land
    panel.height(edge, small, top, _label("melt zone", head.melt_zone_mm))
    x, y = panel.at(edge, small / 2)
    half = head.cone_half_angle_deg
    words = ["cone not recorded"] if half is None else [
        f"cone {half:g}° half angle,", f"{cone:.1f} mm long"
    ]  # fmt: skip
    for row, line in enumerate(
        (*words, _label("land", head.land_mm), f"nozzle {head.nozzle_mm:g} mm")
    ):
        parts.append(_text(x + 10, y - 2 + 18 * row, line))
    x, y = panel.at(-edge, top - zone / 2)
    parts.append(_text(x, y, _label("bore", head.bore_mm), "end"))
    x, y = panel.at(-edge, top + 0.2)
    parts.append(_text(x, y, f"filament {rig.filament_diameter_mm:g} mm", "end"))
    _ruler(panel, -wall, parts, 2.0)
    return missing


def _ruler(panel: _Panel, x: float, parts: list[str], length: float) -> None:
    """A bar of known length under a panel."""
    a = panel.at(x, 0)[0]
    y = panel.y0 + 34
    end = a + length * panel.scale
    parts.append(
        f'<path d="M{a:.1f},{y - 4:.1f} v8 M{a:.1f},{y:.1f} H{end:.1f} M{end:.1f},{y - 4:.1f} v8" '
        f'fill="none" stroke="{INK}" stroke-width="1.5"/>'
    )
    parts.append(_text(end + 8, y + 5, f"{length:g} mm"))


def _wrapped(note: str, letters: int = 125) -> list[str]:
    lines, line = [], ""
    for word in note.split():
        if len(line) + len(word) + 1 > letters:
            lines.append(line)
            line = ""
        line = f"{line} {word}".strip()
    lines.append(line)
    return [
        f'<text x="40" y="{HEIGHT - 8 + LINE * i:.1f}" fill="{SOFT}" font-size="13">'
        f"{escape(text)}</text>"
        for i, text in enumerate(lines)
    ]
