"""An accelerometer's record: its spectra, the ripple of its modes, what command filters leave."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    Channel,
    dashes,
    narrow,
    per_cent_axis,
    quantity,
    series,
    six_figures,
)
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import line, rule
from beadworth.text import count, fixed, percent

if TYPE_CHECKING:
    from beadworth.cause import ModeFound, Vibration

LOWEST_HZ, HIGHEST_HZ = 5.0, 250.0
FINE = 81
"""Points of a curve."""


def shaking_chart(found: Vibration) -> Chart:
    """Power spectral density of each axis by frequency, its modes marked."""
    modes = [mode for axis in found.axes for mode in axis.modes]
    names = [axis.axis for axis in found.axes]

    def draw(width_px: float) -> Spec:
        rows: list[Row] = []
        for place, axis in enumerate(found.axes):
            near = (axis.frequencies_hz >= LOWEST_HZ) & (axis.frequencies_hz <= HIGHEST_HZ)
            rows += [
                {"part": "density", "axis": axis.axis, "place": place, "hertz": six_figures(f),
                 "density": six_figures(max(v, 1e-12))}
                for f, v in zip(axis.frequencies_hz[near], axis.density[near], strict=True)
            ]  # fmt: skip
        rows += [{"part": "mode", "axis": m.axis, "hertz": six_figures(m.hertz.value)}
                 for m in modes]  # fmt: skip
        last = max((float(r["hertz"]) for r in rows), default=HIGHEST_HZ)
        x = quantity("hertz", "frequency, Hz", (LOWEST_HZ, last))
        y: Channel = quantity("density", "density, (m/s²)²/Hz")
        y |= {"scale": {"type": "log"}, "axis": {"format": ".0e", "tickCount": 5}}
        color = series("axis", names, title="axis") if len(names) > 1 else series("axis", names)
        return plot(
            rows,
            rule("mode", x=x, strokeDash=[2, 3], style="note"),
            line("density", x=x, y=y, color=color, strokeDash=dashes(len(names))),
            width=plot_px(width_px),
            height=260,
        )

    told = "; ".join(f"{m.axis} at {fixed(m.hertz.value, 1)} Hz" for m in modes)
    return Chart(
        name="shaking",
        title=f"{count(len(modes), 'mode')}: {told}" if modes else "No mode stands out",
        caption="Welch's averages of overlapping windows. Dotted: the modes that were fitted.",
        alt=f"Power spectral density of {', '.join(names)} from {LOWEST_HZ:g} Hz upwards; "
        f"{count(len(modes), 'mode')} marked{': ' + told if told else ''}.",
        spec=draw,
    )


def filters_chart(mode: ModeFound) -> Chart:
    """What each command filter leaves of a mode, over the error of its frequency."""
    worst = {one.filter: max(one.left) for one in mode.filters}
    names = [one.filter for one in mode.filters]

    def draw(width_px: float) -> Spec:
        from beadworth.cause import filters_left

        errors = np.linspace(-0.2, 0.2, FINE)
        left = filters_left(mode.hertz.value, mode.damping.value, errors)
        rows = [
            {"filter": name, "place": place, "error": six_figures(e), "left": six_figures(v)}
            for place, (name, values) in enumerate(left.items())
            for e, v in zip(errors, values, strict=True)
        ]
        return plot(
            rows,
            line(strokeDash=dashes(len(names)), color=_legend("filter", names, width_px)),
            width=plot_px(width_px),
            height=230,
            x=quantity("error", "error of the frequency", (-0.2, 0.2), **per_cent_axis("+~%")),
            y=quantity("left", "left of the vibration", (0.0, 1.05), **per_cent_axis("~%")),
        )

    return Chart(
        name=f"filters-{mode.axis}-{fixed(mode.hertz.value, 0)}",
        title=f"What command filters leave of {fixed(mode.hertz.value, 1)} Hz",
        caption="Filters of two and three impulses, and three that allow 5 % and reach further: "
        "designed for the mode as found, by how far the true frequency is off.",
        alt=f"Share of the vibration at {fixed(mode.hertz.value, 1)} Hz that each command filter "
        "leaves for errors of its frequency from -20 to 20 %; the most: "
        + ", ".join(f"{name} {percent(value, 0)}" for name, value in worst.items()) + ".",
        spec=draw,
    )  # fmt: skip


def _legend(of: str, order: Sequence[str], width_px: float) -> Channel:
    return series(of, order, title=of, columns=2 if narrow(width_px) else 4)


def ripple_chart(modes: tuple[ModeFound, ...]) -> Chart:
    """The most that any change of speed leaves, over acceleration, a line a mode."""
    names = [f"{m.axis}, {fixed(m.hertz.value, 1)} Hz" for m in modes]

    def draw(width_px: float) -> Spec:
        from beadworth.cause import worst_ripple_mm

        top = max((r.acceleration_mm_s2 for m in modes for r in m.ripples), default=1000.0)
        a = np.linspace(0.02 * top, top, 30)
        rows = [
            {"mode": name, "place": place, "acceleration": six_figures(x), "um": six_figures(y)}
            for place, (name, m) in enumerate(zip(names, modes, strict=True))
            for x, y in zip(
                a, 1e3 * worst_ripple_mm(a, m.hertz.value, m.damping.value), strict=True
            )
        ]
        return plot(
            rows,
            line(strokeDash=dashes(len(names)), color=_legend("mode", names, width_px)),
            width=plot_px(width_px),
            height=230,
            x=quantity("acceleration", "acceleration, mm/s²", (0.0, top)),
            y=quantity("um", "ripple at most, µm"),
        )

    return Chart(
        name="ripple",
        title="Ripple grows with acceleration and falls with the square of the frequency",
        caption="Worst case: a change of speed whose two ends add up. Half the height of the wave.",
        alt="Most ripple that a change of speed leaves, over acceleration: "
        + "; ".join(
            f"{name}, {fixed(m.ripples[-1].worst_um, 0)} µm at "
            f"{m.ripples[-1].acceleration_mm_s2:g} mm/s²"
            for name, m in zip(names, modes, strict=True)
        ) + ".",
        spec=draw,
    )  # fmt: skip
