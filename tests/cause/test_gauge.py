"""Rows measured along a wall: read, refused, evidence for what goes with place, sizes."""

import contextlib

import numpy as np
import pytest
from cause_seconds import drawn
from hypothesis import given
from hypothesis import strategies as st
from loops import fewest, some

from beadworth.cause import WallSide, rank
from beadworth.cause.gauge import (
    GaugeRow,
    check_gauge,
    gauge_evidence,
    gauge_size_um,
    read_gauge,
    with_gauge,
)
from beadworth.cause.sources import Source
from beadworth.core import BeadworthError, InputError, ReadingsError

WALL = WallSide(110, 0.3, 60, 3000, 10, 0.05, 25, 8)


def row(seed, period_mm, size_mm, noise_mm=0.01, step_mm=1.0, count=100):
    rng = np.random.default_rng([8, seed])
    x = step_mm * np.arange(count)
    wave = size_mm * np.cos(2 * np.pi * x / period_mm + rng.uniform(0, 6))
    return GaugeRow(0.0, step_mm, wave + 1e-4 * x + noise_mm * rng.standard_normal(count))


def test_a_table_is_read_whatever_parts_its_columns():
    values = [(1.5 * n, 0.01 * (n % 3)) for n in range(30)]
    for mark, comma in ((",", "."), (";", ","), ("\t", "."), (" ", ".")):
        text = f"place{mark}offset\n" + "\n".join(
            mark.join(f"{v:.3f}".replace(".", comma) for v in pair) for pair in values
        )
        found = read_gauge(text.encode(), "row.csv")
        assert (found.start_mm, found.step_mm) == (0, 1.5)
        assert found.offsets_mm == pytest.approx([v for _, v in values])


def test_what_is_no_row_is_told_all_at_once():
    def told(text):
        with pytest.raises(ReadingsError) as refused:
            read_gauge(text.encode(), "row.csv")
        return [str(problem) for problem in refused.value.problems]

    good = [f"{n},0.01" for n in range(30)]
    assert told("\n".join([*good, "x,1", "5"])) == [
        "row.csv, row 31: 'x,1' is no place and offset. Write both in mm, as 4.5,0.02.",
        "row.csv, row 32: '5' is no place and offset. Write both in mm, as 4.5,0.02.",
    ]
    assert told("\n".join(good[:23])) == [
        "row.csv: 23 rows are not 24 to 2000. Measure at even steps along the wall."
    ]
    assert len(read_gauge("\n".join(good[:24]).encode(), "row.csv").offsets_mm) == 24
    (uneven,) = told("\n".join([*good, "31.5,0"]))
    assert uneven == (
        "row.csv, row 31: the step to row 31 is 2.5 mm where 1 mm is usual. Measure at even steps, "
        "in order."
    )
    (headed,) = told("\n".join(["place,offset", "", *good, "31.5,0"]))
    assert headed.startswith("row.csv, row 33: the step to row 33 is 2.5 mm"), "as the file counts"
    (headed,) = told("\n".join(["place,offset", "", *good, "x,1"]))
    assert headed.startswith("row.csv, row 33: 'x,1' is no place and offset.")


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data):
    with contextlib.suppress(BeadworthError):
        read_gauge(data, "x")


def test_a_row_longer_than_its_wall_is_refused():
    check_gauge(row(1, 10, 0.02, count=121), WALL)
    with pytest.raises(InputError, match="the row is 122 mm long, the wall 110 mm"):
        check_gauge(row(1, 10, 0.02, count=122), WALL)


def test_evidence_is_for_the_wave_that_is_there_and_not_for_another():
    logs = gauge_evidence(row(2, 12.0, 0.03), np.array([1 / 12.0, 1 / 7.0, 1 / 50.0, 1 / 2.2]))
    assert logs[0] > 8
    assert logs[1] < 1
    assert logs[2:].tolist() == [0, 0], "fewer than three cycles; too few readings a wave"


def test_sizes_hold_the_truth():
    runs, held, widths = some(40, long=400), 0, []
    source = Source("pulley turn, x", "place", 12.0)
    for seed in range(runs):
        size = gauge_size_um(row(seed, 12.0, 0.02), source, 12.0, WALL)
        held += size.low <= 20 <= size.high
        widths.append(size.high - size.low)
    assert held >= fewest(runs, 0.95)
    assert 4 < np.median(widths) < 10
    assert gauge_size_um(row(1, 12.0, 0.02), source, 40.0, WALL) is None, "2.5 cycles"
    level = Source("screw turn, z", "height", 4.0)
    assert gauge_size_um(row(1, 12.0, 0.02), level, 4.0, WALL) is None


def test_a_row_moves_the_ranking_by_what_it_shows():
    readings, sources = drawn(0, "belt tooth", "pulley turn")
    ranking = rank(readings[:1], sources)
    pulley = next(s for s in sources if s.name.startswith("pulley turn, x"))
    wall = readings[0].wall
    there = with_gauge(ranking, row(1, pulley.period, 0.04, count=108), wall)
    assert sum(there.probabilities.values()) == pytest.approx(1)

    def odds(found):
        return found.probabilities[pulley.name] / found.probabilities["nothing periodic"]

    assert odds(there) > 1.5 * odds(ranking)
    assert odds(with_gauge(ranking, row(1, 3.3, 0.0, count=108), wall)) < odds(ranking)
