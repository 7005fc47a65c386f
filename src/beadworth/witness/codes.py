"""Codes and order of bands, drawn from a seed."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Final, TypeVar

LETTERS: Final = "ACDEFHJKLMNPRTUW"
"""Letters that are not mistaken for one another in handwriting; the n-th is mark n."""
T = TypeVar("T")


def shuffled(items: Sequence[T], seed: int, what: str) -> list[T]:
    """The items in an order drawn from a seed, the same on every machine."""
    order = list(items)
    random.Random(f"{what} {seed}").shuffle(order)
    return order


def codes(count: int, seed: int) -> list[tuple[str, int]]:
    """A letter and its mark for each of up to 16 bands, drawn from a seed.

    The mark is the letter's place in :data:`LETTERS`, as four teeth that stand or do not.
    """
    drawn = shuffled(range(len(LETTERS)), seed, "codes")[:count]
    return [(LETTERS[mark], mark) for mark in drawn]
