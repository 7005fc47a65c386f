"""Lines as they come: which may be used, the reading once the pan is at rest, piece after piece.

A flipped digit leaves a line of the right shape, so no line is used on its own: the line before
or the one after has to say the same, to the last digit unless the balance is known to move more
than a display step at rest.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, replace
from statistics import median_low
from typing import Final, Literal

from beadworth.trial.lines.format import LineFormat, ReadLine, read_line, split_lines

Fate = Literal["still", "moving", "flicker", "jump", "length", "characters"]
DAMAGED: Final = ("jump", "length", "characters")
AGREEING = 3
"""Lines in a row that have to agree before a reading is taken."""
REST_S = 2.0
"""How long a value stands still before it counts as stable, where lines do not say so themselves
(common practice, no source)."""
RECENT = 40
FLICKER_STEPS = 2
"""Display steps that a line may stand apart from both neighbours and be no damage: a last digit
that comes and goes. It is not used, and does not end a run either."""
ON_PAN_STEPS = 20
"""Display steps from zero above which something lies on the pan (assumption)."""


@dataclass(frozen=True)
class SeenLine:
    """A line and what became of it."""

    text: str
    fate: Fate
    count: int | None = None
    """The mass in last digits; None where the line was not of the format."""
    stable: bool | None = None
    at_s: float = 0.0


class LineFollower:
    """Judges lines one after the other.

    Parameters
    ----------
    form : LineFormat
    by_key : bool
        Whether a line comes only when a key is pressed: each then stands by itself, and nothing
        but the person who looks at the display confirms it. A line that says it is not stable is
        no reading.

    Attributes
    ----------
    fates : Counter
        How many lines were used (``still``), passed over (``moving``, ``flicker``), or dropped as
        damaged: ``jump``, ``length``, ``characters``.
    """

    def __init__(self, form: LineFormat, by_key: bool = False) -> None:
        self.form, self.by_key = form, by_key
        self.fates: Counter[Fate] = Counter()
        self._rest = b""
        self._before: int | None = None
        self._waiting: SeenLine | None = None
        self._run: deque[SeenLine] = deque(maxlen=2 * RECENT)
        self._recent: deque[Fate] = deque(maxlen=RECENT)
        self._latest: SeenLine | None = None
        self._odd = 0
        self.rests = 0
        """How often the pan came to rest: a reading of the same number is of the same piece."""

    def restart(self) -> None:
        """Forget the reading, as after a break; counts stay."""
        self._rest, self._before, self._waiting, self._latest = b"", None, None, None
        self._run.clear()

    def feed(self, data: bytes, at_s: float) -> list[SeenLine]:
        """Take what came; the lines that are decided now, in order.

        A line of the format is decided once the next one has come.

        Parameters
        ----------
        data : bytes
            Whole lines or parts of them.
        at_s : float
            When, in seconds of any clock that does not go back.
        """
        lines, self._rest = split_lines(self._rest + data)
        return [seen for line in lines for seen in self.line(line, at_s)]

    def line(self, text: str, at_s: float) -> list[SeenLine]:
        """Take one whole line; see :meth:`feed`."""
        read = read_line(self.form, text)
        if not isinstance(read, ReadLine):
            return [self._count(SeenLine(text, read, at_s=at_s))]
        now = SeenLine(text, "moving", read.count, read.stable, at_s)
        if self.by_key:
            return [self._alone(now)]
        decided = []
        if self._waiting is not None and self._waiting.count is not None:
            decided.append(self._decide(self._waiting, self._before, read.count))
            if decided[0].fate != "jump":
                self._before = self._waiting.count
        self._waiting = now
        return decided

    def _alone(self, line: SeenLine) -> SeenLine:
        """A line that came by a key."""
        still = line.stable is not False
        seen = replace(line, fate="still" if still else "moving")
        self._latest = self._waiting = seen
        self._run.clear()
        if still:
            self.rests += 1
            self._run.append(seen)
        return self._count(seen)

    def _decide(self, line: SeenLine, before: int | None, after: int) -> SeenLine:
        assert line.count is not None
        fate = self._fate(line.count, before, after)
        seen = SeenLine(line.text, fate, line.count, line.stable, line.at_s)
        if fate != "jump":
            self._latest = seen
        self._odd = self._odd + 1 if fate == "flicker" else 0
        if fate == "still" and seen.stable is not False:
            if not self._near_run(line.count):
                self._run.clear()
            self.rests += not self._run
            self._run.append(seen)
        elif fate in ("still", "moving") or self._odd > AGREEING:
            self._run.clear()
        return self._count(seen)

    def _near_run(self, count: int) -> bool:
        near = max(2 * self.form.flicker, FLICKER_STEPS * self.form.step)
        return not self._run or abs(median_low(self._counts()) - count) <= near

    def _fate(self, count: int, before: int | None, after: int) -> Fate:
        alike = self.form.flicker if self.form.flicker > self.form.step else 0
        away = [abs(one - count) for one in (before, after) if one is not None]
        if min(away) <= alike:
            return "still"
        if max(away) <= FLICKER_STEPS * self.form.step:
            return "flicker"
        if before is not None and abs(before - after) <= max(alike, self.form.step):
            return "jump"  # those around it agree, and it stands apart
        return "moving"

    def _count(self, seen: SeenLine) -> SeenLine:
        self.fates[seen.fate] += 1
        self._recent.append(seen.fate)
        return seen

    def _counts(self) -> list[int]:
        return [seen.count for seen in list(self._run)[-5:] if seen.count is not None]

    @property
    def latest_g(self) -> float | None:
        """The newest value that is not out of place, g; also while it moves."""
        latest = self._latest
        return None if latest is None or latest.count is None else self.form.grams(latest.count)

    @property
    def unconfirmed_g(self) -> float | None:
        """The newest line's value, which no other line has confirmed yet."""
        waiting = self._waiting
        return None if waiting is None or waiting.count is None else self.form.grams(waiting.count)

    @property
    def reading_g(self) -> float | None:
        """The reading, g, while the pan is at rest; None while it is not.

        The median of the last five lines of a run of lines that agree; the newest line, though no
        other confirms it yet, must not contradict.
        """
        if self.by_key:
            return self.unconfirmed_g if self._run else None
        newest = self._waiting
        if len(self._run) < AGREEING or newest is None or newest.count is None:
            return None
        if newest.stable is False or not self._near_run(newest.count):
            return None
        if not self.form.marked and self._run[-1].at_s - self._run[0].at_s < REST_S:
            return None
        return self.form.grams(median_low(self._counts()))

    @property
    def dropped(self) -> int:
        """Lines that could not be used because they are damaged."""
        return sum(self.fates[fate] for fate in DAMAGED)

    @property
    def trouble(self) -> str:
        """What is wrong with the line, and the remedy; empty while most lines are whole."""
        recent = Counter(self._recent)
        bad = sum(recent[fate] for fate in DAMAGED)
        if len(self._recent) < 10 or bad < 0.3 * len(self._recent):
            return ""
        if recent["length"] + recent["characters"] == len(self._recent):
            return (
                f"None of the last {len(self._recent)} lines is of the format learnt: was the "
                "balance's output, unit or speed changed? Set it back, or learn the lines again."
            )
        return (
            f"{bad} of the last {len(self._recent)} lines are damaged. Push the plugs home, keep "
            "the cable away from heater and motor leads, and check the speed."
        )


class HandsFree:
    """Takes each piece once: on, at rest, off, the next."""

    def __init__(self, form: LineFormat) -> None:
        self.on_pan_g = ON_PAN_STEPS * form.step_g
        self.ready = False
        """Whether the pan was empty since the last piece."""

    def feed(self, reading_g: float | None) -> float | None:
        """The mass of a piece to take now, from :attr:`LineFollower.reading_g`; mostly None."""
        if reading_g is None:
            return None
        if abs(reading_g) < self.on_pan_g:
            self.ready = True
        elif self.ready and reading_g > 0:
            self.ready = False
            return reading_g
        return None
