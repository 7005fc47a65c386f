"""What a program asks of a rig, held against its limits: the worst of each kind is remembered."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from beadworth.core import Problem
from beadworth.gcode.limits import Limits

Array = NDArray[np.float64]


class LimitCheck:
    """Gathers what is asked beyond the limits; nothing is raised while a program is built."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self._problems: dict[str, tuple[float, Problem]] = {}
        self._run: tuple[float, float] | None = None

    @property
    def problems(self) -> list[Problem]:
        """What was asked beyond the limits so far, the worst of each kind."""
        self.end_run()
        return [problem for _, problem in self._problems.values()]

    def path(self, points: Array, speed_mm_s: Array) -> None:
        """Places against the build volume, and the fastest run of each axis against its own."""
        for axis, lowest, highest, top, speed, fastest in zip(
            "xyz",
            points.min(axis=0).tolist(),
            points.max(axis=0).tolist(),
            self.limits.volume_mm,
            speed_mm_s.tolist(),
            self.limits.speed_mm_s,
            strict=True,
        ):
            worst = lowest if -lowest > highest - top else highest
            if not 0.0 <= worst <= top:
                self.refuse(
                    f"volume {axis}",
                    max(-worst, worst - top),
                    f"a move to {axis} {worst:g} mm leaves the build volume (0 to {top:g} mm).",
                    f"build_volume.{axis}_mm",
                )
            if speed > fastest * (1 + 1e-9):
                self.refuse(
                    f"speed {axis}",
                    speed,
                    f"a move runs {axis} at {speed:.1f} mm/s; the axis reaches {fastest:g} mm/s.",
                    f"motion.max_speed_mm_s.{axis}",
                )

    def feed(self, feed_mm_s: float) -> None:
        """Filament against the fastest the extruder turns."""
        top = self.limits.feed_mm_s
        if top is not None and feed_mm_s > top * (1 + 1e-9):
            flow = feed_mm_s * self.limits.section_mm2
            self.refuse(
                "feed",
                feed_mm_s,
                f"filament at {feed_mm_s:.2f} mm/s ({flow:.1f} mm³/s) is faster than the extruder "
                f"turns ({top:g} mm/s).",
                "extruder.max_feed_mm_s",
                "Lower the flow.",
            )

    def add_run(self, e: float, rate: float) -> None:
        """Gather moves that feed at one rate: together they must be long enough to reach it."""
        if self._run and math.isclose(self._run[1], rate, rel_tol=0.01):
            self._run = (self._run[0] + e, max(rate, self._run[1]))
        else:
            self.end_run()
            self._run = (e, rate)

    def end_run(self) -> None:
        """The feeding stops or changes its rate: was the stretch long enough to reach it?"""
        run, self._run = self._run, None
        top = self.limits.extruder_acceleration_mm_s2
        if run is None or top is None:
            return
        length, rate = run
        if rate * rate / top > length:
            self.refuse(
                "run-up",
                rate * rate / top - length,
                f"{length:.2f} mm of filament is too short to reach {rate:.1f} mm/s and stop "
                f"again at {top:g} mm/s².",
                "extruder.max_acceleration_mm_s2",
                "Lower the flow or lengthen the extrusion.",
            )

    def refuse(self, kind: str, by: float, what: str, field: str, remedy: str = "") -> None:
        """Remember the worst problem of each kind."""
        if kind not in self._problems or self._problems[kind][0] < by:
            where = f"rig {self.limits.rig}, {field}"
            self._problems[kind] = (by, Problem(what, where, round(by, 6), remedy))
