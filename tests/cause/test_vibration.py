"""Records of an accelerometer: read, refused, and their modes found."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from loops import fewest, some
from shaken import shaken, table

from beadworth.cause import modes, read_record, spectrum_of
from beadworth.core import BeadworthError, ReadingsError


def test_modes_hold_frequency_and_damping():
    runs = some(10, long=120)
    held = {"hertz": 0, "damping": 0}
    for seed in range(runs):
        rng = np.random.default_rng([5, seed])
        hertz, damping = rng.uniform(25, 110), rng.uniform(0.02, 0.08)
        t, a = shaken(hertz, damping, seed)
        found = modes(read_record(table(t, x_m_s2=a), "bang.csv"), "x")
        assert found, (seed, hertz, damping)
        held["hertz"] += abs(found[0].hertz - hertz) < 2.2 * found[0].hertz_u + 0.002 * hertz
        held["damping"] += (
            abs(found[0].damping - damping) < 2.5 * found[0].damping_u + 0.1 * damping
        )
    assert min(held.values()) >= fewest(runs, 0.9), held


def test_one_mode_is_one_mode_and_two_are_two():
    """The flanks of a mode lead back to its crest; one 30 % away is another."""
    for seed in range(some(4, long=40)):
        t, one = shaken(62.0, 0.05, seed, seconds=4.0)
        found = modes(read_record(table(t, x_m_s2=one), "one.csv"), "x")
        assert len([m for m in found if 50 < m.hertz < 75]) == 1, (seed, found)
        _, other = shaken(82.0, 0.03, seed + 100, seconds=4.0)
        found = modes(read_record(table(t, x_m_s2=one + other), "two.csv"), "x")
        near = [min(abs(m.hertz / hertz - 1) for m in found) for hertz in (62.0, 82.0)]
        assert max(near) < 0.04, (seed, found)


def test_spectrum_keeps_the_power():
    rng = np.random.default_rng(1)
    t = np.arange(4000) / 1000
    record = read_record(table(t, z_g=rng.standard_normal(4000)), "noise.csv")
    f, density = spectrum_of(record, "z")
    assert np.sum(density) * (f[1] - f[0]) == pytest.approx(9.80665**2, rel=0.1)


def test_units_are_turned_into_m_s2():
    t = np.arange(300) / 500
    one = read_record(table(t, x_m_s2=t, y_mm_s2=1000 * t, z_g=t / 9.80665), "u.csv")
    assert one.rate_hz == pytest.approx(500)
    assert one.axes["x"] == pytest.approx(one.axes["y"], abs=1e-6)
    assert one.axes["x"] == pytest.approx(one.axes["z"], abs=1e-6)


def test_refusals_say_where_and_what_to_do():
    with pytest.raises(ReadingsError) as error:
        read_record(b"t,ax\n1,2\n", "a.csv")
    assert str(error.value) == (
        "a.csv, column time_s: the column time_s is missing. Give the time in seconds.\n"
        "a.csv: no column holds an acceleration. Name them x_m_s2, y_mm_s2, z_g, whichever unit "
        "it is."
    )
    with pytest.raises(ReadingsError, match=r"a\.csv: 2 columns hold x\. Leave one column"):
        read_record(b"time_s,x_m_s2,x_g\n0,1,2\n", "a.csv")
    with pytest.raises(ReadingsError, match="this is no table of text"):
        read_record(b"time_s," + b"x" * 200_000 + b"\n0,1\n", "a.csv")
    t = np.arange(300) / 500
    good = table(t, x_m_s2=t).split(b"\n")
    with pytest.raises(ReadingsError, match=r"row 5, column x_m_s2: 'no' is no number"):
        read_record(b"\n".join([*good[:4], b"0.006,no", *good[5:]]), "a.csv")
    with pytest.raises(ReadingsError, match=r"row 100, column time_s: time steps by 4 ms"):
        read_record(b"\n".join(good[:99] + good[100:]), "a.csv")
    with pytest.raises(ReadingsError, match="9 rows are too few; 256 are the least"):
        read_record(b"\n".join(good[:10]), "a.csv")


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data):
    try:
        read_record(b"time_s,x_m_s2\n" + data, "a.csv")
    except BeadworthError as refused:
        remedy = refused.problems[0].remedy
        assert remedy
