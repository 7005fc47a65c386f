"""What ``beadworth print`` says on the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from beadworth.cli.command import notes
from beadworth.cli.table import Table
from beadworth.text import count, duration, fixed, percent

if TYPE_CHECKING:
    from beadworth.gcode import GcodeSummary
    from beadworth.replay import Replay, Retiming, TwoFiles, WhatIf
    from beadworth.workflow import SurveyRun

WAYS = ("as written", "own limits", "fastest")
BINS = 12
"""Rows of flow on the terminal."""
STRETCHES = 20
"""Told on the terminal."""
OTHER_HOT_END = (
    "More than a fifth of its extruding moves had to slow: it looks made for another hot end. "
    "Prepare it again with a limit on flow."
)


def describe_retiming(made: Retiming, after: Replay, written: Path | None) -> Iterator[str]:
    """What was done to the feeds, and what to make of it."""
    if made.moves:
        yield (
            f"{made.moves} moves slower; {duration(after.time_s)} instead of "
            f"{duration(made.before.time_s)}. {after.verdict}"
        )
    else:
        yield f"Under the ceiling less the reserve already: nothing is changed. {after.verdict}"
    if made.other_hot_end:
        yield OTHER_HOT_END
    yield f"Written: {written}" if written else "Nothing was written."


def describe_replay(found: Replay) -> Iterator[str | Table]:
    """The verdict first, then what the print asks for, and how its file was read."""
    yield found.verdict
    if found.summary.moves:
        yield from _describe_print(found)
    yield from _describe_file(found.summary)
    yield from notes(found.notes)


def _describe_print(found: Replay) -> Iterator[str | Table]:
    """Moves, flow, what holds it back, and where it is over the ceiling."""
    summary = found.summary
    layers = "continuous" if summary.layers is None else summary.layers
    yield (
        f"{summary.moves} moves, {layers} layers, "
        f"{fixed(summary.filament_net_mm / 1000, 2)} m of filament; at commanded speed all the way "
        f"{duration(found.commanded_s)}."
    )
    if found.sets_limits:
        yield (
            f"As written {duration(found.time_s)}; at the rig's own limits "
            f"{duration(found.time_at_rig_limits_s)}."
        )
    at = ", ".join(f"{celsius:g} °C" for celsius in found.temperatures_c) or "no temperature"
    yield (
        f"Flow: {found.flow.mean_mm3_s:.1f} mm³/s in the mean, 99 % of the time under "
        f"{found.flow.p99_mm3_s:.1f}; commanded: {at}."
    )
    yield from _describe_parts(found)
    if found.mass_g is not None:
        yield f"It weighs {found.mass_g:.1f} g."
    if found.heater_w is not None and found.heater_max_w is not None:
        yield (
            f"Melting takes {found.heater_w:.1f} W in the mean and {found.heater_max_w:.1f} W at "
            "the highest flow; standing losses come on top."
        )
    yield _flow_table(found)
    if found.features:
        yield Table.of(
            "Features, by the comments of the file", found.features,
            {"feature": "name", "seconds": "time_s", "filament mm": "filament_mm",
             "mean mm³/s": "flow_mm3_s", "highest": "max_mm3_s", "over, s": "over_s"},
        )  # fmt: skip
    yield Table(
        "What holds it back",
        ("limit", "seconds"),
        [(name, round(s, 1)) for name, s in found.held_back_s.items() if s >= 0.05],
    )
    yield Table.of(
        "Limits in force", found.limits,
        {"limit": "name", "value": "value", "unit": "unit", "from": "origin"},
    )  # fmt: skip
    if found.stretches:
        worst = sorted(found.stretches, key=lambda s: (-s.missing_mm3, s.start_s))[:STRETCHES]
        yield Table.of(
            "Stretches over the ceiling, most missing first",
            worst,
            {
                "kind": "kind", "shows": lambda s: s.shows or "not known",
                "missing mm³": "missing_mm3", "line": "line", "layer": "layer",
                "z mm": lambda s: s.at_mm[2], "seconds": "asked_s", "wanted mm³/s": "asked_mm3_s",
                "ceiling": "ceiling_mm3_s",
                "loss %": lambda s: None if s.loss is None else s.loss * 100,
            },
        )  # fmt: skip
        if left := found.sustained + found.bursts - len(worst):
            yield f"{left} more are left out; the JSON has up to 500."
        if found.melt_zone_mm3 is None:
            yield (
                "Whether they show is not known: record hot_end.bore_mm and hot_end.melt_zone_mm, "
                "what the melt zone holds."
            )
    if found.uniform_speed_share is not None and found.uniform_speed_share < 1:
        yield f"Uniform speed that stays under it: {percent(found.uniform_speed_share, 0)}."
    if found.lowest_temperature_c is not None:
        yield (
            f"Lowest temperature at which it needs no change: {found.lowest_temperature_c:.0f} °C."
        )


def _describe_parts(found: Replay) -> Iterator[str]:
    """Waits, the maker's own estimate, layers, tools, and what is set apart."""
    if found.waits:
        yield found.waits_sentence
    if found.remaining_marks is not None:
        yield found.remaining_marks.sentence
    if found.shortest_layer is not None:
        yield f"{found.shortest_layer_sentence}."
    if len(found.tools) > 1:
        amounts = ", ".join(f"T{one.tool} {one.filament_mm / 1000:.2f} m" for one in found.tools)
        yield f"Filament by tool: {amounts}."
    if found.priming.moves:
        yield found.priming.sentence


def _flow_table(found: Replay) -> Table:
    """Time at each flow in a few rows, and where the lowest ceiling lies."""
    histogram = found.flow_histogram.merged(BINS)
    total, width = sum(histogram.time_s) or 1.0, histogram.width_mm3_s
    tops = [one.flow_mm3_s for one in found.ceilings if one.flow_mm3_s is not None]
    lowest = min(tops, default=None)
    rows: list[tuple[object, ...]] = []
    for n, seconds in enumerate(histogram.time_s):
        low, high = n * width, (n + 1) * width
        row = (f"{low:g} to {high:g}", round(seconds, 1), round(100 * seconds / total, 1))
        if lowest is None:
            rows += [row] if seconds else []
        elif seconds or low < lowest <= high:
            side = "in it" if low < lowest <= high else "over" if low >= lowest else "under"
            rows.append((*row, side))
    head = ("mm³/s", "seconds", "%", *(() if lowest is None else (f"ceiling {lowest:.1f}",)))
    return Table("Time at each flow", head, rows)


def _describe_file(summary: GcodeSummary) -> Iterator[str]:
    """Unrecognised commands, problems, and other ways to read the file."""
    for word in summary.unknown_words[:10]:
        found_at = "once, in" if word.count == 1 else f"{word.count} times, first in"
        yield f"Unrecognised: {word.word}, {found_at} line {word.lines[0]}"
    for problem in summary.problems[:10]:
        yield f"Problem: {problem}"
    for reading in summary.readings:
        if reading.taken or reading.why:
            yield f"Reading: {reading.what}"
            continue
        yield (
            f"Read otherwise ({reading.what}) its filament changes by {percent(reading.change, 1)}."
        )


def describe_comparison(found: WhatIf) -> Iterator[str | Table]:
    """The finding, then the seconds of both rigs by what holds the print back."""
    first, second = found.baseline, found.candidate
    yield found.sentence
    shares = [(on.share_written_s, on.share_s, on.share_fastest_s) for on in (first, second)]
    yield Table(
        "Seconds by what holds it back",
        ("limit", *(f"{on.rig}, {way}" for way in WAYS for on in (first, second))),
        [
            (name, *(round(share[name]) for pair in zip(*shares, strict=True) for share in pair))
            for name in first.share_s
        ],
    )  # fmt: skip


def describe_survey(done: SurveyRun) -> Iterator[str | Table]:
    """How many prints are over, for how long, and the worst of them."""
    yield done.sentence
    if done.summary.worst:
        yield Table.of(
            "The worst prints", done.summary.worst,
            {"print": "name", "shows": lambda one: one.shows or "not known",
             "over, s": "over_ceiling_s", "time, s": "time_s", "beyond, mm³": "missing_mm3",
             "highest mm³/s": "max_mm3_s"},
        )  # fmt: skip
    known = f"{count(done.prints, 'print')}, {done.resumed} of them known before"
    yield f"{known}, {done.broken} broken: {done.out}"


def describe_two_files(found: TwoFiles) -> Iterator[str | Table]:
    """The finding, then every figure of both."""
    yield found.sentence
    yield Table.of(
        "Both files", found.pairs,
        {"": "what", "unit": "unit", found.names[0]: "first", found.names[1]: "second"},
    )  # fmt: skip
