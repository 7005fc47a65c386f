"""Waves that all layers share: their noise, their second harmonic; and what one photo shows."""

import functools

import numpy as np
import pytest

from beadworth.cause import Matrix, WallSide, rank, read_wall
from beadworth.cause.evidence import degrees_at
from beadworth.cause.floor import fit_floor, fit_log_floor, red_design
from beadworth.cause.harmonic import steady_evidence
from beadworth.cause.profile import profile

WALL = WallSide(110, 0.3, 60, 3000, 10, 0.05, 25, 8)
X = 0.2 * np.arange(525)
TURN_MM = 32.0


@functools.cache
def noise(seed):
    """Layers of a wall: each its own roughness, and a little that all share."""
    rng = np.random.default_rng([51, seed])
    return 0.004 * rng.standard_normal((40, X.size)) + 0.001 * rng.standard_normal(X.size)


def turning(first, second):
    """A profile with a turn of 3.3 cycles over the wall, and its second harmonic."""
    angle = 2 * np.pi * X / TURN_MM
    return profile(Matrix(noise(1) + first * np.cos(angle + 1) + second * np.cos(2 * angle + 2),
                          0.2, 1.0), WALL)  # fmt: skip


def at(found, values, mm):
    return float(np.interp(1 / mm, found.along_per_mm, values))


def test_a_slow_wave_does_not_lift_the_floor_under_itself():
    """Fitted down to five cycles the floor followed the second harmonic up to the wave."""
    found = turning(0.005, 0.004)
    alone = turning(0.005, 0.0)
    assert at(found, found.steady_power(), TURN_MM) > 0.5 * at(alone, alone.steady_power(), TURN_MM)
    assert at(found, found.steady_power(), TURN_MM) > 300


def test_a_second_harmonic_belongs_to_its_wave_where_it_is_the_smaller():
    alone, belongs, larger = ((f := turning(0.003, second), at(f, steady_evidence(f), TURN_MM))
                              for second in (0.0, 0.0027, 0.0036))  # fmt: skip
    assert belongs[1] > alone[1] + 5
    assert larger[1] < belongs[1] - 5
    own = at(larger[0], steady_evidence(larger[0]), TURN_MM / 2)
    assert own > 10, "it is a wave of its own"


def test_degrees_of_the_floor_by_cycles():
    assert degrees_at([1, 3, 6, 9, 50]).tolist() == [1.5, 1.5, 5, 8, 8]
    assert degrees_at(3.23) == 1.5
    assert degrees_at(3.24) == 2
    assert degrees_at(8.76) == 7.5
    assert degrees_at(8.78) == 8


def test_a_floor_is_found_under_a_line():
    """By maximum likelihood better than by least squares of logs, and moved little by a line."""
    k = np.geomspace(0.1, 2.2, 200)
    design = red_design(np.log(k), 2)
    truth = np.array([-3.0, -1.2, 0.2])
    errors = {"likelihood": [], "squares": []}
    for seed in range(60):
        power = np.random.default_rng([52, seed]).exponential(np.exp(design @ truth))
        power[90:94] *= 1000
        for name, fit in (("likelihood", fit_floor), ("squares", fit_log_floor)):
            errors[name].append(design @ fit(power, design) - design @ truth)
    spread = {name: np.std(found) for name, found in errors.items()}
    assert spread["likelihood"] < 0.95 * spread["squares"]
    assert abs(np.mean(errors["likelihood"])) < 0.05
    assert spread["likelihood"] < 0.16


def test_what_one_photo_alone_shows_slanted_is_no_proof_of_a_source():
    def reading(seed, size):
        angle = 2 * np.pi * (0.3 * X + 0.37 * np.arange(40)[:, None])
        return read_wall(Matrix(noise(seed) + size * np.cos(angle), 0.2, 1.0), WALL)

    shown, quiet = reading(2, 0.003), reading(3, 0.0)
    one = rank([shown, quiet], []).probabilities
    both = rank([shown, reading(4, 0.003)], []).probabilities
    assert one["none of these"] < 0.6
    assert both["none of these"] > 0.95
    assert rank([quiet, reading(5, 0.0)], []).probabilities["none of these"] == pytest.approx(
        0.1, abs=0.2
    )
