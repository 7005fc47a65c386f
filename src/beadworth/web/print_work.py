"""What is worked out about a print: replay, map, retimed copy, two rigs beside each other."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from beadworth.core import InputError, Problem
from beadworth.replay import (
    Replay,
    Retiming,
    Sheet,
    Stretch,
    WhatIf,
    check_copy,
    compare,
    no_print,
    on_rig,
    replay,
    retime,
    sheet_of_layer,
    sheets,
)
from beadworth.report import flow_chart, limits_chart, what_if_chart
from beadworth.store import StoredPrint
from beadworth.web.figures import Figure, figure
from beadworth.web.print_asked import Asked
from beadworth.web.print_desk import Desk, Job, Progress
from beadworth.web.print_maps import PrintMap

SHOWN = 100
"""Stretches in the table; the map shows them all."""


@dataclass(frozen=True)
class Placed:
    """A stretch and the sheet it lies on."""

    stretch: Stretch
    sheet: int


@dataclass(frozen=True)
class Answer:
    """A replay, ready for the page."""

    found: Replay
    flow: Figure
    limits: Figure
    sheets: tuple[Sheet, ...]
    stretches: tuple[Placed, ...]
    """The sustained ones first, each kind by the time it is over."""

    @property
    def least(self) -> int:
        """The sheet with the least headroom, the first of them; the fullest where none is known."""
        known = [n for n, sheet in enumerate(self.sheets) if sheet.headroom is not None]
        if known:
            return min(known, key=lambda n: self.sheets[n].headroom or 0.0)
        return max(range(len(self.sheets)), key=lambda n: self.sheets[n].max_mm3_s, default=0)


@dataclass(frozen=True)
class Copy:
    """A retimed copy."""

    file: Path
    name: str
    made: Retiming
    after: Replay


def _total(stored: StoredPrint) -> int | None:
    return None if stored.packed else stored.bytes


def replay_job(desk: Desk, stored: StoredPrint, asked: Asked) -> Job:
    """The replay of a print; its verdict is kept on the bench."""
    file = desk.shelf.file(stored)

    def work(progress: Progress) -> Answer:
        found = replay(
            file, asked.rig, asked.fit, **asked.how, material=asked.material, name=stored.name,
            progress=progress,
        )  # fmt: skip
        _moves_at_all(found, stored)
        said = {"verdict": found.verdict, "time_s": found.time_s, **asked.typed}
        desk.shelf.keep_verdict(desk.shelf.one(stored.id), said)
        return _answer(found)

    return desk.job(("replay", stored.sha256, asked.key), "replay", _total(stored), work)


def _moves_at_all(found: Replay, stored: StoredPrint) -> None:
    """Refuse another kind of file."""
    said = no_print(found.summary)
    if said is not None:
        raise InputError(
            Problem(
                said,
                stored.name,
                remedy="Give the G-code the printer gets, as it goes to the machine.",
            )
        )


def _answer(found: Replay) -> Answer:
    sheet_of = sheet_of_layer(found)
    ordered = sorted(found.stretches, key=lambda s: (s.kind != "sustained", -s.over_s, s.start_s))
    placed = tuple(
        Placed(s, int(sheet_of[min((s.layer or 0) - 1, len(sheet_of) - 1)])) for s in ordered
    )
    return Answer(
        found,
        figure(lambda px: flow_chart(found, width_px=px)),
        figure(lambda px: limits_chart(found, width_px=px)),
        sheets(found),
        placed,
    )


def map_job(desk: Desk, stored: StoredPrint, asked: Asked, found: Replay) -> Job:
    """Every bead of a print, written down by sheet."""
    file = desk.shelf.file(stored)
    key = ("map", stored.sha256, asked.key)
    place = desk.work / f"{_digest(key)}.segments"

    def work(progress: Progress) -> PrintMap:
        return PrintMap(file, found, asked, place, progress)

    return desk.job(key, "map", _total(stored), work)


def retime_job(desk: Desk, stored: StoredPrint, asked: Asked, reserve: float) -> Job:
    """A copy of a print that stays under the ceiling, replayed.

    Raises
    ------
    InputError
        No capacity was chosen: there is no ceiling to stay under.
    """
    file, fit = desk.shelf.file(stored), asked.fit
    if fit is None:
        raise InputError(
            Problem(
                "there is no ceiling to stay under: no capacity is chosen.",
                "capacity",
                remedy="Choose a trial that weighed this rig, at the top of the page.",
            )
        )
    key = ("retime", stored.sha256, asked.key, round(reserve, 4))
    out = desk.work / f"{_digest(key)}.gcode"

    def work(progress: Progress) -> Copy:
        with out.open("wb") as target:
            made = retime(
                file, target, asked.rig, fit, **asked.how, reserve=reserve, name=stored.name
            )
        after = replay(
            out, asked.rig, fit, **asked.how, material=asked.material, name=retimed_name(stored),
            progress=progress,
        )  # fmt: skip
        check_copy(made, after)
        return Copy(out, retimed_name(stored), made, after)

    return desk.job(key, "retime", _total(stored), work)


def retimed_name(stored: StoredPrint) -> str:
    """Name of the copy: the print's own, told apart."""
    stem = stored.name.removesuffix(".gz")
    head, dot, ending = stem.rpartition(".")
    return f"{head}-retimed.{ending}" if dot else f"{stem}-retimed.gcode"


def what_if_job(desk: Desk, stored: StoredPrint, first: Asked, second: Asked) -> Job:
    """The same print on two rigs: (what is found, its chart)."""
    file = desk.shelf.file(stored)

    def work(progress: Progress) -> tuple[WhatIf, Figure]:
        sides = [
            on_rig(file, side.rig, side.fit, **side.how, name=stored.name)
            for side in (first, second)
        ]
        found = compare(*sides)
        return found, figure(lambda px: what_if_chart(found, width_px=px))

    return desk.job(("what-if", stored.sha256, first.key, second.key), "what-if", None, work)


def _digest(key: Any) -> str:
    return hashlib.sha256(repr(key).encode()).hexdigest()[:24]
