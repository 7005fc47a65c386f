"""The jobs of prints: replay, layer map, retimed copy, two rigs beside each other."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from beadworth.web.jobs import Job, Jobs
from beadworth.workflow import (
    PrintedSide,
    PrintMap,
    PrintReplay,
    ReplayInputs,
    RetimedPrint,
    RetimeInputs,
    compare_print,
    hold_prints,
    print_walls,
    replay_print,
    retime_print,
    with_ceiling,
)

if TYPE_CHECKING:
    from pathlib import Path

    from beadworth.replay import TwoFiles, WhatIf
    from beadworth.rig import Rig
    from beadworth.store import PrintShelf, StoredPrint


@dataclass(frozen=True)
class Desk:
    """The prints of a bench and the work under way on them."""

    shelf: PrintShelf
    jobs: Jobs


def megabytes_read(job: Job) -> str:
    """How much of a print is read."""
    if not job.count:
        return ""
    return f"{job.count / 1e6:.1f} MB read" + (f" of {job.total / 1e6:.1f}." if job.total else ".")


def replay_job(desk: Desk, stored: StoredPrint, inputs: ReplayInputs) -> Job:
    """The replay of a print; its verdict is stored on the bench."""
    desk.shelf.file(stored)  # refuses one that is gone before anything begins

    def work(job: Job) -> PrintReplay:
        return replay_print(desk.shelf, stored, inputs, job.progress)

    return _start(desk, ("replay", stored.sha256, inputs.key), stored, "Replaying", work)


def map_job(desk: Desk, stored: StoredPrint, inputs: ReplayInputs, made: PrintReplay) -> Job:
    """Every bead of a print, written down by sheet."""
    file = desk.shelf.file(stored)

    def work(job: Job) -> PrintMap:
        return PrintMap(file, made.found, inputs, job.folder / "segments", job.progress)

    return _start(desk, ("map", stored.sha256, inputs.key), stored, "Reading the layers", work)


def retime_job(desk: Desk, stored: StoredPrint, inputs: ReplayInputs, wanted: RetimeInputs) -> Job:
    """A copy of a print that stays under the ceiling, replayed."""
    desk.shelf.file(stored)
    with_ceiling(inputs)
    key = ("retime", stored.sha256, inputs.key, round(wanted.reserve, 4), wanted.holds)

    def work(job: Job) -> RetimedPrint:
        out = job.folder / "copy.gcode"
        return retime_print(desk.shelf, stored, inputs, wanted, out, job.progress)

    return _start(desk, key, stored, "Retiming", work)


def compare_job(desk: Desk, stored: StoredPrint, first: ReplayInputs, second: ReplayInputs) -> Job:
    """The same print on two rigs."""
    desk.shelf.file(stored)
    key = ("compare", stored.sha256, first.key, second.key)

    def work(job: Job) -> WhatIf:
        return compare_print(desk.shelf, stored, first, second)

    return desk.jobs.start(key, work, words="Replaying on both")


def against_job(desk: Desk, stored: StoredPrint, other: StoredPrint, inputs: ReplayInputs) -> Job:
    """Two prints on the same rig."""
    for one in (stored, other):
        desk.shelf.file(one)
    key = ("against", other.sha256, stored.sha256, inputs.key)

    def work(job: Job) -> TwoFiles:
        return hold_prints(desk.shelf, other, stored, inputs)

    return desk.jobs.start(key, work, words="Replaying both")


def walls_job(desk: Desk, name: str, of: str, source: Path | bytes, rig: Rig) -> Job:
    """The walls of a print that a photo can show."""
    total = len(source) if isinstance(source, bytes) else None

    def work(job: Job) -> list[PrintedSide]:
        return print_walls(source, rig, name, job.progress)

    key = ("walls", of, rig.model_dump_json())
    return desk.jobs.start(key, work, words="Looking for walls", total=total, detail=megabytes_read)


def _start(
    desk: Desk, key: Hashable, stored: StoredPrint, words: str, work: Callable[[Job], Any]
) -> Job:
    total = None if stored.packed else stored.bytes
    return desk.jobs.start(key, work, words=words, total=total, detail=megabytes_read)
