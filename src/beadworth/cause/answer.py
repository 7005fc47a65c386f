"""What walls say, whole: ranked causes with period and size, what they cannot tell, what would."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from beadworth.cause.advise import (
    CannotTell,
    Question,
    answered,
    cannot_tell,
    deciding_tests,
    questions,
)
from beadworth.cause.finding import (
    Interval,
    brightness_amplitude,
    period_interval,
    ringing_intervals,
    ringing_shown,
    size_um,
)
from beadworth.cause.gauge import GaugeRow, check_gauge, gauge_size_um, with_gauge
from beadworth.cause.ranking import NOTHING, OTHER, RINGING, Ranking, rank
from beadworth.cause.second import second_cause
from beadworth.cause.sources import Kind, Source
from beadworth.cause.trying import Reading
from beadworth.core import FitError
from beadworth.text import percent

SURE: Final = 0.8
"""From this probability a cause is called most likely; below it the answer is 'cannot tell'."""
LEAST_SECOND: Final = 0.5
LEAST_SAID: Final = 0.02
"""Causes less probable have no period and no size reckoned."""
UNITS: Final[dict[Kind, str]] = {
    "place": "mm of travel", "filament": "mm of filament", "time": "s", "height": "mm of height",
    "ringing": "Hz",
}  # fmt: skip


@dataclass(frozen=True)
class RankedCause:
    """One cause, its probability, and what was found of it."""

    name: str
    kind: str
    """place, filament, time, height or ringing; empty for 'none of these' and nothing periodic."""
    probability: float
    unit: str
    """Of the period: ``"mm of travel"``; empty where there is none."""
    period: Interval | None
    size_um: Interval | None
    """Half the height of its wave; None where it is not reckoned, or no wall shows it."""
    measured: bool
    """Whether that was measured along the wall, not guessed from light."""
    spots: tuple[tuple[float, float] | None, ...]
    """Where its wave lies on each wall, cycles/mm and cycles/layer; None where nowhere."""


@dataclass(frozen=True)
class RingingFound:
    """Ringing after the corner, alone or beside another cause."""

    probability: float
    hertz: Interval
    damping: Interval
    size_um: Interval


@dataclass(frozen=True)
class CauseAnswer:
    """All that walls say."""

    verdict: str
    causes: tuple[RankedCause, ...]
    """The most probable first."""
    ringing: RingingFound | None
    """None where there is none (probability 0.5 or less)."""
    ringing_probability: float
    second: RankedCause | None
    """What stands beside the main cause, where a source does with 0.5 or more."""
    unseen: tuple[CannotTell, ...]
    questions: tuple[Question, ...]
    tests: tuple[Question, ...]


def cause_answer(
    readings: Sequence[Reading],
    sources: Sequence[Source],
    answers: Mapping[str, bool] | None = None,
    gauge: GaugeRow | None = None,
) -> CauseAnswer:
    """Rank the causes of a pattern and say all of it.

    Parameters
    ----------
    readings : one Reading per wall
    sources : of the rig
    answers : by the key of a question, optional
        What the person saw for nothing, or a test showed.
    gauge : GaugeRow, optional
        Measured along the first of the walls.

    Raises
    ------
    InputError
        A key that no question has; a row longer than its wall.
    """
    return answer_of_ranking(rank(readings, sources), sources, answers, gauge)


def answer_of_ranking(
    ranking: Ranking,
    sources: Sequence[Source],
    answers: Mapping[str, bool] | None = None,
    gauge: GaugeRow | None = None,
) -> CauseAnswer:
    """The same of walls that are ranked already; see :func:`cause_answer`."""
    if gauge is not None:
        check_gauge(gauge, ranking.readings[0].wall)
        ranking = with_gauge(ranking, gauge, ranking.readings[0].wall)
    ranking = answered(ranking, answers or {})
    unseen = tuple(cannot_tell(sources, ranking.readings))
    causes = tuple(_cause(name, p, ranking, gauge) for name, p in ranking.probabilities.items())
    ringing = _ringing(ranking) if ranking.ringing > 0.5 else None
    second = _second(ranking, sources, gauge)
    return CauseAnswer(
        verdict(ranking.probabilities, ringing, second), causes, ringing, ranking.ringing, second,
        unseen,
        tuple(questions(ranking, answers or ())), tuple(deciding_tests(ranking, unseen)),
    )  # fmt: skip


def _second(
    ranking: Ranking, sources: Sequence[Source], gauge: GaugeRow | None
) -> RankedCause | None:
    """A source beside the main one; what is none of them may be what the main one left."""
    found = second_cause(ranking, sources)
    if found is None:
        return None
    name, p = next(iter(found.probabilities.items()))
    if p < LEAST_SECOND or name not in found.ranking.tried:
        return None
    return _cause(name, p, found.ranking, gauge)


def verdict(
    probabilities: Mapping[str, float],
    ringing: RingingFound | None = None,
    second: RankedCause | None = None,
) -> str:
    """The answer in a sentence or two.

    Parameters
    ----------
    probabilities : by cause, the most probable first
    ringing : RingingFound, optional
    second : RankedCause, optional
        What stands beside the first.
    """
    (first, p), *rest = probabilities.items()
    said = f"{first} ({sure(p)})"
    if p < SURE:
        other = f" or {rest[0][0]} ({sure(rest[0][1])})" if rest else ""
        words = f"Cannot tell yet: {said}{other}."
    elif first == NOTHING:
        words = f"Nothing periodic stands out of this wall's noise ({sure(p)})."
    elif first == OTHER:
        words = (
            f"Something repeats that is none of the sources this rig's record names ({sure(p)})."
        )
    else:
        words = f"Most likely: {said}."
    if second is not None:
        words += f" Beside it {second.name} ({sure(second.probability)})."
    if ringing is not None and first != RINGING:
        words += (
            f" Ringing at {ringing.hertz.value:.1f} Hz beside it ({sure(ringing.probability)})."
        )
    return words


LISTED = 0.001
"""Causes less probable than this stand folded away, or are left out of a table."""


def sure(probability: float) -> str:
    """A probability in per cent; never all or nothing."""
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else percent(probability, 0)


def main_cause(name: str) -> str:
    """A cause of the ranked list in words; stored as ringing is ringing with nothing beside it."""
    return "ringing alone" if name == RINGING else name


def _cause(name: str, probability: float, ranking: Ranking, gauge: GaugeRow | None) -> RankedCause:
    walls = [r.wall for r in ranking.readings]
    nowhere: tuple[None, ...] = (None,) * len(walls)
    if name == RINGING:
        found = _ringing(ranking) if probability > LEAST_SAID else None
        return RankedCause(
            name, "ringing", probability, UNITS["ringing"], found.hertz if found else None,
            found.size_um if found else None, False, nowhere,
        )  # fmt: skip
    tried = ranking.tried.get(name)
    if tried is None:
        return RankedCause(name, "", probability, "", None, None, False, nowhere)
    best = float(tried.periods[tried.best])
    period = period_interval(tried, ranking.readings) if probability > LEAST_SAID else None
    at = period.value if period else best
    spots = [tried.source.spot_of(w, at) for w in walls]
    size = None
    measured = gauge_size_um(gauge, tried.source, at, walls[0]) if gauge and period else None
    if period is not None and measured is None:
        shown = [brightness_amplitude(tried, r, at) for r in ranking.readings]
        try:
            size = size_um(shown, spots, walls)
        except FitError:  # every wall hides how large it is
            size = None
    return RankedCause(
        name, tried.source.kind, probability, UNITS[tried.source.kind], period, measured or size,
        measured is not None, tuple(spots),
    )  # fmt: skip


def _ringing(ranking: Ranking) -> RingingFound:
    hertz, damping = ringing_intervals(ranking.ringing_estimate)
    walls = [r.wall for r in ranking.readings]
    shown = ringing_shown(ranking.ringing_estimate, ranking.readings)
    spots = [(hertz.value / w.speed_mm_s, 0.0) for w in walls]
    return RingingFound(ranking.ringing, hertz, damping, size_um(shown, spots, walls))
