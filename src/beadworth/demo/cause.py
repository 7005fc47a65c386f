"""A wall of the demo's printer, read: photos drawn and read by ``tools/make_demo_wall.py``.

The truth behind it: teeth of the belt, 14 µm, and ringing at 33 Hz, 18 µm at the corner.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from beadworth.store import Bench

FOLDER = Path(__file__).with_name("wall")
PHOTOS = ("slow.jpg", "fast.jpg")


def seed_cause(bench: Bench, rig: str) -> None:
    """Put the reading on a bench with its rig, once."""
    from beadworth.cause import CauseReading
    from beadworth.core import from_mapping
    from beadworth.store import clean_photo, ledger, store_photo
    from beadworth.workflow import CAUSE_KIND

    if bench.notes(CAUSE_KIND, rig):
        return
    data: dict[str, Any] = json.loads((FOLDER / "reading.json").read_text(encoding="utf-8"))
    for wall, name in zip(data["walls"], PHOTOS, strict=True):
        photo = clean_photo((FOLDER / name).read_bytes(), name)
        wall["photo_sha256"] = store_photo(bench, photo)
    ledger.add(bench, CAUSE_KIND, rig, from_mapping(CauseReading, data, "demo"))
