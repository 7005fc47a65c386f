"""Coupon programs in figures: coils, cells, transients, and the flow that the file commands.

python benchmarks/coupon_program.py           prints the tables of docs/explanation
python benchmarks/coupon_program.py --draw    writes docs/img/coupon-coil.svg too
"""

from __future__ import annotations

import math
import re
import sys
from pathlib import Path

from beadworth.core.quantity import feed_mm_s
from beadworth.gcode import Limits, Writer
from beadworth.material import Material
from beadworth.rig import BuildVolume, HotEnd, Rig
from beadworth.trial.programs.checks import unsteady_mm
from beadworth.trial.programs.coil import coil
from beadworth.trial.programs.layout import plate_layout
from beadworth.trial.programs.moves import write_plate
from beadworth.trial.record import Coupon

DRAWING = Path(__file__).parents[1] / "docs" / "img" / "coupon-coil.svg"
INK, SOFT, PALE, FILL = "#1d2430", "#5b6675", "#d9dde3", "#eef0f3"


def bench_rig(nozzle: float) -> Rig:
    return Rig(
        name="example",
        build_volume=BuildVolume(x_mm=220, y_mm=220, z_mm=240),
        hot_end=HotEnd(nozzle_mm=nozzle, temperature_limit_c=280, ptfe_in_melt_zone=False),
    )


def coil_table() -> str:
    """Coils on a bed of 220 x 220 mm, toolhead as a rig record starts out."""
    rows = [
        "| nozzle mm | filament mm | highest flow mm³/s | strand mm | section mm² | radius mm "
        "| turns | height mm | speed mm/s | coupons per plate |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for nozzle, flow in ((0.4, 20.0), (0.6, 30.0), (0.8, 40.0)):
        for filament in (300.0, 600.0, 1000.0):
            grid = plate_layout(bench_rig(nozzle), filament_mm=filament, highest_flow_mm3_s=flow)
            c = grid.coil
            rows.append(
                f"| {nozzle} | {filament:.0f} | {flow:.0f} | {c.strand_mm:.1f} "
                f"| {c.strand_section_mm2:.3f} | {c.radius_mm:.0f} | {c.turns:.1f} "
                f"| {c.height_mm:.1f} | {c.speed_mm_s(flow):.1f} | {grid.cells} |"
            )
    return "\n".join(rows)


def file_table() -> str:
    """What one plate commands: filament and flow of each coupon, read back from the text."""
    rig = bench_rig(0.4)
    material = Material(
        name="example", density_g_cm3=1.24, min_temperature_c=190, max_temperature_c=260
    )
    flows = (3.0, 8.0, 12.0, 16.0, 20.0)
    coupons = [
        Coupon(f"A{i:02d}", rig.name, 220.0, q, 600.0, 1, i == 1, i, 1, 1)
        for i, q in enumerate(flows, 1)
    ]
    grid = plate_layout(rig, filament_mm=600, highest_flow_mm3_s=20)
    writer = Writer(Limits.of(rig, material))
    write_plate(writer, rig, material, coupons, grid)
    text = writer.text()
    rows = [
        "| flow mm³/s | sum of E mm | largest error of flow on a move | rising and falling "
        "| from purge to coupon s |",
        "| --- | --- | --- | --- | --- |",
    ]
    for coupon in coupons:
        total, worst, rest = read_back(text, coupon)
        share = unsteady_mm(rig, feed_mm_s(coupon.flow_mm3_s, 1.75), grid.coil) / 600
        rows.append(
            f"| {coupon.flow_mm3_s:g} | {total:.5f} | {worst:.4%} | {share:.3%} | {rest:.1f} |"
        )
    return "\n".join(rows)


def read_back(text: str, coupon: Coupon) -> tuple[float, float, float]:
    """Sum of E, worst relative error of flow, and seconds from the purge's end to the coupon."""
    section = math.pi / 4 * 1.75**2
    at, feed, inside, total, worst, rest = [0.0, 0.0, 0.0], 0.0, False, 0.0, 0.0, 0.0
    for line in text.splitlines():
        inside = inside or line == f"; coupon {coupon.coupon} begins"
        if line == f"; coupon {coupon.coupon} ends":
            break
        if not line.startswith(("G0 ", "G1 ")):
            continue
        words = {w[0]: float(w[1:]) for w in re.findall(r"[XYZEF]-?[\d.]+", line)}
        new = [words.get(a, old) for a, old in zip("XYZ", at, strict=True)]
        feed = words.get("F", feed)
        length, e = math.dist(at, new), words.get("E", 0.0)
        seconds = (length or abs(e)) / (feed / 60)
        at = new
        if inside:
            total += e
            worst = max(worst, abs(e * section / seconds / coupon.flow_mm3_s - 1))
        rest = rest if inside else 0.0 if e and length else rest + seconds
    return total, worst, rest


def drawing() -> str:
    """Side view of the coil's wall and top view of a cell, to scale within each."""
    c = coil(bench_rig(0.4), filament_mm=600, radius_mm=22)
    d, s = 34.0, 34.0 / c.strand_mm  # pixels per strand, per mm
    base, x = 330.0, 150.0
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 900 400" role="img" '
        f'font-family="sans-serif" font-size="15" fill="{INK}">',
        "<title>Left: section through a coil's wall, four strands stacked, the nozzle two strand "
        "diameters over the turn below. Right: a cell from above, coil, purge strip in front of "
        "it, waiting place in front of the strip.</title>",
        '<rect width="900" height="400" fill="#ffffff"/>',
        f'<rect x="40" y="{base}" width="400" height="16" fill="{PALE}"/>',
        f'<text x="48" y="{base + 38}">bed</text>',
    ]
    turns = 4
    for k in range(turns):
        out.append(
            f'<circle cx="{x}" cy="{base - d * (k + 0.5)}" r="{d / 2}" fill="{FILL}" '
            f'stroke="{INK}" stroke-width="2"/>'
        )
    top = base - turns * d
    tip = top - c.stand_off_mm * s
    bore = 0.4 * s / 2
    out += [
        f'<path d="M{x - 60},{tip - 60} L{x - 22},{tip} L{x + 22},{tip} L{x + 60},{tip - 60} Z" '
        f'fill="{SOFT}"/>',
        f'<rect x="{x - bore}" y="{tip - 60}" width="{2 * bore}" height="60" fill="{FILL}"/>',
        f'<path d="M{x},{tip} C{x + 2},{tip + 24} {x - 14},{tip + 30} {x - 2},{top}" '
        f'fill="none" stroke="{INK}" stroke-width="{1.2 * bore:.1f}" opacity="0.55"/>',
        _measure(x + 90, tip, top, f"stand-off {c.stand_off_mm:g} mm = 2 strands"),
        _measure(x + 90, top + d, top + 2 * d, f"climb {c.climb_mm:g} mm per turn = 1 strand"),
        '<text x="40" y="30" font-weight="bold">Wall of the coil, cut</text>',
        f'<text x="{x + 110}" y="{base - 14}">strand {c.strand_mm:g} mm, '
        f"{c.strand_section_mm2:.3f} mm²</text>",
    ]
    cx, cy, r = 680.0, 165.0, 105.0
    out += [
        '<text x="540" y="30" font-weight="bold">A cell from above</text>',
        f'<circle cx="{cx}" cy="{cy}" r="{r}" fill="none" stroke="{INK}" stroke-width="5"/>',
        f'<line x1="{cx}" y1="{cy}" x2="{cx + r * 0.94}" y2="{cy - r * 0.34}" stroke="{SOFT}" '
        'stroke-width="1.5"/>',
        f'<text x="{cx + 12}" y="{cy - 28}">radius</text>',
        f'<circle cx="{cx}" cy="{cy + r}" r="7" fill="{INK}"/>',
        f'<text x="{cx}" y="{cy + r - 18}" text-anchor="middle">start →</text>',
    ]
    for line in range(4):
        y = cy + r + 28 + line * 9
        out.append(
            f'<line x1="{cx - r}" y1="{y}" x2="{cx + r}" y2="{y}" stroke="{SOFT}" '
            'stroke-width="4"/>'
        )
    out += [
        f'<text x="{cx - r - 8}" y="{cy + r + 48}" text-anchor="end">purge strip</text>',
        f'<circle cx="{cx}" cy="{cy + r + 80}" r="6" fill="none" stroke="{INK}" '
        'stroke-width="2" stroke-dasharray="3 3"/>',
        f'<text x="{cx + 14}" y="{cy + r + 85}">waiting place: soak, settle</text>',
        f'<text x="{cx}" y="{cy + r + 115}" text-anchor="middle" font-weight="bold">front of the '
        "bed</text>",
        "</svg>",
    ]
    return "\n".join(out) + "\n"


def _measure(x: float, top: float, bottom: float, words: str) -> str:
    middle = (top + bottom) / 2
    return (
        f'<path d="M{x - 8},{top} H{x + 8} M{x},{top} V{bottom} M{x - 8},{bottom} H{x + 8}" '
        f'fill="none" stroke="{SOFT}" stroke-width="2"/>'
        f'<text x="{x + 20}" y="{middle + 5}">{words}</text>'
    )


if __name__ == "__main__":
    print(coil_table(), file_table(), sep="\n\n")
    if "--draw" in sys.argv:
        DRAWING.write_text(drawing(), encoding="utf-8")
