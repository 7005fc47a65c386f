"""What replays and comparisons of prints say on a terminal, and a rig's side of one as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from beadworth.cli.output import print_table
from beadworth.text import percent

if TYPE_CHECKING:
    from beadworth.gcode import GcodeSummary
    from beadworth.replay import OnRig, Replay, WhatIf


def show_replay(found: Replay) -> None:
    """The verdict first, then what the print asks for, and how its file was read."""
    typer.echo(found.verdict)
    if found.summary.moves:
        _show_print(found)
    _show_reading(found.summary)
    for note in found.notes:
        typer.echo(f"Note: {note}")


def _show_print(found: Replay) -> None:
    """Moves, flow, what holds it back, and where it is over the ceiling."""
    from beadworth.replay import duration

    summary = found.summary
    layers = "continuous" if summary.layers is None else summary.layers
    typer.echo(
        f"{summary.moves} moves, {layers} layers, "
        f"{summary.filament_net_mm / 1000:.2f} m of filament; at commanded speed all the way "
        f"{duration(found.commanded_s)}."
    )
    at = ", ".join(f"{celsius:g} °C" for celsius in found.temperatures_c) or "no temperature"
    typer.echo(
        f"Flow: {found.flow.mean_mm3_s:.1f} mm³/s in the mean, 99 % of the time under "
        f"{found.flow.p99_mm3_s:.1f}; commanded: {at}."
    )
    if found.mass_g is not None:
        typer.echo(f"It weighs {found.mass_g:.1f} g.")
    if found.heater_w is not None and found.heater_max_w is not None:
        typer.echo(
            f"Melting takes {found.heater_w:.1f} W in the mean and {found.heater_max_w:.1f} W at "
            "the highest flow; standing losses come on top."
        )
    print_table(
        "What holds it back",
        ("limit", "seconds"),
        [(name, round(s, 1)) for name, s in found.held_back_s.items() if s >= 0.05],
    )
    if found.stretches:
        print_table(
            "Stretches over the ceiling",
            ("kind", "line", "layer", "z mm", "seconds", "asked mm³/s", "ceiling", "loss %"),
            [
                (
                    s.kind,
                    s.line,
                    s.layer,
                    s.at_mm[2],
                    s.asked_s,
                    s.asked_mm3_s,
                    s.ceiling_mm3_s,
                    s.loss * 100 if s.loss is not None else None,
                )
                for s in found.stretches[:20]
            ],
        )
    if found.speed_factor is not None and found.speed_factor < 1:
        typer.echo(f"Uniform speed that stays under it: {percent(found.speed_factor, 0)}.")
    if found.lowest_temperature_c is not None:
        typer.echo(
            f"Lowest temperature at which it needs no change: {found.lowest_temperature_c:.0f} °C."
        )


def _show_reading(summary: GcodeSummary) -> None:
    """Words nobody knows, problems, and other ways to read the file."""
    for word in summary.unknown_words[:10]:
        count = "once, in" if word.count == 1 else f"{word.count} times, first in"
        typer.echo(f"Unknown: {word.word}, {count} line {word.lines[0]}")
    for problem in summary.problems[:10]:
        typer.echo(f"Problem: {problem}")
    for reading in summary.readings:
        typer.echo(
            f"Read otherwise ({reading.what}) its filament changes by {percent(reading.change, 1)}."
        )


def show_comparison(found: WhatIf) -> None:
    """The finding, then the seconds of both rigs by what holds the print back."""
    first, second = found.baseline.rig, found.candidate.rig
    typer.echo(found.sentence)
    print_table(
        "Seconds by what holds it back",
        ("limit", f"{first}, as written", f"{second}, as written",
         f"{first}, fastest", f"{second}, fastest"),
        [
            (
                name,
                round(found.baseline.share_s[name]),
                round(found.candidate.share_s[name]),
                round(found.baseline.share_fastest_s[name]),
                round(found.candidate.share_fastest_s[name]),
            )
            for name in found.baseline.share_s
        ],
    )  # fmt: skip


def on_rig_json(found: OnRig) -> dict[str, Any]:
    """One rig's side of a comparison."""
    return {
        "rig": found.rig,
        "time_as_commanded_s": found.as_commanded.time_s,
        "time_under_ceiling_s": found.under_ceiling.time_s,
        "time_fastest_s": found.fastest.time_s,
        "share_s": found.share_s,
        "share_fastest_s": found.share_fastest_s,
    }
