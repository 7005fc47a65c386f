"""Two worth cases of the demo: a cheap hot end, and motion parts that cost more than the printer.

All of it is invented: prices, hours, prints, the person. The prints are made here, bead by
bead, so that nothing of anybody else's is shipped.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from beadworth.core import FILAMENT_MM, bead_section_mm2, filament_section_mm2
from beadworth.rig import AxisLimits, Motion, Rig

if TYPE_CHECKING:
    from collections.abc import Iterator

    from beadworth.store import Bench, PrintShelf

HOT_C = 220
HOT_END, RAILS = "Long melt zone for our own prints", "Rails and screws on every axis"


def rails_on(long_zone: Rig) -> Rig:
    """The rig with other guides and drives on every axis: dearer than the printer was."""
    return long_zone.model_copy(
        update={
            "name": "Tern, rails on every axis",
            "parent": long_zone.name,
            "motion": Motion(
                max_speed_mm_s=AxisLimits(x=500.0, y=500.0, z=20.0),
                max_acceleration_mm_s2=AxisLimits(x=12000.0, y=9000.0, z=500.0),
                print_acceleration_mm_s2=8000.0,
                travel_acceleration_mm_s2=9000.0,
                corner_deviation_mm=0.03,
            ),
            "price": 415.0,
            "currency": "EUR",
            "mass_g": 95.0,
            "supplied_by": "bought by the workshop",
            "note": "Invented for the demo.",
        }
    )


def seed_worth(bench: Bench, baseline: Rig, long_zone: Rig, trial: str) -> None:
    """Put the prints and both cases on a bench, once."""
    from beadworth.store import PrintShelf
    from beadworth.workflow import WORTH_KIND, calculate_worth, store_worth
    from beadworth.worth import case_from_mapping

    there = {note.subject for note in bench.notes(WORTH_KIND)}
    if {HOT_END, RAILS} <= there:
        return
    rails = rails_on(long_zone)
    bench.save_rig(rails)
    shelf = PrintShelf(bench)
    prints = {name: _give(shelf, f"{name}.gcode", text) for name, text in demo_prints().items()}
    for case in (
        hot_end_case(baseline.name, long_zone.name, trial, prints),
        rails_case(long_zone.name, rails.name, trial, prints),
    ):
        if case["name"] not in there:
            asked, found = calculate_worth(bench, case_from_mapping(case, "demo"), shelf=shelf)
            store_worth(bench, asked, found)


def hot_end_case(baseline: str, candidate: str, trial: str, prints: dict[str, str]) -> Any:
    """A hot end that costs little and gains where flow is the wall."""
    return {
        "name": HOT_END,
        "baseline": baseline,
        "candidate": candidate,
        "trial": trial,
        "currency": "EUR",
        "months": 24.0,
        "prints": _uses(prints, (180, 120, 400)),
        "cost": {
            "brackets": 2.5,
            "tools": 9.0,
            "fitting_hours": {"value": 3.5, "low": 2.0, "high": 7.0},
            "fitting_hour": 15.0,
            "resale": {"low": 0.0, "high": 10.0},
        },
        "time": {"printer_hour": {"value": 1.2, "low": 0.8, "high": 1.6}},
        "running": {"energy_kwh": 0.35, "power_w": {"value": 110.0, "u": 8.0}},
        "criteria": [
            {"name": "cost", "unit": "EUR", "better": "less", "worst": 400.0, "best": 0.0},
            {"name": "hours saved", "unit": "h/year", "weight": 1.0, "worst": 0.0, "best": 100.0},
            {"name": "top temperature", "unit": "°C", "weight": 0.5, "worst": 0.0, "best": 40.0},
        ],
        "effects": {"top temperature": {"value": 30.0, "evidence": "claimed"}},
        "options": [
            {
                "name": "wider nozzle",
                "what": "a 0.6 mm nozzle in the stock hot end, prints sliced again",
                "cost": 12.0,
                "effects": {
                    "hours saved": {"low": 0.0, "high": 9.0, "evidence": "predicted"},
                    "top temperature": {"value": 0.0, "evidence": "measured here"},
                },
            },
            {
                "name": "another printer",
                "what": "a second printer of the same kind, so that two print at once",
                "cost": 289.0,
                "effects": {
                    "hours saved": {"value": 60.0, "low": 20.0, "high": 90.0,
                                    "evidence": "claimed"},
                    "top temperature": {"value": 0.0, "evidence": "claimed"},
                },
            },
            {
                "name": "hotter block only",
                "what": "a stronger heater in the stock hot end",
                "cost": 160.0,
                "effects": {
                    "hours saved": {"low": 0.0, "high": 6.0, "evidence": "claimed"},
                    "top temperature": {"value": 20.0, "evidence": "claimed"},
                },
            },
        ],
        "profiles": _profiles(prints),
        "simulated": True,
        "note": "Invented for the demo.",
    }  # fmt: skip


def rails_case(baseline: str, candidate: str, trial: str, prints: dict[str, str]) -> Any:
    """Motion parts dearer than the printer: worth it to one, not to another."""
    return {
        "name": RAILS,
        "baseline": baseline,
        "candidate": candidate,
        "trial": trial,
        "currency": "EUR",
        "months": 24.0,
        "feeds": "raised",
        "prints": _uses(prints, (180, 120, 400)),
        "cost": {
            "brackets": {"value": 14.0, "low": 10.0, "high": 20.0},
            "tools": 35.0,
            "fitting_hours": {"value": 16.0, "low": 10.0, "high": 30.0},
            "fitting_hour": 15.0,
            "resale": {"low": 0.0, "high": 40.0},
        },
        "time": {"printer_hour": {"value": 1.2, "low": 0.8, "high": 1.6}},
        "criteria": [
            {"name": "cost", "unit": "EUR", "better": "less", "worst": 1000.0, "best": 0.0},
            {"name": "hours saved", "unit": "h/year", "weight": 1.0, "worst": 0.0, "best": 100.0},
        ],
        "options": [
            {
                "name": "rails on one axis",
                "what": "only the axis that moves the bed",
                "cost": {"value": 240.0, "low": 210.0, "high": 290.0},
                "effects": {"hours saved": {"low": 5.0, "high": 30.0, "evidence": "predicted"}},
            },
            {
                "name": "stiffer belts",
                "what": "wider belts and the tension measured",
                "cost": 60.0,
                "effects": {"hours saved": {"low": 0.0, "high": 12.0, "evidence": "claimed"}},
            },
            {
                "name": "another printer",
                "what": "a new printer that moves faster as it comes",
                "cost": 649.0,
                "effects": {"hours saved": {"value": 90.0, "low": 30.0, "high": 150.0,
                                            "evidence": "claimed"}},
            },
        ],
        "profiles": _profiles(prints),
        "simulated": True,
        "note": "Invented for the demo.",
    }  # fmt: skip


def _uses(prints: dict[str, str], per_year: tuple[int, ...]) -> list[dict[str, Any]]:
    return [
        {"print": prints[name], "name": name,
         "per_year": {"value": float(count), "low": round(0.7 * count), "high": round(1.3 * count)}}
        for name, count in zip(prints, per_year, strict=True)
    ]  # fmt: skip


def _profiles(prints: dict[str, str]) -> list[dict[str, Any]]:
    solid, walls, small = prints
    return [
        {"name": "occasional", "who": "A part now and then, at the weekend.",
         "hours_per_week": {"value": 3.0, "low": 1.0, "high": 5.0},
         "mix": {solid: 1.0, small: 2.0}, "weights": {"cost": 3.0, "hours saved": 1.0}},
        {"name": "busy", "who": "Most evenings and whole weekends.",
         "hours_per_week": {"value": 28.0, "low": 20.0, "high": 40.0}},
        {"name": "high-temperature", "who": "Engineering parts, thick and few.",
         "hours_per_week": {"value": 8.0, "low": 4.0, "high": 12.0}, "mix": {solid: 1.0}},
        {"name": "flexible filament", "who": "Soft sleeves and feet, thin walls.",
         "hours_per_week": {"value": 6.0, "low": 3.0, "high": 9.0}, "mix": {walls: 1.0}},
        {"name": "small business", "who": "Sells clips and brackets; no hour stands empty.",
         "hours_per_week": {"value": 80.0, "low": 60.0, "high": 110.0},
         "time": {"printer_hour": {"value": 2.5, "low": 2.0, "high": 3.0}},
         "fitting_hour": 30.0, "weights": {"cost": 1.0, "hours saved": 4.0}},
    ]  # fmt: skip


def _give(shelf: PrintShelf, name: str, text: str) -> str:
    """A print onto the shelf of the bench; its id."""
    with shelf.receiving(name) as upload:
        upload.write(text.encode())
        return upload.keep().id


def demo_prints() -> dict[str, str]:
    """Three prints by name: one that flow limits, one that feeds do, one that motion does."""
    return {
        "solid bracket": _program(_solid(), 0.6, 0.3, 130.0),
        "thin-walled box": _program(_walls(), 0.45, 0.25, 110.0),
        "small clips": _program(_clips(), 0.42, 0.2, 90.0),
    }


Layer = list[tuple[float, float, bool]]
"""Points of one layer: x, y, and whether a bead is laid on the way."""


def _solid() -> Iterator[Layer]:
    """A block filled wall to wall: long beads, there and back."""
    for _ in range(60):
        layer: Layer = [(70.0, 70.0, False)]
        for line in range(70):
            y = 70.0 + 0.6 * line
            ends = (70.0, 150.0) if line % 2 == 0 else (150.0, 70.0)
            layer += [(ends[0], y, True), (ends[1], y, True)]
        yield layer


def _walls() -> Iterator[Layer]:
    """A box of two thin walls."""
    for _ in range(160):
        layer: Layer = []
        for inset in (0.0, 0.45):
            a, b = 60.0 + inset, 160.0 - inset
            layer += [(a, a, False), (b, a, True), (b, b, True), (a, b, True), (a, a, True)]
        yield layer


def _clips() -> Iterator[Layer]:
    """A plate of small rings in short chords: corners all the way."""
    for _ in range(40):
        layer: Layer = []
        for place in range(9):
            x, y = 70.0 + 28.0 * (place % 3), 70.0 + 28.0 * (place // 3)
            for radius in (6.0, 6.42):
                ring = [
                    (x + radius * math.cos(t), y + radius * math.sin(t))
                    for t in (2 * math.pi * n / 18 for n in range(19))
                ]
                layer.append((*ring[0], False))
                layer += [(px, py, True) for px, py in ring[1:]]
        yield layer


def _program(layers: Iterator[Layer], width: float, height: float, speed: float) -> str:
    """Beads of one width and height at one speed, as G-code."""
    fed = float(bead_section_mm2(width, height)) / float(filament_section_mm2(FILAMENT_MM))
    lines = [
        "; invented for the demo", "G21", "G90", "M83", f"M104 S{HOT_C}", f"M109 S{HOT_C}",
        "G92 E0",
    ]  # fmt: skip
    x = y = 0.0
    for number, layer in enumerate(layers):
        lines.append(f"G1 Z{height * (number + 1):.2f} F600")
        for px, py, laid in layer:
            length = math.hypot(px - x, py - y)
            if laid and length > 0:
                lines.append(f"G1 X{px:.3f} Y{py:.3f} E{length * fed:.5f} F{speed * 60:.0f}")
            elif length > 0:
                lines.append(f"G0 X{px:.3f} Y{py:.3f} F12000")
            x, y = px, py
    lines += ["M104 S0", "G0 X0 Y0 F6000"]
    return "\n".join(lines) + "\n"
