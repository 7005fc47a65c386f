"""A trace is read from a table, every fault named; one-second means are not moved by a knock."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadworth.core import BeadworthError, ReadingsError
from beadworth.ramp.trace import Trace, read_trace_csv, second_means, write_trace_csv


def table(rows=80, head="time_s,mass_g,stable", mark=","):
    lines = [mark.join((f"{0.2 * i:.1f}", f"{50 + 0.001 * i:.3f}", "0")) for i in range(rows)]
    return "\n".join([head.replace(",", mark), *lines]) + "\n"


def test_what_is_written_is_read_back():
    trace = Trace(np.arange(90) * 0.2, 50 + np.arange(90) * 1e-3, np.arange(90) % 2 == 0)
    again = read_trace_csv(write_trace_csv(trace))
    assert (again.time_s == trace.time_s).all()
    assert (again.mass_g == trace.mass_g).all()
    assert (again.stable == trace.stable).all()


def test_semicolons_with_decimal_commas_say_the_same():
    plain, other = read_trace_csv(table()), read_trace_csv(table(mark=";").replace(".", ","))
    assert (plain.mass_g == other.mass_g).all()
    assert (plain.time_s == other.time_s).all()


def test_a_table_without_its_columns_is_refused():
    with pytest.raises(ReadingsError) as error:
        read_trace_csv("t,m\n1,2\n", "bench.csv")
    assert [str(p) for p in error.value.problems] == [
        "bench.csv, column time_s: the column time_s is missing. Give time in seconds and mass in "
        "grams: time_s,mass_g,stable.",
        "bench.csv, column mass_g: the column mass_g is missing. Give time in seconds and mass in "
        "grams: time_s,mass_g,stable.",
    ]


def test_cells_that_are_no_numbers_are_named_together():
    text = table().replace("50.003", "fifty").replace("50.007", "")
    with pytest.raises(ReadingsError) as error:
        read_trace_csv(text, "bench.csv")
    assert [str(p) for p in error.value.problems] == [
        "bench.csv, row 5, column mass_g: 'fifty' is no number. Give a number in every cell.",
        "bench.csv, row 9, column mass_g: '' is no number. Give a number in every cell.",
    ]


def test_time_that_goes_back_is_refused():
    with pytest.raises(ReadingsError, match=r"row 12, column time_s: time goes back from 1.8 to 1"):
        read_trace_csv(table().replace("2.0,50.010", "1,50.010"), "bench.csv")


def test_the_fewest_rows_from_both_sides():
    read_trace_csv(table(60))
    with pytest.raises(ReadingsError, match="59 rows are too few; 60 are the least"):
        read_trace_csv(table(59))


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=300) | st.text(alphabet='0123456789.,;\t\n"time_smass_g-e', max_size=300))
def test_any_text_is_a_trace_or_a_refusal(text):
    for head in ("", "time_s,mass_g\n"):
        try:
            trace = read_trace_csv(head + text)
        except BeadworthError as error:
            seen = error.problems
        else:
            seen = np.isfinite(trace.mass_g).all()
        assert seen


def test_a_knock_of_one_reading_moves_no_second():
    time = np.arange(500) * 0.2
    mass = 50.0 + 0.012 * time + np.random.default_rng(1).normal(0, 2e-3, time.size)
    knocked = mass.copy()
    knocked[122] += 0.1
    quiet, loud = second_means(Trace(time, mass)), second_means(Trace(time, knocked))
    assert np.abs(loud.mass_mg - quiet.mass_mg).max() < 3.0
    assert len(quiet.time_s) == 100


def test_seconds_without_a_row_are_left_out():
    time = np.concatenate([np.arange(0, 10, 0.2), np.arange(15, 25, 0.2)])
    found = second_means(Trace(time, np.full(time.size, 3.0)))
    assert len(found.time_s) == 20
    assert found.mass_mg == pytest.approx(3000.0)
