"""Two files on one rig: the same part prepared in two ways, or a print and its retimed copy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from beadworth.replay.result import Replay
from beadworth.text import capital, duration, fixed, percent

SAME: Final = 0.005
"""Two times or amounts that differ by less, as a part of the first, are told as the same."""


@dataclass(frozen=True)
class Pair:
    """One figure of both files; None where it is not known."""

    what: str
    unit: str
    first: float | None
    second: float | None


@dataclass(frozen=True)
class TwoFiles:
    """Two files replayed on one rig."""

    first: Replay
    second: Replay
    names: tuple[str, str]
    rig: str
    known: bool
    """Whether there is a ceiling."""
    sentence: str
    pairs: tuple[Pair, ...]


def hold_files(first: Replay, second: Replay, names: tuple[str, str], *, known: bool) -> TwoFiles:
    """Two replays on the same rig beside each other.

    Parameters
    ----------
    names : (str, str)
        What the files are called.
    known : bool
        Whether they were replayed against a capacity.
    """
    pairs = tuple(_pairs(first, second, known=known))
    sentence = _sentence(first, second, names, known=known)
    return TwoFiles(first, second, names, first.rig, known, sentence, pairs)


def _pairs(first: Replay, second: Replay, *, known: bool) -> list[Pair]:
    def pair(what: str, unit: str, *values: float | None) -> Pair:
        return Pair(what, unit, *values)

    both = (first, second)
    found = [
        pair("time as written", "s", *(one.time_s for one in both)),
        pair("time at the rig's own limits", "s", *(one.time_at_rig_limits_s for one in both)),
        pair("time at the commanded speed", "s", *(one.commanded_s for one in both)),
        pair("filament", "mm", *(one.summary.filament_net_mm for one in both)),
        pair("path laid", "mm", *(one.summary.extruding_path_mm for one in both)),
        pair("path travelled", "mm", *(one.summary.travel_path_mm for one in both)),
        pair("layers", "", *(one.summary.layers for one in both)),
        pair("shortest layer", "s", *(
            one.shortest_layer.time_s if one.shortest_layer else None for one in both
        )),
        pair("mean flow", "mm³/s", *(one.flow.mean_mm3_s for one in both)),
        pair("highest flow", "mm³/s", *(one.flow.max_mm3_s for one in both)),
    ]  # fmt: skip
    if known:
        found += [
            pair("time over the ceiling", "s", *(one.over_ceiling_s for one in both)),
            pair("asked for beyond it", "mm³", *(
                sum(stretch.missing_mm3 for stretch in one.stretches) for one in both
            )),
            pair("sustained stretches", "", *(one.sustained for one in both)),
        ]  # fmt: skip
    return found


def _sentence(first: Replay, second: Replay, names: tuple[str, str], *, known: bool) -> str:
    parts = [
        _than("takes", first.time_s, second.time_s, duration, "longer", "less"),
        _than(
            "lays", first.summary.filament_net_mm, second.summary.filament_net_mm,
            lambda mm: f"{fixed(mm / 1000, 2)} m", "more", "less",
        ),
    ]  # fmt: skip
    said = f"{names[1]} {parts[0]} and {parts[1]}, against {names[0]}"
    flow = (
        f"it asks for up to {fixed(second.flow.max_mm3_s, 1)} mm³/s where that asks for "
        f"{fixed(first.flow.max_mm3_s, 1)}"
    )
    if not known:
        return f"{said}; {flow}."
    return f"{said}; {flow}. {capital(_over(first, second))}."


def _than(
    verb: str, a: float, b: float, words: Callable[[float], str], more: str, less: str
) -> str:
    """``takes 12 min (18 %) less: 50 min``, or that both are the same."""
    if abs(b - a) <= SAME * abs(a):
        return f"{verb} the same ({words(b)})"
    share = f" ({percent(abs(b / a - 1), 0)})" if a else ""
    return f"{verb} {words(abs(b - a))}{share} {more if b > a else less}: {words(b)}"


def _over(first: Replay, second: Replay) -> str:
    a, b = first.over_ceiling_s, second.over_ceiling_s
    told = {True: "not over the ceiling as far as it is known", False: "never over the ceiling"}
    ways = [
        f"over the ceiling for {duration(one.over_ceiling_s)}"
        if one.stretches
        else told[bool(one.unknown_c)]
        for one in (second, first)
    ]
    if ways[0] == ways[1] and a == b:
        return f"both are {ways[0]}"
    return f"it is {ways[0]}, the other {ways[1]}"
