"""What a bring-up found, in words and numbers with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.bringup.doubts import is_gross
from beadworth.bringup.gains import parallel
from beadworth.bringup.result import BringUpResult, Gains
from beadworth.core import coverage_factor
from beadworth.text import number, percent


@dataclass(frozen=True)
class Finding:
    """One part of a bring-up in words."""

    title: str
    advice: str
    act: bool
    """Whether something is to be done about it."""
    rows: tuple[tuple[str, str], ...]


def describe_result(result: BringUpResult) -> list[Finding]:
    """The parts a result holds, each with what to do; every ± is the 95 % one."""
    return [*_axes(result), *_feed(result), *_square(result), *_heater(result)]


def _axes(result: BringUpResult) -> list[Finding]:
    made = []
    for axis in result.axes:
        k = axis.coverage
        rows = (
            ("scale error", f"{percent(axis.scale_error, 3)} ± {percent(k * axis.u_scale, 3)}"),
            ("zero error", f"{number(axis.zero_mm, 3)} mm, u {number(axis.u_zero_mm, 2)} mm"),
            ("readings", f"{axis.readings}, scatter {number(axis.scatter_mm, 2)} mm"),
            ("set while measuring", f"{number(axis.steps_now, 6)} steps/mm"),
            (
                _steps_label(axis.scale_significant, axis.scale_error),
                f"{axis.steps_per_mm:.3f} ± {number(k * axis.u_steps_per_mm, 2)} steps/mm",
            ),
        )
        act = axis.scale_significant or axis.zero_significant or is_gross(axis.scale_error)
        made.append(Finding(f"Moves of {axis.axis}", axis.advice, act, rows))
    return made


def _steps_label(significant: bool, error: float) -> str:
    return "steps to set" if significant and not is_gross(error) else "steps it would call for"


def _feed(result: BringUpResult) -> list[Finding]:
    feed = result.feed
    if feed is None:
        return []
    k = coverage_factor(feed.result.dof)
    rows = [
        (
            f"delivered ÷ commanded, by {feed.result.method}",
            f"{feed.result.factor:.4f} ± {number(k * feed.result.u, 2)}",
        )
    ]
    if feed.en:
        rows.append(
            (
                "marks less mass",
                f"{percent(feed.difference, 2)}, Eₙ {number(feed.en, 2)} "
                f"({'they agree' if feed.agree else 'they do not agree'})",
            )
        )
    rows += [
        ("set while measuring", f"{number(feed.steps_now, 6)} steps/mm"),
        (
            _steps_label(feed.significant, feed.result.factor - 1.0),
            f"{feed.steps_per_mm:.2f} ± {number(k * feed.u_steps_per_mm, 2)} steps/mm",
        ),
    ]
    act = feed.significant or not feed.agree or is_gross(feed.result.factor - 1.0)
    return [Finding("Extruder feed", feed.advice, act, tuple(rows))]


def _square(result: BringUpResult) -> list[Finding]:
    square = result.square
    if square is None:
        return []
    k = coverage_factor()
    rows = (
        (
            "skew",
            f"{number(square.skew_mm_per_100, 3)} ± {number(k * square.u_mm_per_100, 2)} mm "
            "per 100 mm",
        ),
        ("angle between the axes", f"{square.angle_deg:.3f}°"),
    )
    return [Finding("Squareness", square.advice, square.significant, rows)]


def _heater(result: BringUpResult) -> list[Finding]:
    made = []
    if result.heater:
        h, k = result.heater, coverage_factor()
        rows = [
            ("gain", f"{number(h.gain_k)} ± {number(k * h.u_gain_k, 2)} K at full duty"),
            (
                "time constant",
                f"{number(h.time_constant_s)} ± {number(k * h.u_time_constant_s, 2)} s",
            ),
            ("dead time", f"{number(h.dead_time_s, 3)} ± {number(k * h.u_dead_time_s, 2)} s"),
            ("first warming", f"{number(h.rate_k_s, 3)} ± {number(k * h.u_rate_k_s, 2)} K/s"),
            ("room", f"{number(h.room_c, 3)} °C"),
            ("scatter about the model", f"{number(h.scatter_k, 2)} K of {h.readings} readings"),
        ]
        notes = " ".join(h.notes) or "First order with dead time describes this log."
        made.append(Finding("Heater", notes, False, tuple(rows)))
    if result.loss:
        loss, k = result.loss, coverage_factor()
        rows = [
            (
                "standing loss",
                f"{number(loss.loss_w_k, 3)} ± {number(k * loss.u_loss_w_k, 2)} W/K",
            ),
            (
                "while held",
                f"{number(loss.power_w, 3)} W at {number(loss.temperature_c)} °C for "
                f"{number(loss.seconds, 3)} s, duty {percent(loss.duty)}",
            ),
        ]
        words = "The fit check counts it with the melt power."
        made.append(Finding("Standing loss", words, False, tuple(rows)))
    if result.heat_up:
        warm = result.heat_up
        rows = [
            ("measured", f"{number(warm.measured_k_s, 3)} K/s, u {number(warm.u_measured_k_s, 2)}"),
            (
                "what watts and block allow",
                f"{number(warm.expected_k_s, 3)} K/s, u {number(warm.u_expected_k_s, 2)}, at "
                f"{number(warm.at_c, 3)} °C",
            ),
            ("verdict", warm.verdict),
        ]
        made.append(Finding("Warming", warm.advice, warm.verdict != "fits", tuple(rows)))
    return made


@dataclass(frozen=True)
class GainsLine:
    """Starting gains by one rule, in textbook and in parallel form."""

    gains: Gains
    p: float
    i: float
    d: float


def gains_lines(gains: tuple[Gains, ...], full_output: float) -> list[GainsLine]:
    """Every rule's gains for a controller whose output runs from 0 to ``full_output``.

    Raises
    ------
    InputError
        A full output not above 0.
    """
    made = []
    for item in gains:
        three = parallel(item, full_output)
        made.append(GainsLine(item, three.p_per_k, three.i_per_k_s, three.d_s_per_k))
    return made
