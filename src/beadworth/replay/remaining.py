"""The maker's own estimate of a print, where its file carries one, held against the replay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.text import duration, percent

RESOLUTION_S = 60.0
"""Marks are whole minutes."""


@dataclass(frozen=True)
class RemainingMarks:
    """Marks of the time left (M73 with R), and how long the same moves take here.

    Moves and dwells count; what the rig states of heating, homing, levelling and tool changes does
    not, since makers leave it out as a rule (common practice, no source).
    """

    marks: int
    line: int
    """Of the first of them."""
    theirs_s: float
    """From the first mark to the last by their numbers; all that a single one leaves."""
    ours_s: float
    """The same moves here."""
    widest_line: int
    """Of the mark at which the two time lines, joined at the first, lie farthest apart."""
    widest_s: float
    """Ours less theirs there."""
    left_s: float
    """What the last of several marks still leaves: not 0 where the file is not whole."""

    @property
    def share(self) -> float | None:
        """Ours against theirs, less 1; None where their numbers leave nothing."""
        return self.ours_s / self.theirs_s - 1.0 if self.theirs_s > 0.0 else None

    @property
    def whole(self) -> bool:
        """Whether the marks reach the end."""
        return self.left_s <= RESOLUTION_S

    @property
    def sentence(self) -> str:
        """Both estimates in words."""
        share = "" if self.share is None else f" ({_signed(self.share)})"
        if self.marks == 1:
            return (
                f"One mark of the time left (M73), line {self.line}: {duration(self.theirs_s)}; "
                f"from there it takes {duration(self.ours_s)} here{share}."
            )
        rest = "" if self.whole else f" The last of them leaves {duration(self.left_s)}: not whole."
        return (
            f"{self.marks} marks of the time left (M73), whole minutes: {duration(self.theirs_s)} "
            f"from the first, line {self.line}, to the last, and {duration(self.ours_s)} "
            f"here{share}; at most {duration(abs(self.widest_s))} apart on the way, line "
            f"{self.widest_line}.{rest}"
        )


def hold_against(marks: Sequence[tuple[int, float, float]], end_s: float) -> RemainingMarks | None:
    """The maker's marks against our clock.

    Parameters
    ----------
    marks : sequence of (line, minutes left, our seconds so far)
        In the order of the file.
    end_s : float
        Our seconds at the end of the print.

    Returns
    -------
    RemainingMarks or None
        None where there is no mark.
    """
    if not marks:
        return None
    line, first_min, start_s = marks[0]
    gaps = [(at, clock - start_s - 60.0 * (first_min - left)) for at, left, clock in marks]
    _, last_min, clock_s = marks[-1]
    if len(marks) == 1:
        last_min, clock_s = 0.0, end_s
        gaps = [(line, end_s - start_s - 60.0 * first_min)]
    widest_line, widest_s = max(gaps, key=lambda gap: abs(gap[1]))
    theirs_s = 60.0 * (first_min - last_min)
    return RemainingMarks(
        len(marks), line, theirs_s, clock_s - start_s, widest_line, widest_s, 60.0 * last_min
    )


def _signed(share: float) -> str:
    text = percent(share, 1)
    return text if share < 0 else f"+{text}"
