"""Two rigs weighed in two trials: the same difference as in one, and what differed is said."""

from __future__ import annotations

import numpy as np
import pytest

from beadworth.capacity import compare, compare_apart, fit
from beadworth.core import FitError, NotFoundError
from beadworth.trial import Reading

TOPS = {"Stock": 9.0, "Long": 13.0}


def weighed(rig, seed, celsius=220.0, material="PLA"):
    draw = np.random.default_rng(seed)
    return [
        Reading(rig, material, celsius, float(q), 600.0,
                1.79 * min(1.0, TOPS[rig] / q) * (1 + 0.002 * float(draw.normal())))
        for q in range(4, 18) for _ in range(2)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def fits():
    stock, long = weighed("Stock", 1), weighed("Long", 2)
    return {"stock": fit(stock), "long": fit(long), "both": fit([*stock, *long])}


def test_the_difference_is_that_of_one_trial_of_the_same_readings(fits):
    apart = compare_apart(fits["stock"], fits["long"])
    together = compare(fits["both"], "Stock", "Long")
    assert (apart.baseline, apart.candidate) == ("Stock", "Long")
    (one,), (other,) = apart.differences, together.differences
    assert one.difference_mm3_s == pytest.approx(other.difference_mm3_s, abs=0.25)
    assert one.low < 4.0 < one.high
    assert one.low > 2.0
    assert apart.notes[0].startswith("The rigs were weighed in two trials.")
    assert "two trials" not in " ".join(together.notes)


def test_each_rig_is_taken_as_its_own_trial_weighed_it(fits):
    """The second trial weighed the stock again; the first one's is what is asked for."""
    again = compare_apart(fits["stock"], fits["both"])
    assert again.candidate == "Long"
    assert (
        again.differences == compare_apart(fits["stock"], fits["both"], "Stock", "Long").differences
    )


def test_what_cannot_be_compared_is_refused(fits):
    with pytest.raises(FitError, match=r"at 2.00 % loss in one trial and at 3.00 % in the o"):
        compare_apart(fits["stock"], fit(weighed("Long", 2), loss=0.03))
    with pytest.raises(FitError, match="no temperature was tested on both: Stock at 220 °C"):
        compare_apart(fits["stock"], fit(weighed("Long", 2, celsius=230.0)))
    with pytest.raises(NotFoundError, match="no fitted readings for Other"):
        compare_apart(fits["stock"], fits["long"], "Other", "Long")
