"""A print colder than anything weighed: what is said, and what is not."""

import io

import numpy as np
import pytest
from replay_support import RIG, make_fit, straight

from beadworth import capacity
from beadworth.core import LimitError
from beadworth.material import generic
from beadworth.melt import predict
from beadworth.replay import replay, retime, segments
from beadworth.rig import HotEnd
from beadworth.trial import Reading

COLD = straight(5.0, celsius=190).encode()  # 10 mm³/s at 200 °C: far under that bound


def test_under_an_upper_bound_nothing_is_claimed():
    found = replay(COLD, RIG, make_fit())
    assert found.unknown_c == (190.0,)
    assert found.verdict.endswith(
        "mm³/s. Not known at 190 °C whether the hot end gives that: coupons were weighed at 200 °C "
        "and 220 °C, and a colder nozzle gives less."
    )
    assert [layer.headroom for layer in found.layers] == [None]
    assert found.uniform_speed_share is None
    assert "weigh coupons there" in " ".join(found.notes)
    for part in segments(COLD, RIG, make_fit()):
        assert np.isinf(part["ceiling"]).all()
    with pytest.raises(LimitError, match="not known at 190 °C, so no copy can be promised"):
        retime(COLD, io.BytesIO(), RIG, make_fit())


def test_over_an_upper_bound_is_over_for_certain():
    found = replay(straight(20.0, celsius=190).encode(), RIG, make_fit())
    assert found.sustained == 1
    assert found.layers[0].headroom < 0
    assert found.verdict.endswith("a colder nozzle gives less.")


def test_at_a_temperature_that_was_weighed_it_is_known():
    found = replay(straight(5.0, celsius=200).encode(), RIG, make_fit())
    assert found.unknown_c == ()
    assert found.verdict.endswith("always under the ceiling.")


def melt_truth():
    """A rig whose weighed ceilings are those of the melt model, and its polymer."""
    polymer = generic("PLA")
    rig = RIG.model_copy(update={"hot_end": HotEnd(melt_zone_mm=20.0, bore_mm=2.0, nozzle_mm=0.4)})
    true = {t: predict(rig, polymer, t).ceiling_mm3_s for t in (190.0, 200.0, 220.0)}
    rng = np.random.default_rng(5)
    rows = [
        Reading("R", polymer.name, t, q, 600.0,
                1.79 * min(1.0, true[t] / q) * (1 + 0.002 * rng.normal()))
        for t in (200.0, 220.0)
        for q in true[t] * np.linspace(0.4, 1.6, 9)
        for _ in range(3)
    ]  # fmt: skip
    return rig, polymer, true, capacity.fit(rows)


@pytest.mark.usefixtures("full_fits")  # whose interval holds the truth
def test_the_melt_model_says_with_an_interval_where_it_can():
    rig, polymer, true, fit = melt_truth()
    program = straight(0.5 * true[190.0], celsius=190).encode()
    assert replay(program, rig, fit).unknown_c == (190.0,)
    found = replay(program, rig, fit, material=polymer)
    (ceiling,) = found.ceilings
    assert (found.unknown_c, ceiling.basis, ceiling.extrapolated) == ((), "melt", True)
    assert ceiling.low < true[190.0] < ceiling.high
    assert ceiling.high < fit.ceilings[-1].flow_mm3_s
    assert found.verdict.endswith(
        f"always under the ceiling. That ceiling is predicted, not weighed: "
        f"{ceiling.flow_mm3_s:.1f} mm³/s ({ceiling.low:.1f} to {ceiling.high:.1f}) at 190 °C."
    )
    over = replay(straight(1.5 * true[190.0], celsius=190).encode(), rig, fit, material=polymer)
    assert over.over_ceiling_s > 0
