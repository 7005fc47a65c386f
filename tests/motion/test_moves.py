"""Moves from G-code chunks: overrides, stops, limits on the way, and real print files."""

from pathlib import Path

import numpy as np
import pytest
from loops import each
from own_prints import FOLDER

from beadworth.gcode import read
from beadworth.motion import Limits, MoveTable, Planner, plan
from beadworth.rig import Rig

PRINTS = Path(__file__).resolve().parents[3] / "shared" / "prints"
SMALL = (
    "abs-e-small-box-01.gcode",
    "compact-rel-e-arcs-first-layers-01.gcode",
    "two-tools-rel-xyz-01.gcode",
)
PROGRAM = b"""M83
G1 X100 F6000
M220 S50
M221 S90
G1 X200 E5
M204 P500
G4 S1
G1 X300 E5
M104 S210
G3 X300 Y20 I0 J10 E1
M203 X20
G1 X200
M400
"""


def only_chunk(source):
    (chunk,) = read(source, chunk_bytes=1 << 24)
    return chunk


def test_a_chunk_becomes_moves_with_overrides_stops_and_limits():
    chunk = only_chunk(PROGRAM)
    moves = MoveTable.from_chunk(chunk)
    assert moves.feed_mm_s == pytest.approx([100, 50, 50, 50, 50])
    assert moves.filament_mm == pytest.approx([0, 4.5, 4.5, 0.9, 0])
    assert moves.stop_before.tolist() == [2, 5]  # the dwell and M400; M104 waits for nothing
    assert moves.arcs.move.tolist() == [3]
    base = Limits.from_rig(Rig(name="bare"))
    timing = plan(moves, base.in_chunk(chunk))
    assert timing.acceleration_mm_s2.tolist() == [1000, 1000, 500, 500, 500]
    assert timing.junction_mm_s[2] == 0
    assert timing.junction_mm_s[3] > 30  # the arc starts straight on
    assert timing.top_mm_s[4] == pytest.approx(20)


def test_nothing_is_copied_without_an_override():
    chunk = only_chunk(b"G1 X10 F600\nG1 Y10\n")
    moves = MoveTable.from_chunk(chunk)
    assert np.shares_memory(moves.feed_mm_s, chunk.feed_mm_s)
    assert np.shares_memory(moves.filament_mm, chunk.e_mm)


@each(path=[*sorted(FOLDER.glob("*.gcode")), *(PRINTS / name for name in SMALL)])
def test_prints_equal_the_plain_twin(plain, path):
    if not path.exists():  # the real ones are not part of the repository
        return
    for chunk in read(path, chunk_bytes=1 << 24):
        moves = MoveTable.from_chunk(chunk)
        for queue in (None, 16):
            limits = Limits(Limits.from_rig(Rig(name="bare")).table, queue).in_chunk(chunk)
            times, _, _ = plain.plan(moves, limits)
            timing = plan(moves, limits)
            assert timing.time_s.sum() == pytest.approx(times.sum(), rel=1e-9)
            np.testing.assert_allclose(timing.time_s, times, rtol=1e-6, atol=1e-8)


@pytest.mark.parametrize(
    ("file", "chunk_bytes", "at_least"),
    [
        (FOLDER / "rounded_arcs.gcode", 64, 20),
        (PRINTS / "arc-heavy-rel-e-01.gcode", 1 << 14, 20),
    ],
    ids=["own", "real"],
)
def test_a_print_in_small_chunks_is_the_whole(file, chunk_bytes, at_least):
    if not file.exists():
        pytest.skip("print files are not here")
    base = Limits.from_rig(Rig(name="bare"))
    chunk = only_chunk(file)
    whole = plan(MoveTable.from_chunk(chunk), base.in_chunk(chunk))
    planner, parts = Planner(), []
    for small in read(file, chunk_bytes=chunk_bytes):
        parts += planner.add(MoveTable.from_chunk(small), base.in_chunk(small))
    parts += planner.finish()
    assert len(parts) > at_least
    np.testing.assert_array_equal(np.concatenate([t.time_s for _, t in parts]), whole.time_s)
