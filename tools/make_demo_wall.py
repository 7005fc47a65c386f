"""Draw the demo's wall and read it: the photos and the reading in src/beadworth/demo/wall.

Usage: python tools/make_demo_wall.py

Drawn, photographed and read takes seconds, which starting the demo should not. What the wall has is
stated here: a belt whose teeth show, and ringing beside.
"""

from __future__ import annotations

import json
import sys
from datetime import date
from pathlib import Path

from beadworth.core import to_json
from beadworth.demo import LONG_ZONE
from beadworth.workflow import (
    WallRead,
    cause_record,
    print_walls,
    rank_causes,
    read_wall_photo,
    take_photo,
)

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "src" / "beadworth" / "demo" / "wall"
sys.path.insert(0, str(ROOT / "benchmarks"))

from simulated_box import box_program, photographs  # noqa: E402
from simulated_walls import Machine, Truth  # noqa: E402

MACHINE = Machine(20, 2.0, 33.0, 2.0, 7.36, 40, 52, 7.0, 33.0, 0.06)
"""The demo's printer as it truly is; its rig does not say all of it."""
TRUTH = Truth("belt tooth", 0.014, 0.018)
ON = date(2026, 10, 20)
PRINT = "box-two-speeds.gcode"
NAMES = ("slow.jpg", "fast.jpg")


def made() -> dict[str, bytes]:
    """Every file, by its name."""
    sides = print_walls(box_program().encode(), LONG_ZONE, PRINT)
    front = [one for one in sides if one.name.startswith("front")]
    walls: list[WallRead] = []
    files = {}
    for side, name, (data, corners) in zip(
        front, NAMES, photographs(front, MACHINE, TRUTH, 5), strict=True
    ):
        photo = take_photo(data, name)
        columns, rows = photo.size_px
        shares = [(round(x / columns, 4), round(y / rows, 4)) for x, y in corners.tolist()]
        walls.append(read_wall_photo(photo, side, shares))
        files[name] = photo.small.data
    record = cause_record(PRINT, walls, rank_causes(LONG_ZONE, walls), simulated=True, on=ON)
    text = json.dumps(to_json(record), ensure_ascii=False, indent=1)
    return {**files, "reading.json": (text + "\n").encode()}


def main() -> None:
    """Write the files."""
    FOLDER.mkdir(exist_ok=True)
    for name, data in made().items():
        (FOLDER / name).write_bytes(data)
        print(f"{name}: {len(data) / 1e3:.0f} kB")


if __name__ == "__main__":
    main()
