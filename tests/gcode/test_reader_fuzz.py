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


SHAPES = [
    b"G1 X000.000 Y00.000 E0.0000", b"G1 X000.000 Y00.000 E0.0000 F0000",
    b"G1X-0.00Y.000E-00.00000",
    b"G0 X-0.0 Y-00 F0000.0", b"G01  Z0.00\tX0.", b"G1 E-.00000 F00", b"G1 X0000000.0000000 E0 \r",
    b"G1 X00.000 Y00.000 E.00000 ; 00 mm", b"G1 X00.00 Y00.00;X0 E0\r", b"G1 F0", b"G1 X0 X0",
    b"G1 Y000.000 X00.000 E0.0000", b"G1 X00.000 Y00.000 Z00.000 E00000.00000 F00000.00000 ;",
    b"G1 X00.000 Y00.000 Z00.000 E0000.00000               F00000.00", b"G1 X00000000 E0",
]  # fmt: skip


@each(seed=range(some(6, long=200)))
def test_lines_that_differ_in_digits_alone_are_read_as_any_other(seed):
    """They are read by the shape of the one before; some are all zeros."""
    rng = np.random.default_rng(seed)
    few = [SHAPES[k] for k in rng.permutation(len(SHAPES))[: 2 + seed % 5]]
    lines = [b"G90", b"M83" if seed % 2 else b"M82", b"G1 F900"]
    for _ in range(300):
        line = bytearray(few[int(rng.integers(len(few)) * rng.random())])
        for k, c in enumerate(line[3:], 3):
            if c == ord("0"):
                line[k] = ord("0") + int(rng.integers(10) * (rng.random() < 0.7))
        lines.append(bytes(line))
    lines += [b"G91"] * (seed % 3 == 0) + lines[3:60] + [b"G20"] + lines[60:90]
    data = b"\n".join(lines) + b"\n" * (seed % 2)
    assert_same(data)
    for chunk_bytes in (64, 300, 1 << 20):
        fast = columns(scan(data, chunk_bytes=chunk_bytes)[0])
        slow = columns(scan(data, plain=False, chunk_bytes=chunk_bytes)[0])
        for name, column in fast.items():
            assert np.array_equal(column, slow[name]), name


@pytest.mark.parametrize("path", sorted(CORPUS.glob("*")), ids=lambda path: path.name)
def test_files_that_once_were_read_wrongly(path):
    for plain in (True, False):
        for chunk_bytes in (64, 1 << 20):
            assert_same(path.read_bytes(), plain=plain, chunk_bytes=chunk_bytes)
