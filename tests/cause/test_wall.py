"""What the program knows: times through the ramp, refusals; and levelling."""

import numpy as np
import pytest
from loops import each

from beadworth.cause import WallSide, level
from beadworth.cause.wall import speed_along_mm_s, time_along_s
from beadworth.core import InputError


def side(**changed):
    usual = {"length_mm": 110.0, "layer_mm": 0.3, "speed_mm_s": 90.0, "acceleration_mm_s2": 3000.0,
             "corner_mm_s": 8.0, "filament_per_mm": 0.05, "loop_filament_mm": 25.0,
             "layer_s": 6.0}  # fmt: skip
    return WallSide(**(usual | changed))


@each(seed=range(40))
def test_time_is_the_sum_of_small_steps(seed):
    rng = np.random.default_rng(seed)
    wall = side(
        length_mm=rng.uniform(2, 150),
        speed_mm_s=rng.uniform(20, 300),
        acceleration_mm_s2=rng.uniform(500, 8000),
        corner_mm_s=rng.uniform(0, 20),
    )
    x = np.linspace(0, wall.length_mm, 20_001)[1:-1]
    speed = speed_along_mm_s(wall, x)
    summed = np.concatenate([[0.0], np.cumsum(np.diff(x) * 0.5 * (1 / speed[1:] + 1 / speed[:-1]))])
    told = time_along_s(wall, x)
    assert np.abs(told - told[0] - summed).max() < 2e-4 + 2e-3 * summed[-1]


def test_150_mm_s_at_4000_takes_2_8_mm_to_reach():  # a trade fact, no source
    wall = side(speed_mm_s=150.0, acceleration_mm_s2=4000.0, corner_mm_s=0.0)
    assert speed_along_mm_s(wall, np.array([2.79, 2.83])) == pytest.approx([149.4, 150.0], abs=0.1)
    assert time_along_s(wall, np.array([2.8125])) == pytest.approx(150 / 4000)


def test_a_length_too_short_for_the_speed_is_one_peak():
    wall = side(length_mm=2.0, speed_mm_s=300.0, acceleration_mm_s2=1000.0, corner_mm_s=0.0)
    assert time_along_s(wall, np.array([2.0])) == pytest.approx(2 * np.sqrt(2 / 1000))


def test_no_wall_is_refused_all_at_once():
    with pytest.raises(InputError) as error:
        side(layer_mm=0.0, layer_s=-1.0, corner_mm_s=91.0)
    assert [p.where for p in error.value.problems] == [
        "wall, layer_mm", "wall, layer_s", "wall, corner_mm_s",
    ]  # fmt: skip
    assert side(corner_mm_s=90.0).corner_mm_s == 90.0


def test_levelling_takes_the_lamp_and_leaves_the_pattern():
    x, z = np.linspace(-1, 1, 400), np.linspace(-1, 1, 120)[:, None]
    lamp = 1 + 0.2 * x + 0.1 * z - 0.1 * x * z + 0.1 * x**2
    pattern = 0.02 * np.cos(2 * np.pi * 12 * x) + np.zeros_like(z)
    out = level(lamp * np.exp(pattern))
    assert np.abs(out - pattern).max() < 0.004
    spoilt = lamp * np.exp(pattern)
    spoilt[50, 100:104] *= 3  # a blob
    assert np.abs(level(spoilt) - pattern)[:, :90].max() < 0.006
    assert level(spoilt)[50, 101] < 0.3
