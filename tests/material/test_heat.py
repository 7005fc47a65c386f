"""Heat taken up by the melt: one function for speeds, replay, fit check and melt model."""

import pytest

from beadworth.material import Material, melt_heat_w

PLAIN = Material(
    name="simulated",
    density_g_cm3=1.24,
    min_temperature_c=190.0,
    max_temperature_c=240.0,
    specific_heat_j_gk=2.0,
)


def test_heat_of_the_worked_example():
    # 10 mm³/s, 1240 kg/m³, 2000 J/kgK, +190 K: 4.712 W; fed at 25 °C unless said otherwise
    assert melt_heat_w(PLAIN, 10.0, 215.0) == pytest.approx(4.712)
    assert melt_heat_w(PLAIN, 10.0, 220.0, 30.0) == pytest.approx(4.712)


def test_a_rising_specific_heat_is_integrated():
    rising = PLAIN.model_copy(update={"specific_heat_j_gk": 1.0, "specific_heat_slope": 0.01})
    steps = [25.0 + 190.0 * (i + 0.5) / 1000 for i in range(1000)]
    summed = sum(10.0 * 1.24e-3 * (1.0 + 0.01 * c) * 0.19 for c in steps)
    assert melt_heat_w(rising, 10.0, 215.0) == pytest.approx(summed, rel=1e-9)


@pytest.mark.parametrize(
    ("melting_c", "latent_w"), [(None, 0.744), (214.9, 0.744), (215.0, 0.0), (260.0, 0.0)]
)
def test_the_heat_of_melting_counts_unless_the_melt_stays_below(melting_c, latent_w):
    crystals = PLAIN.model_copy(update={"latent_j_g": 60.0, "melting_c": melting_c})
    more = melt_heat_w(crystals, 10.0, 215.0) - melt_heat_w(PLAIN, 10.0, 215.0)
    assert more == pytest.approx(latent_w)  # 10 mm³/s · 1.24 mg/mm³ · 60 J/g


def test_without_a_specific_heat_it_is_not_known():
    assert melt_heat_w(PLAIN.model_copy(update={"specific_heat_j_gk": None}), 10.0, 215.0) is None
    assert melt_heat_w(None, 10.0, 215.0) is None
