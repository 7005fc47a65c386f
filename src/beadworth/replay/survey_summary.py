"""What a survey says as a whole: how many prints are over, for how long, which are the worst."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any, Final, Literal

from beadworth.text import count, duration, percent

WORST: Final = 15
"""Prints told of one by one."""
_RANK: Final = {"will": 3, "may": 2, None: 1, "cannot": 0}


@dataclass(frozen=True)
class SurveyedPrint:
    """A print that is over its ceiling somewhere."""

    file: str
    time_s: float
    over_ceiling_s: float
    max_mm3_s: float
    missing_mm3: float | None
    """Asked for beyond the ceiling; None in rows of an earlier release."""
    shows: Literal["will", "may", "cannot"] | None
    """The worst of its stretches; None where the rig does not say what the melt zone holds."""

    @property
    def name(self) -> str:
        """The file's own name."""
        return PurePath(self.file).name


@dataclass(frozen=True)
class SurveySummary:
    """Many prints against one ceiling."""

    prints: int
    """That were replayed."""
    broken: int
    known: bool
    """Whether there was a ceiling to hold them against."""
    over: int
    """Prints over it somewhere, bursts included."""
    will: int
    """Of these, those that will show; those that may, and those of which nobody knows, besides."""
    may: int
    unknown: int
    unsaid: int
    """Prints not over what is known, but at temperatures below those weighed: nobody knows."""
    time_s: float
    over_ceiling_s: float
    worst: tuple[SurveyedPrint, ...]
    """The first ``WORST``: what will show before what may, then by what is missing."""

    @property
    def sentence(self) -> str:
        """The answer in words."""
        whole = f"{count(self.prints, 'print')} in {duration(self.time_s)}"
        if not self.known:
            return f"{whole}; without a capacity it is not known whether the hot end gives them."
        below = (
            f" Of {count(self.unsaid, 'print')} it is not known: below the temperatures weighed."
            if self.unsaid
            else ""
        )
        if not self.over:
            rest = "none known to be over" if self.unsaid else "all of them always under"
            return f"{whole}, {rest} the ceiling.{below}"
        share = self.over_ceiling_s / self.time_s if self.time_s else 0.0
        shows = [f"{number} {word}" for number, word in (
            (self.will, "will show"), (self.may, "may show"), (self.unknown, "not known to show"),
        ) if number]  # fmt: skip
        said = f"; {', '.join(shows)}" if shows else "; none of it can show"
        verb = "is" if self.over == 1 else "are"
        return (
            f"{self.over} of {whole} {verb} over the ceiling, for {duration(self.over_ceiling_s)} "
            f"in all ({percent(share, 1)} of the time){said}.{below}"
        )


def summarize_survey(rows: Iterable[Mapping[str, Any]], *, known: bool) -> SurveySummary:
    """What the rows of a survey say together.

    Parameters
    ----------
    rows : iterable of mapping
        As :func:`~beadworth.replay.survey.survey_row` makes them.
    known : bool
        Whether they were replayed against a capacity.
    """
    every = list(rows)

    def number(row: Mapping[str, Any], column: str) -> float:
        return float(row.get(column) or 0.0)

    good = [row for row in every if row.get("problem") is None]
    over = [
        SurveyedPrint(
            str(row["file"]), number(row, "time_s"), number(row, "over_ceiling_s"),
            number(row, "max_mm3_s"), row.get("missing_mm3"), row.get("shows"),
        )
        for row in good
        if row.get("sustained") or row.get("bursts")
    ]  # fmt: skip
    over.sort(key=lambda one: (-_RANK[one.shows], -(one.missing_mm3 or 0.0), -one.over_ceiling_s))
    shows = [one.shows for one in over]
    under = [row for row in good if not (row.get("sustained") or row.get("bursts"))]
    return SurveySummary(
        prints=len(good),
        broken=len(every) - len(good),
        known=known,
        over=len(over),
        will=shows.count("will"),
        may=shows.count("may"),
        unknown=shows.count(None),
        unsaid=sum(row.get("ceiling_known") is False for row in under),
        time_s=sum(number(row, "time_s") for row in good),
        over_ceiling_s=sum(one.over_ceiling_s for one in over),
        worst=tuple(over[:WORST]),
    )
