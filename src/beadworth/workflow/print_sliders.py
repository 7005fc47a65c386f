"""What the sliders of a print's page start from, and what they answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from beadworth.core import InputError
from beadworth.text import parse_number

if TYPE_CHECKING:
    from beadworth.replay import Otherwise, Replay
    from beadworth.store import PrintShelf, StoredPrint
    from beadworth.workflow.prints import ReplayInputs

ACCELERATIONS: Final = (500.0, 20_000.0)
SHARES: Final = (50.0, 200.0)


@dataclass(frozen=True)
class Sliders:
    """Where the sliders stand while nothing is changed, and how far they go."""

    acceleration_mm_s2: float
    temperature_c: float | None
    """None where fewer than two temperatures were weighed."""
    lowest_c: float
    highest_c: float


def sliders(found: Replay, inputs: ReplayInputs) -> Sliders:
    """The sliders of a replay."""
    from beadworth.motion import Limits

    acceleration = float(Limits.from_rig(inputs.rig, "own").table[0, 0])
    weighed = found.weighed_c
    if len(weighed) < 2:
        return Sliders(_within(acceleration, *ACCELERATIONS), None, 0.0, 0.0)
    low, high = weighed[0], weighed[-1]
    at = max(found.temperatures_c, default=low)
    return Sliders(_within(acceleration, *ACCELERATIONS), _within(at, low, high), low, high)


def move_sliders(
    shelf: PrintShelf,
    stored: StoredPrint,
    inputs: ReplayInputs,
    start: Sliders,
    typed: Mapping[str, str],
) -> Otherwise:
    """Replay a print as the sliders stand; one that stands where it started changes nothing.

    Raises
    ------
    InputError
        A value that is no number.
    """
    from beadworth.replay import Change, replay_otherwise

    def value(name: str, start: float, low: float, high: float) -> float:
        text = typed.get(name, "")
        if not text:
            return start
        number = parse_number(text)
        if number is None:
            raise InputError("this is no number.", name, text, "Give a number.")
        return _within(number, low, high)

    a = value("acceleration", start.acceleration_mm_s2, *ACCELERATIONS)
    share = value("ceiling", 100.0, *SHARES)
    celsius = start.temperature_c
    if celsius is not None:
        celsius = value("temperature", celsius, start.lowest_c, start.highest_c)
    change = Change(
        None if a == start.acceleration_mm_s2 else a,
        None if celsius == start.temperature_c else celsius,
        share / 100.0,
    )
    return replay_otherwise(
        shelf.file(stored), inputs.rig, inputs.fit, change, **inputs.group,
        material=inputs.material, name=stored.name,
    )  # fmt: skip


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)
