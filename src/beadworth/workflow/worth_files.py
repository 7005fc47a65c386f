"""Worth cases whose rigs, prints and capacities may stand in files."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from beadworth.worth import USUAL, Sources, ask, outcome_words, work_out

if TYPE_CHECKING:
    from beadworth.worth import Answer, WorthCase, WorthRequest

__all__ = ["USUAL", "Sources", "outcome_words", "replay_case"]


def replay_case(
    case: WorthCase, sources: Sources, step: Callable[[], None] | None = None
) -> tuple[WorthRequest, Answer]:
    """Replay the prints of a worth case and calculate its answer; nothing is stored."""
    inputs = ask(case, sources, step)
    return inputs, work_out(inputs)
