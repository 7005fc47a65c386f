"""Whatever stands in a file: a replay, a map, a copy, or a refusal that teaches, never a crash."""

import io
import json
import math

import numpy as np
import pytest
from gcode_programs import damaged, program
from loops import each, some
from replay_support import RIG, make_fit

from beadworth.core import to_json
from beadworth.core.errors import GcodeError, LimitError
from beadworth.replay import check_copy, replay, retime
from beadworth.replay.layer_map import segments, sheet_of_layer, sheets

HOSTILE = [
    b"", b"\n", b";", b"G1 X1e9 F0.0001\n", b"M83\nG1 X1 E1 F0.00000000000000000001\n",
    b"M83\nG1 X1e-9 E999999999 F1e9\n", b"M104 S1e9\nM83\nG1 X1 E1 F600\n",
    b"M83\nM220 S0.000001\nG1 X1 E1 F600\n", b"M83\nM221 S1e9\nG1 X1 E1e9 F600\n",
    b"M204 S0\nM201 X0 Y0\nM83\nG1 X1 E1 F600\n", b"M205 X0 Y0 E0 J0\nM83\nG1 X1 E1 F600\nG1 Y1\n",
    b"G4 S1e9\nG4 P1e9\n", b"M83\nM104 S220\nG2 I1e9 P10000 E1 F600\n",
    b"M83\nM104 S-50\nG1 X1 E1 F600\n", b"M83\nM104 S220\nG2 I5 P1000000000 E1 F600\n",
    b"M83\nG1 Z1e9 E1 F600\nG1 Z-1e9 E1\n" + b"".join(b"G1 Z%d X%d E1\n" % (i, i % 7)
                                                     for i in range(3000)),
    b"M83\nG93\nG1 E1 F1\nG1 X0.000000001 E1 F1\n", b"M83\nG1 X1 E1 F600\n" + b"G1 X1 E1\n" * 500,
]  # fmt: skip


def numbers(data):
    """Every float in nested lists and dictionaries."""
    if isinstance(data, dict):
        for value in data.values():
            yield from numbers(value)
    elif isinstance(data, (list, tuple)):
        for value in data:
            yield from numbers(value)
    elif isinstance(data, float):
        yield data


def survive(text):
    found = replay(text, RIG, make_fit())
    told = to_json(found)
    told.pop("problems")  # these show what stood there, NaN and 1e308 included
    assert all(math.isfinite(value) for value in numbers(told))
    json.dumps(told, allow_nan=False)
    assert found.time_s >= found.dwell_s >= 0
    assert found.commanded_s + sum(found.held_back_s.values()) + found.dwell_s == pytest.approx(
        found.time_s, rel=1e-6, abs=1e-6
    )
    sheets(found), sheet_of_layer(found)
    for part in segments(text, RIG, make_fit()):
        for name in part.dtype.names:
            assert not np.isnan(part[name].astype(float)).any(), name
    out = io.BytesIO()
    refused = made = None
    try:
        made = retime(text, out, RIG, make_fit())
    except (LimitError, GcodeError) as error:
        refused = error
    if made is not None:
        check_copy(made, replay(out.getvalue(), RIG, make_fit()))
    else:
        assert out.getvalue() == b""
        assert all(problem.remedy for problem in refused.problems)


@pytest.mark.parametrize("make", [program, damaged])
@each(seed=range(some(40, long=2000)))
def test_programs_made_at_random(make, seed):
    survive(make(seed))


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_files(text):
    survive(text)
