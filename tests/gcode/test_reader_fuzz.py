"""Programs made at random: the scanner against the plain reader."""

from pathlib import Path

import numpy as np
import pytest
from gcode_compare import assert_same, columns, scan
from gcode_programs import damaged, program
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from loops import each, some

from beadworth.core import to_json

CORPUS = Path(__file__).parent / "data" / "corpus"
SLOW = settings(
    max_examples=some(80, long=300),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)
PIECES = st.sampled_from(
    [b"G", b"M", b"X", b"Y", b"Z", b"E", b"e", b"F", b"I", b"J", b"R", b"P", b"N", b"T", b"S",
     b"g1", b"G1", b"G2", b"G92", b"G91", b"M83", b"0", b"1", b"9", b".", b"-", b"+", b" ", b"\t",
     b"\n", b"\r", b"\r\n", b";", b"(", b")", b"*", b"%", b"/", b"#", b"[", b'"', b"_", b"\xff",
     b"1e5"]
)  # fmt: skip


@pytest.mark.parametrize("make", [program, damaged])
@each(block=range(some(4, long=20)))
def test_seeded_programs_are_read_as_the_plain_reader_does(make, block):
    for seed in range(block * 40, block * 40 + 40):
        data = make(seed)
        try:
            assert_same(data, follow=seed % 3 == 0)
            assert_same(data, plain=False, chunk_bytes=64)
        except Exception as error:
            error.add_note(f"seed {seed}: {data!r}")
            raise


@given(
    pieces=st.lists(PIECES, max_size=60), follow=st.booleans(), chunk=st.sampled_from([64, 4096])
)
@SLOW
def test_pieces_of_words_in_any_order(pieces, follow, chunk):
    assert_same(b"".join(pieces), follow, chunk_bytes=chunk)


@given(data=st.binary(max_size=400))
@SLOW
def test_any_bytes_end_in_a_summary_and_finite_moves(data):
    chunks, seen = scan(data, chunk_bytes=64)
    for chunk in chunks:
        for name in ("x0", "y0", "z0", "x", "y", "z", "e_mm", "feed_mm_s", "length_mm"):
            assert np.isfinite(getattr(chunk, name)).all()
    assert to_json(seen)["moves"] >= 0


@given(seed=st.integers(0, 10**6))
@SLOW
@example(seed=900)  # filament pushed while z alone moves leaves what was drawn back as it was
def test_the_fast_path_changes_nothing(seed):
    data = program(seed) * 3
    fast, slow = scan(data), scan(data, plain=False)
    for name, column in columns(fast[0]).items():
        # Totals are summed in another order; the columns must be the same bits.
        assert np.array_equal(column, columns(slow[0])[name]), name
    for one, other in zip(fast[1].readings, slow[1].readings, strict=True):
        assert one.reading == other.reading
        assert one.filament_net_mm == pytest.approx(other.filament_net_mm, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("path", sorted(CORPUS.glob("*")), ids=lambda path: path.name)
def test_files_that_once_were_read_wrongly(path):
    for plain in (True, False):
        for chunk_bytes in (64, 1 << 20):
            assert_same(path.read_bytes(), plain=plain, chunk_bytes=chunk_bytes)
