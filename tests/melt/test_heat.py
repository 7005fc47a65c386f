"""Tube heat transfer against the exact series (check values, section 3, CALC, 30 digits)."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from beadworth.core.errors import InputError
from beadworth.material import Material
from beadworth.melt.heat import Properties, march, properties_of, velocity_share

UNIT = Properties(np.ones(251), np.ones(251))  # α = 1, so that ξ is the Fourier number
TABLE = (Path(__file__).parent / "data" / "graetz_tube.csv").read_text().splitlines()
GRAETZ = list(csv.reader(line for line in TABLE if not line.startswith("#")))[1:]
# Plug flow: F, mean θ, θ on the axis
PLUG = [
    (0.05, 0.547879, 0.98709922),
    (0.1, 0.39417581, 0.84835511),
    (0.2, 0.21785245, 0.50148686),
    (0.3, 0.12202847, 0.28248707),
    (0.5, 0.03837871, 0.08888972),
]
# Fully developed Nusselt number of a power-law fluid, uniform wall temperature
DEVELOPED = {1: 3.656793, 0.7: 3.792096, 0.5: 3.949418, 0.3: 4.239488, 0.1: 4.940175}


def theta(fourier, profile_index, cells, rows):
    """(mean θ, axis θ, wall-gradient Nusselt) at one Fourier number."""
    run = march(
        UNIT, wall_c=0.0, inlet_c=1.0, profile_index=profile_index, cells=cells, rows=rows,
        fourier_end=fourier,
    )  # fmt: skip
    return run.bulk[-1], run.core[-1]


def extrapolated(fourier, profile_index, cells=160, rows=320):
    """Richardson's limit of two grids, for a second-order scheme."""
    coarse = np.array(theta(fourier, profile_index, cells, rows))
    fine = np.array(theta(fourier, profile_index, 2 * cells, 2 * rows))
    return fine + (fine - coarse) / 3


@pytest.mark.parametrize("row", GRAETZ[4:17], ids=lambda row: f"x+={row[0]}")
def test_graetz_mean_temperature_to_five_digits(row):
    fourier, expected = float(row[2]), float(row[5])
    assert extrapolated(fourier, 1.0)[0] == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(("fourier", "mean", "axis"), PLUG)
def test_plug_flow_series(fourier, mean, axis):
    got_mean, got_axis = extrapolated(fourier, 0.0)
    assert got_mean == pytest.approx(mean, rel=1e-5)
    assert got_axis == pytest.approx(axis, rel=1e-5)


def developed_nusselt(profile_index):
    """From the decay of the mixed temperature, ln(θ1/θ2)/ΔF at large F; limit of two grids."""
    values = []
    for cells in (200, 400):
        run = march(
            UNIT, wall_c=0.0, inlet_c=1.0, profile_index=profile_index, cells=cells, rows=8 * cells,
            fourier_end=1.2,
        )  # fmt: skip
        early = np.searchsorted(run.xi, 0.8)
        fall = math.log(run.bulk[early] / run.bulk[-1])
        values.append(fall / (run.xi[-1] - run.xi[early]))
    return values[1] + (values[1] - values[0]) / 3


@pytest.mark.parametrize("index", DEVELOPED)
def test_developed_nusselt_number_of_a_power_law_fluid(index):
    assert developed_nusselt(index) == pytest.approx(DEVELOPED[index], rel=1e-5)


def test_developed_nusselt_number_of_a_plug():
    assert developed_nusselt(0.0) == pytest.approx(5.78318596295, rel=1e-5)


@pytest.mark.parametrize("profile_index", [0.0, 0.3, 1.0])
def test_halving_the_grid_quarters_the_error(profile_index):
    limit = extrapolated(0.3, profile_index, 320, 640)[0]
    errors = [abs(theta(0.3, profile_index, n, 2 * n)[0] - limit) for n in (20, 40, 80)]
    orders = [math.log2(errors[i] / errors[i + 1]) for i in range(2)]
    assert orders == pytest.approx([2, 2], abs=0.15)


def test_contact_resistance_slows_heating_as_a_thick_film_does():
    """With a film resistance far above the core's own, θ falls as exp(−2F/(contact·k))."""
    run = march(UNIT, wall_c=0.0, inlet_c=1.0, contact_over_radius=100.0, fourier_end=40.0)
    assert run.bulk[-1] == pytest.approx(math.exp(-2 * 40 / 100.25), rel=2e-3)


@pytest.mark.parametrize("index", [0.0, 0.2, 0.5, 1.0])
def test_flow_shares_sum_to_a_half(index):
    assert velocity_share(37, index).sum() == pytest.approx(0.5, rel=1e-12)


def test_heat_of_melting_is_all_there():
    plain = Material(
        name="x", density_g_cm3=1.0, min_temperature_c=200.0, max_temperature_c=250.0,
        conductivity_w_mk=0.2, specific_heat_j_gk=2.0,
    )  # fmt: skip
    melting = plain.model_copy(update={"latent_j_g": 50.0, "melting_c": 160.0})
    extra = properties_of(melting).capacity_j_m3k - properties_of(plain).capacity_j_m3k
    assert extra.sum() * 2.0 == pytest.approx(50.0 * 1e6, rel=1e-9)  # table step 2 K, 1 g/cm³


def test_what_is_missing_is_named_at_once():
    bare = Material(name="x", density_g_cm3=1.0, min_temperature_c=200.0, max_temperature_c=250.0)
    with pytest.raises(InputError) as caught:
        properties_of(bare)
    assert [p.where for p in caught.value.problems] == [
        "material x, field conductivity_w_mk",
        "material x, field specific_heat_j_gk",
    ]
