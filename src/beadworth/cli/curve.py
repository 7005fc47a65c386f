"""The loss curves of a fit drawn with plain characters, one rig on one pair of axes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from beadworth.text import fixed, number, percent

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Fit, GroupFit

COLUMNS, LINES = 60, 15
"""Of the plot; with the numbers beside it a line takes 68 characters."""
TOP = 4.0
"""The loss axis ends at this multiple of the loss the ceilings are read at."""
TESTED = "123456789"
"""Marks of the temperatures, coolest first."""


def describe_curves(found: Fit) -> Iterator[str]:
    """For each rig and material: the picture, and what its marks stand for."""
    for group in found.groups:
        own = [c for c in found.ceilings if (c.rig, c.material) == (group.rig, group.material)]
        yield from _picture(group, sorted(own, key=lambda c: c.temperature_c), found.loss)
        yield ""


def _picture(group: GroupFit, ceilings: Sequence[Ceiling], loss: float) -> Iterator[str]:
    celsius = [c.temperature_c for c in ceilings][: len(TESTED)]
    flows = [r.flow_mm3_s for r in group.residuals]
    low, high, top = min(flows), max(flows), TOP * loss
    if not high > low:
        high = low + 1.0
    paper = [[" "] * COLUMNS for _ in range(LINES)]

    def put(flow: float, height: float, mark: str, over: str = " ") -> None:
        column = round((flow - low) / (high - low) * (COLUMNS - 1))
        line = LINES - 1 - round(height / top * (LINES - 1))
        if 0 <= column < COLUMNS and 0 <= line < LINES and paper[line][column] in over:
            paper[line][column] = mark

    for column in range(COLUMNS):
        put(low + (high - low) * column / (COLUMNS - 1), loss, "-")
    for reading in group.residuals:
        put(reading.flow_mm3_s, reading.loss, "x" if reading.left_out else "o", " -")
    for mark, temperature in zip(TESTED, celsius, strict=False):
        curve = next((c for c in group.curves if c.temperature_c == temperature), None)
        if curve is not None:
            points = list(zip(curve.flow_mm3_s.tolist(), curve.loss.tolist(), strict=True))
            for (flow, height), (next_flow, next_height) in pairwise(points):
                for step in range(LINES):  # a steep curve rises over many lines in one column
                    share = step / LINES
                    put(flow + share * (next_flow - flow), height + share * (next_height - height),
                        mark, " -o")  # fmt: skip
    yield f"{group.rig}, {group.material}: loss over flow"
    for line, marks in enumerate(paper):
        share = (LINES - 1 - line) / (LINES - 1) * top
        at_loss = line == LINES - 1 - round(loss / top * (LINES - 1))
        told = percent(share if not at_loss else loss, 1) if at_loss or line % 7 == 0 else ""
        yield f"{told:>6} |{''.join(marks).rstrip()}".rstrip()
    yield f"{'':>6} +{'-' * COLUMNS}"
    ends = f"{number(low, 3)}", f"{number(high, 3)} mm³/s"
    yield f"{'':>8}{ends[0]}{ends[1]:>{COLUMNS - len(ends[0])}}"
    yield f"o a coupon, x one left out, --- the loss of {percent(loss, 1)}"
    for mark, ceiling in zip(TESTED, ceilings, strict=False):
        yield f"{mark} {number(ceiling.temperature_c)} °C: {_ceiling(ceiling)}"


def _ceiling(ceiling: Ceiling) -> str:
    if ceiling.flow_mm3_s is not None:
        ends = f"{fixed(ceiling.low, 1)} to {fixed(ceiling.high, 1)}"
        return f"ceiling {fixed(ceiling.flow_mm3_s, 1)} mm³/s ({ends})"
    if ceiling.low is not None:
        return f"ceiling at least {fixed(ceiling.low, 1)} mm³/s"
    if ceiling.high is not None:
        return f"ceiling at most {fixed(ceiling.high, 1)} mm³/s"
    return "cannot tell"
