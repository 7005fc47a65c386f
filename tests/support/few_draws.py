"""Predictions of the melt model with a tenth of the draws: for tests of what is said of them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from loops import is_long

from beadworth.melt import over_length, over_nozzle, over_temperature, predict


@contextmanager
def few_draws(draws: int = 100) -> Iterator[None]:
    """While it lasts, who does not say how many gets so few; all of them in the long tests."""
    with pytest.MonkeyPatch.context() as patch:
        for ask in (predict, over_temperature, over_length, over_nozzle) if not is_long() else ():
            patch.setitem(ask.__kwdefaults__, "draws", draws)
        yield
