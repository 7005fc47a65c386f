"""What would lie without showing: checks that a trace brings with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.ramp.noise import Noise
from beadworth.ramp.placing import Placed
from beadworth.ramp.record import PAUSE_S, RAISE_AFTER_S, Kind, Step
from beadworth.ramp.spool import Deliveries
from beadworth.ramp.trace import Seconds, Trace
from beadworth.text import percent, signed, signed_percent

Array = NDArray[np.float64]
Verdict = Literal["passed", "failed", "not done"]

SURE = 3.3
"""Standard deviations at which a check fails: one in a thousand by chance."""
LEAST_SLOW, LEAST_FAST, SURE_SLOW = 0.68, 0.88, 2.6
"""A stretch that shows less than this of what was fed fails, where it is so sure.

A balance may drift by 1 mg a minute: that is a ninth of what rises in the slow stretch.
"""
SETTLED_S = 15.0
"""Into the slow stretch, when it rises evenly."""
MOST_STEP_MG = 20.0
"""A step when the nozzle rises, beside what hangs."""
MOST_ZERO_SHARE = 0.004
"""The empty balance may read so much of the whole mass differently afterwards."""
MOST_WARM_UP = 0.03
MOST_APART = 0.04
"""Up against down, the delay taken off: mean of all bins."""
CUP_G = 1.0
"""A fall of the reading by more than this is a cup lifted off."""


@dataclass(frozen=True)
class Check:
    """One check, what it found and what to do."""

    name: str
    verdict: Verdict
    found: str
    remedy: str = ""


def failed_checks(checks: Sequence[Check]) -> tuple[str, ...]:
    """Names of the checks that failed; readings of a trace that fails one are not to be used."""
    return tuple(check.name for check in checks if check.verdict == "failed")


def use_words(checks: Sequence[Check]) -> str:
    """Whether readings with these checks are used, in a few words."""
    failed = ", ".join(failed_checks(checks))
    return f"kept but not used: {failed} failed" if failed else "used"


def checks_of(
    trace: Trace,
    seconds: Seconds,
    placed: Sequence[Placed],
    noise: Noise,
    deliveries: Deliveries,
    low_mg_per_mm3: float,
) -> tuple[Check, ...]:
    """All checks of a trace.

    Parameters
    ----------
    trace : Trace
    seconds : Seconds
        Means of that trace.
    placed : sequence of Placed
    noise : Noise
    deliveries : Deliveries
    low_mg_per_mm3 : float
        Delivered for each volume at the lowest flows: what slow stretches are held against.
    """
    level = _Level(seconds.time_s, seconds.mass_mg, noise)
    return (
        _slow(level, placed, low_mg_per_mm3),
        _raised(level, placed),
        _lifted(trace, placed, noise),
        _warmed(level, placed, deliveries.wander),
        _apart(deliveries),
    )


@dataclass(frozen=True)
class _Level:
    time: Array
    mass: Array
    noise: Noise

    def mean(self, start_s: float, end_s: float) -> float:
        """Median mass between two times, mg; nan where nothing was read."""
        there = (self.time >= start_s) & (self.time < end_s)
        return float(np.median(self.mass[there])) if there.any() else float("nan")

    def gained(self, place: Placed, step: Step) -> float:
        """Mass from the end of the pause before a stretch to the end of the pause after it."""
        start, end = place.start_s + step.start_s, place.start_s + step.end_s
        return self.mean(end + PAUSE_S / 2, end + PAUSE_S) - self.mean(start - PAUSE_S / 2, start)

    def rise(self, place: Placed, step: Step) -> tuple[float, float]:
        """Straight rise of the mass in a slow stretch, mg/s, and its standard uncertainty.

        The line sees what sways on the way, not what hangs at its two ends, and leaves out what
        drops: a balance that tracks now and then shows sooner than in the mass gained.
        """
        start, end = place.start_s + step.start_s + SETTLED_S, place.start_s + step.end_s
        there = (self.time >= start) & (self.time < end)
        t, m = self.time[there], self.mass[there]
        if t.size < 10:
            return float("nan"), float("inf")
        good = np.ones(t.size, dtype=bool)
        for _ in range(2):
            slope, level = np.polyfit(t[good], m[good], 1)
            off = m - slope * t - level
            good = np.abs(off) <= 4 * 1.4826 * np.median(np.abs(off)) + 1e-9
        # readings alike for hang_s seconds are so many fewer
        alike = max(1.0, 2 * self.noise.hang_s)
        spread = float(np.std(off[good]))
        return float(slope), spread * float(np.sqrt(12.0 * alike / t.size)) / float(t[-1] - t[0])

    @property
    def u_gained(self) -> float:
        """Standard uncertainty of such a gain: what hangs before and after."""
        return float(np.hypot(np.sqrt(2.0) * self.noise.hang_mg, 2.0))


def _step(place: Placed, kind: Kind) -> Step | None:
    return next((s for s in place.section.steps if s.kind == kind), None)


def _slow(level: _Level, placed: Sequence[Placed], low: float) -> Check:
    name = "slow and fast"
    remedy = (
        "The balance takes a slow rise for a drifting zero. Switch its zero tracking off, put more "
        "on it beforehand and never tare; then run the ramp again."
    )
    place = placed[0]
    slow, fast = _step(place, "slow"), _step(place, "fast")
    if slow is None or fast is None:
        return Check(name, "not done", "this ramp has no slow stretch.",
                     "A balance that tracks its zero would not be noticed.")  # fmt: skip
    shares, sure = [], False
    for step, least, (rise, u) in (
        (slow, LEAST_SLOW, level.rise(place, slow)),
        (fast, LEAST_FAST, (level.gained(place, fast) / fast.seconds,
                            level.u_gained / fast.seconds)),
    ):  # fmt: skip
        expected = low * step.flow_mm3_s
        shares.append(rise / expected)
        sure = sure or (rise < least * expected and expected - rise > SURE_SLOW * u)
    words = (
        f"at {slow.flow_mm3_s:g} mm³/s the mass rose by {percent(shares[0], 0)} of what the ramp's "
        f"lowest flows say ({percent(LEAST_SLOW, 0)} are the least taken), at "
        f"{fast.flow_mm3_s:g} mm³/s by {percent(shares[1], 0)} ({percent(LEAST_FAST, 0)})."
    )
    return Check(name, "failed", words, remedy) if sure else Check(name, "passed", words)


def _raised(level: _Level, placed: Sequence[Placed]) -> Check:
    name = "nozzle raised"
    limit = MOST_STEP_MG + SURE * np.sqrt(2.0) * level.noise.hang_mg
    steps = []
    for place in placed:
        rises = []
        for cycle in place.section.cycles:
            end = place.start_s + cycle[-1].end_s
            # the flow's own lateness is not the nozzle's: looked for about the time it rose
            rises.append(
                np.array(
                    [
                        level.mean(c + 2, c + 5) - level.mean(c - 3, c)
                        for c in end + RAISE_AFTER_S + np.arange(-6.0, 2.0)
                    ]
                )
            )
        if rises:
            apart = rises[0] - (rises[1] if len(rises) > 1 else 0.0)
            steps.append((place.section.temperature_c, float(apart[np.abs(apart).argmax()])))
    if not steps:
        return Check(name, "not done", "the nozzle was not raised.")
    worst = max(steps, key=lambda s: abs(s[1]))
    words = (
        f"when the nozzle rose, the reading stepped by {signed(worst[1], 0)} mg at most "
        f"(at {worst[0]:g} °C; {limit:.0f} mg are taken)."
    )
    if abs(worst[1]) <= limit:
        return Check(name, "passed", words)
    return Check(name, "failed", words, "The pile reached the nozzle and was held by it. Use a "
                 "wider or lower cup, or start higher; then run the ramp again.")  # fmt: skip


def _lifted(trace: Trace, placed: Sequence[Placed], noise: Noise) -> Check:
    name = "cup lifted off and on"
    start, end = placed[0].start_s, placed[-1].start_s + placed[-1].section.seconds
    time, mass = trace.time_s, trace.mass_g
    before, after = _lift(time, mass, time < start), _lift(time, mass, time > end)
    if before is None or after is None:
        return Check(name, "not done", "the cup was not lifted off and put back before and after.",
                     "Do so next time: it shows a balance whose zero wanders, and a cup that "
                     "touches something.")  # fmt: skip
    total = after.on_g - before.on_g
    moved = after.off_g - before.off_g
    back = max((before.back_g, after.back_g), key=abs)
    limit = 0.03 + 4e-3 * noise.hang_mg
    words = (
        f"the empty balance read {signed(1000 * moved, 0)} mg differently afterwards "
        f"({percent(abs(moved) / max(total, 1e-9), 2)} of {total:.1f} g), and the cup came back to "
        f"within {1000 * abs(back):.0f} mg."
    )
    if abs(moved) > MOST_ZERO_SHARE * total + 0.02:
        return Check(name, "failed", words, "The zero moved while the ramp ran: the balance tracks "
                     "it, or it warms up or is in a draught. Switch zero tracking off, let the "
                     "balance warm up, then run the ramp again.")  # fmt: skip
    if abs(back) > limit:
        return Check(name, "failed", words, "The cup did not come back to its mass: something "
                     "touches it. Clear the nozzle, cables and strands; then run the ramp "
                     "again.")  # fmt: skip
    return Check(name, "passed", words)


@dataclass(frozen=True)
class _Lift:
    off_g: float
    on_g: float
    back_g: float


def _lift(time: Array, mass: Array, there: NDArray[np.bool_]) -> _Lift | None:
    """Readings of the empty balance and of the cup, where it was lifted off and put back."""
    t, m = time[there], mass[there]
    if t.size < 20:
        return None
    level = float(np.median(m))
    off = m < level - CUP_G
    if off.sum() < 5 or off[0] or off[-1]:
        return None
    first, last = int(off.argmax()), off.size - 1 - int(off[::-1].argmax())
    inside = (t > t[first] + 1.5) & (t < t[last] - 1.5) & off
    left = (t < t[first] - 1.5) & (t > t[first] - 12.0)
    right = (t > t[last] + 2.5) & (t < t[last] + 13.0)
    if not (inside.any() and left.any() and right.any()):
        return None
    on, again = float(np.median(m[left])), float(np.median(m[right]))
    return _Lift(float(np.median(m[inside])), 0.5 * (on + again), again - on)


def _warmed(level: _Level, placed: Sequence[Placed], wander: float) -> Check:
    name = "first flow repeated last"
    worst = None
    for place in placed:
        first, last = _step(place, "reference"), _step(place, "repeat")
        if first is None or last is None:
            continue
        start = place.start_s + first.start_s
        gain = level.mean(start + first.seconds + PAUSE_S / 2, start + first.seconds + PAUSE_S)
        gain -= level.mean(start - PAUSE_S / 2, start - 1.0)
        early, late = gain / first.volume_mm3, level.gained(place, last) / last.volume_mm3
        apart = late / early - 1.0
        u = float(np.hypot(level.u_gained / (early * first.volume_mm3),
                           level.u_gained / (late * last.volume_mm3)))  # fmt: skip
        u = float(np.hypot(u, 1.4 * wander))
        if worst is None or abs(apart) / u > abs(worst[1]) / worst[2]:
            worst = (place.section.temperature_c, apart, u)
    if worst is None or not np.isfinite(worst[1]):
        return Check(name, "not done", "the lowest flow was not repeated.")
    words = (
        f"at {worst[0]:g} °C the lowest flow delivered {signed_percent(worst[1])} at the end "
        f"against the beginning (± {percent(2 * worst[2])})."
    )
    if abs(worst[1]) > max(MOST_WARM_UP, SURE * worst[2]):
        return Check(name, "failed", words, "Delivery moved while the ramp ran: a heater or drive "
                     "that warms up, or a spool that binds. Let it soak longer and run the ramp "
                     "again.")  # fmt: skip
    return Check(name, "passed", words)


def _apart(deliveries: Deliveries) -> Check:
    name = "up against down"
    worst = (0.0, 0.0)
    for t in np.unique(deliveries.temperature_c):
        at = deliveries.temperature_c == t
        mean = float(deliveries.left_over[at].mean())
        if abs(mean) > abs(worst[1]):
            worst = (float(t), mean)
    words = (
        f"at {worst[0]:g} °C the flows upwards delivered {signed_percent(2 * worst[1])} against "
        f"the same flows downwards, the delay taken off ({percent(2 * MOST_APART, 0)} are taken)."
    )
    if abs(worst[1]) > MOST_APART:
        return Check(name, "failed", words, "The hot end did not follow the ramp. Ramp more slowly "
                     "(longer legs), or look for a heater that cannot keep up.")  # fmt: skip
    return Check(name, "passed", words)
