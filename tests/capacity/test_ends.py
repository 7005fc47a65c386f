"""What is said of the ends of intervals while draws come in: against the plain quantiles."""

import numpy as np
import pytest
from loops import each

from beadworth.capacity.model.ends import TAIL, Ends


def plain(draws):
    """The same from all draws (steps, rows, blocks): standard error and independent draws."""
    low, high = np.quantile(draws, [TAIL, 1 - TAIL], axis=(0, 1))
    inner = np.quantile(draws, [2 * TAIL, 1 - 2 * TAIL], axis=(0, 1))
    beyond = np.stack([(draws < low).mean(axis=0), (draws > high).mean(axis=0)])
    u = beyond.std(axis=1, ddof=1) / np.sqrt(draws.shape[1])
    error = u * np.abs(inner - np.stack([low, high])) / TAIL
    return error.max(axis=0), (TAIL * (1 - TAIL) / u**2).min(axis=0)


@each(seed=range(4), drift=[0.0, 0.4, 30.0])
def test_ends_are_those_of_all_draws(seed, drift):
    rng = np.random.default_rng(seed)
    own = rng.standard_normal((1, 50, 2))
    chunks = [
        12 + 3 * own + rng.standard_normal((20, 50, 2)) + drift * np.array([k, -k])
        for k in range(5)
    ]
    chunks[-1][5:9] = chunks[-1][4]  # a row that stays where it is counts each time
    ends = Ends()
    for count in range(2, 6):
        error, effective = ends.known(chunks[:count])
        wanted, independent = plain(np.concatenate(chunks[:count]))
        assert error == pytest.approx(wanted, rel=1e-9)
        assert effective == pytest.approx(independent, rel=1e-9)
