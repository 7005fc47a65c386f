"""Times as people say them; each change of unit is held from both sides."""

import math
import re
import time
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.text import duration, moment


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0.0 s"),
        (0.4, "0.4 s"),
        (9.94, "9.9 s"),
        (9.96, "10 s"),
        (45, "45 s"),
        (89.4, "89 s"),
        (89.6, "1 min"),
        (91, "2 min"),
        (59.4 * 60, "59 min"),
        (59.6 * 60, "1 h"),
        (5000, "1 h 23 min"),
        (3 * 3600 + 300, "3 h 05 min"),
        (30 * 3600, "30 h"),
        (-45, "−45 s"),
        (None, "–"),
        (math.inf, "–"),
        (math.nan, "–"),
    ],
)
def test_a_time_is_said_in_the_units_of_its_size(seconds, text):
    assert duration(seconds) == text


@given(st.floats(0, 1e7))
def test_what_is_said_is_within_half_of_its_last_unit(seconds):
    units = {"h": 3600.0, "min": 60.0, "s": 1.0}
    said = duration(seconds)
    parts = re.findall(r"([\d.]+) (h|min|s)", said)
    assert " ".join(f"{n} {unit}" for n, unit in parts) == said
    total = sum(float(n) * units[unit] for n, unit in parts)
    last = 60.0 if seconds >= 89.5 else 1.0 if seconds >= 9.95 else 0.1
    assert abs(total - seconds) <= last / 2 + 1e-6


def test_a_moment_is_said_in_this_machines_zone(monkeypatch):
    with monkeypatch.context() as context:
        context.setenv("TZ", "EAST-05:30")  # POSIX: what is added to come to UTC
        time.tzset()
        said = moment(datetime(2026, 11, 30, 20, 59, 59, tzinfo=UTC))
    time.tzset()
    assert said == "2026-12-01 02:29"
