"""The fit check in figures: how long it takes, and what it says of the invented example.

python benchmarks/fit_check.py           prints the tables of docs/explanation/fit-check.md
python benchmarks/fit_check.py --draw    writes docs/img/side-view.svg too
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from machine import machine

from beadworth.core.records import from_toml, parse_toml
from beadworth.fit import Check, fit_check
from beadworth.material.library import generic
from beadworth.rig import Hole, Pattern, Rig, Slot, changed, upgrade
from beadworth.rig.drawing import side_view
from beadworth.rig.pattern import match

DOCS = Path(__file__).parents[1] / "docs"
PARENT = from_toml(
    Rig, (DOCS / "examples/rig-stilt-stock.toml").read_text(), "rig-stilt-stock.toml"
)
CHANGES = parse_toml((DOCS / "examples/upgrade-long-zone.toml").read_text(), "upgrade")
TEMPERATURE_C, FLOW_MM3_S = 220.0, 15.0


def checks() -> tuple[Check, ...]:
    return fit_check(PARENT, CHANGES, generic("PLA"), TEMPERATURE_C, FLOW_MM3_S)


def processor_s() -> float:
    """Processor time of this process and of those it has waited for: the machine may be shared."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def median_ms(work: Callable[[], object], runs: int = 15) -> tuple[float, float]:
    spent = []
    for _ in range(runs):
        start = processor_s()
        work()
        spent.append((processor_s() - start) * 1e3)
    return statistics.median(spent), max(spent)


def patterns() -> list[tuple[int, int, float]]:
    """Places, slots among them, and the slowest of 20 searches (ms) for a pattern that is not
    there: the carriage's holes are elsewhere, so every placing must be looked at."""
    made = []
    for count, slots in ((4, 0), (6, 0), (6, 2), (8, 0), (8, 3), (12, 0), (12, 4)):
        draw = np.random.default_rng(7)
        slowest = 0.0
        for _ in range(20):
            part, carriage = _scattered(draw, count, slots), _scattered(draw, count, 0)
            start = processor_s()
            match(part, carriage, 3.0)
            slowest = max(slowest, processor_s() - start)
        made.append((count, slots, slowest * 1e3))
    return made


def _scattered(draw: np.random.Generator, count: int, slots: int) -> Pattern:
    """Holes and slots anywhere on a face of 60 by 60 mm."""
    at = [{"x_mm": float(x), "y_mm": float(y)} for x, y in draw.uniform(-30, 30, (count, 2))]
    ways = draw.uniform(-90, 90, slots)
    return Pattern(
        holes=tuple(Hole(**place, diameter_mm=3.4) for place in at[slots:]),
        slots=tuple(
            Slot(**place, travel_mm=6.0, angle_deg=float(way), width_mm=3.4)
            for place, way in zip(at, ways, strict=False)
        ),
    )


def whole_command_ms() -> float:
    """Median of 5 runs of the command with all its start-up."""
    command = [sys.executable, "-m", "beadworth", "rig", "fit",
               str(DOCS / "examples/rig-stilt-stock.toml"),
               str(DOCS / "examples/upgrade-long-zone.toml"),
               "--material", "PLA", "--temperature", "220", "--flow", "15", "--json"]  # fmt: skip
    return median_ms(lambda: subprocess.run(command, check=True, capture_output=True), 5)[0]


def timing() -> str:
    matrix = np.random.default_rng(1).random((300, 300))
    start = processor_s()
    made = checks()
    first = (processor_s() - start) * 1e3
    compiler = "numba" in sys.modules
    ours, worst = median_ms(checks)
    reference, _ = median_ms(lambda: np.linalg.svd(matrix))
    whole = whole_command_ms()
    return "\n".join(
        [
            machine("numpy"),
            "",
            "| what | ms of processor time | as a multiple of one numpy SVD of 300 × 300 |",
            "| --- | --- | --- |",
            f"| fit check, {len(made)} checks, warm (median of 15) | {ours:.0f} "
            f"| {ours / reference:.1f} |",
            f"| the slowest of the 15 | {worst:.0f} | {worst / reference:.1f} |",
            f"| the first in a process{', compiler loaded' if compiler else ''} | {first:.0f} "
            f"| {first / reference:.1f} |",
            f"| the whole command, started anew (median of 5) | {whole:.0f} "
            f"| {whole / reference:.1f} |",
            *(
                f"| pattern of {count} places, {slots} of them slots, that is not there (slowest "
                f"of 20) | {spent:.0f} | {spent / reference:.1f} |"
                for count, slots, spent in patterns()
            ),
            f"| the SVD | {reference:.1f} | 1 |",
        ]
    )


def table() -> str:
    rows = [
        "| check | value | limit | margin | unit | verdict |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for check in checks():
        u = f" (u {check.u:.3g})" if check.u else ""
        rows.append(
            f"| {check.name} | {_cell(check.value)} | {_cell(check.limit)} "
            f"| {_cell(check.margin)}{u} | {check.unit} | {check.verdict} |"
        )
    return "\n".join(rows)


def changes_table() -> str:
    rows = ["| field | before | after |", "| --- | --- | --- |"]
    for path, before, after in changed(PARENT, upgrade(PARENT, CHANGES)):
        plain = not isinstance(before, tuple) and not isinstance(after, tuple)
        cells = (before, after) if plain else (_listed(before), _listed(after))
        rows.append(f"| `{path}` | {_cell(cells[0])} | {_cell(cells[1])} |")
    return "\n".join(rows)


def curve() -> str:
    found = next(c for c in checks() if c.name == "safe acceleration of x")
    head = " | ".join(f"{speed:.0f}" for speed, _ in found.curve)
    body = " | ".join(f"{value:.0f}" for _, value in found.curve)
    ruler = " | ".join("---" for _ in found.curve)
    return f"| speed mm/s | {head} |\n| --- | {ruler} |\n| safe mm/s² | {body} |"


def _listed(value: object) -> str:
    return f"{len(value)}" if isinstance(value, tuple) else str(value)


def _cell(value: object) -> str:
    if value is None:
        return "–"
    return f"{value:.4g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    print(timing(), table(), changes_table(), curve(), sep="\n\n")
    if "--draw" in sys.argv:
        target = DOCS / "img" / "side-view.svg"
        target.write_text(side_view(upgrade(PARENT, CHANGES)), encoding="utf-8")
