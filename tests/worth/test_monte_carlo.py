"""Propagation against the worked examples of JCGM 101:2008 and against closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.worth.estimate import Estimate, interval_of, reckoned
from beadworth.worth.monte_carlo import numerical_tolerance, propagate, result_of, shape_of

pytestmark = pytest.mark.usefixtures("full_fits")  # published results are held


def added(known, batches=100, digits=2, seed=7):
    found = propagate(
        lambda v: {"y": sum(v.values())},
        {f"x{n}": item.quantile for n, item in enumerate(known)},
        np.random.default_rng(seed),
        watch=("y",),
        digits=digits,
        most_batches=batches,
    )
    return found, result_of(found.outputs["y"])


R = math.sqrt(3.0)
UNIT_BOX = Estimate(low=-R, high=R)

# JCGM 101:2008, printed interval and standard uncertainty; what the document prints to three
# digits is asserted to half a unit of the last one plus the draws' own scatter
ADDITIVE = {
    "9.2.2 four normals": ([Estimate(value=0.0, u=1.0)] * 4, 2.00, 3.92),
    "9.2.3 four rectangular": ([UNIT_BOX] * 4, 2.00, 3.88),
    "9.2.4 one ten times as wide": ([UNIT_BOX] * 3 + [Estimate(low=-10 * R, high=10 * R)], 10.1,
                                    17.0),
}  # fmt: skip


@pytest.mark.parametrize("name", ADDITIVE)
def test_additive_examples_of_jcgm_101(name):
    known, u, end = ADDITIVE[name]
    found, y = added(known, digits=3)
    half = 0.05 if end > 10 else 0.005
    assert found.outputs["y"].std(ddof=1) == pytest.approx(u, abs=half + 0.004 * u)
    assert y.high == pytest.approx(end, abs=half + 0.004 * u)
    assert y.low == pytest.approx(-end, abs=half + 0.004 * u)
    assert y.value == pytest.approx(0.0, abs=0.01 * u)


def test_four_rectangular_reach_the_exact_end():
    # JCGM 101:2008 9.2.3, exact end 2·√3·(2 − (3/5)^(1/4))
    _, y = added([UNIT_BOX] * 4, digits=3)
    assert y.high == pytest.approx(2 * R * (2 - 0.6**0.25), abs=0.012)


def test_mass_calibration_of_jcgm_101():
    # JCGM 101:2008 9.3: dm in mg; Monte Carlo u 0.0754, where first-order propagation gives
    # 0.0539. Equal tails at four million draws: [1.0844, 1.3836] (recomputed independently).
    inputs = {
        "m": Estimate(value=0.0, u=0.050),  # from 100 000 mg
        "d": Estimate(value=1.234, u=0.020),
        "a": Estimate(low=1.10, high=1.30),
        "w": Estimate(low=7000.0, high=9000.0),
        "r": Estimate(low=7950.0, high=8050.0),
    }

    def model(v):
        lift = (v["a"] - 1.2) * (1 / v["w"] - 1 / v["r"])
        return {"dm": v["m"] + v["d"] + (100_000.0 + v["m"] + v["d"]) * lift}

    found = propagate(
        model, {n: x.quantile for n, x in inputs.items()}, np.random.default_rng(3), watch=("dm",),
        digits=3,
    )  # fmt: skip
    dm = result_of(found.outputs["dm"])
    assert found.outputs["dm"].std(ddof=1) == pytest.approx(0.0754, abs=0.0003)
    assert dm.value == pytest.approx(1.2340, abs=0.0005)
    assert (dm.low, dm.high) == pytest.approx((1.0844, 1.3836), abs=0.001)


def test_numerical_tolerance():
    # JCGM 101:2008 7.9.2, its examples (from memory): u = 0.000 035 g → half of 1e-6 g;
    # u = 2 K → half of 1 K with one digit
    assert numerical_tolerance(0.000_035) == pytest.approx(0.5e-6)
    assert numerical_tolerance(2.0, 1) == pytest.approx(0.5)
    assert numerical_tolerance(0.0996) == pytest.approx(0.005)
    # 0.0994 is 0.099 to two digits, 0.095 is 0.095
    assert [numerical_tolerance(u) for u in (0.0994, 0.095)] == pytest.approx([0.0005, 0.0005])


def test_draws_stop_once_the_digits_stand_still_and_say_when_they_do_not():
    easy, _ = added([Estimate(value=0.0, u=10.0)])
    assert easy.stable
    assert len(easy) < 500_000
    short, _ = added([Estimate(value=0.0, u=99.0)], batches=4, digits=4)
    assert not short.stable


def test_the_same_seed_gives_the_same_draws():
    first, again = (added([UNIT_BOX] * 2, seed=11)[0].outputs["y"] for _ in range(2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first[:100], added([UNIT_BOX] * 2, seed=12)[0].outputs["y"][:100])


# Against the closed forms of each distribution

ANY = st.floats(-1e3, 1e3)
WIDTH = st.floats(1e-3, 1e3)
SHAPES = st.one_of(
    st.builds(lambda m, u: Estimate(value=m, u=u), ANY, WIDTH),
    st.builds(lambda a, w: Estimate(low=a, high=a + w), ANY, WIDTH),
    st.builds(lambda a, w, p: Estimate(low=a, value=a + w * p, high=a + w), ANY, WIDTH,
              st.floats(0, 1)),
)  # fmt: skip


@given(SHAPES)
def test_quantiles_have_the_moments_of_their_distribution(known):
    p = (np.arange(200_000) + 0.5) / 200_000
    drawn = known.quantile(p)
    mean, u = known.standard
    assert drawn.mean() == pytest.approx(mean, abs=2e-3 * u)
    assert drawn.std() == pytest.approx(u, rel=5e-3)
    assert (np.diff(drawn) >= -1e-9 * u).all()


def test_a_symmetric_triangle_has_the_uncertainty_of_the_gum():
    # JCGM 100:2008 (GUM) 4.3.9, equation (9b): u² = a²/6; and 4.3.7, equation (7): a²/3
    assert Estimate(low=8.0, value=10.0, high=12.0).standard == pytest.approx((10.0, 2 / 6**0.5))
    assert Estimate(low=8.0, high=12.0).standard == pytest.approx((10.0, 2 / 3**0.5))


def test_an_infinite_share_opens_the_end_it_lies_at():
    rest = np.linspace(1.0, 2.0, 1000)
    open_end = result_of(np.concatenate([rest, np.full(100, np.inf)]))
    assert open_end.high is None
    assert open_end.value is not None
    assert result_of(np.concatenate([rest, np.full(10, np.inf)])).high is not None
    assert result_of(np.full(100, np.inf)).value is None


def test_a_shape_kept_of_draws_reads_as_the_draws_do():
    """Exponential draws: quantiles in closed form, −ln(1 − p); median and interval to the digit."""
    values = np.random.default_rng(5).exponential(size=400_000)
    kept = reckoned(Estimate, shape_of(values))
    assert interval_of(kept) == result_of(values)
    for share in (0.1, 0.333, 0.9, 0.99):
        assert float(kept.quantile(share)) == pytest.approx(-math.log1p(-share), rel=0.02), share
    assert kept.u == pytest.approx(1.0, rel=0.03)
    assert kept.middle == pytest.approx(math.log(2.0), rel=0.01)


def test_what_does_not_vary_is_kept_as_exact():
    kept = reckoned(Estimate, shape_of(np.full(1000, 54.0)))
    assert kept.exact
    assert interval_of(kept) == result_of(np.full(1000, 54.0))
