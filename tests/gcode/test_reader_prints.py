"""Real print files: counts as their index tells, lengths as a plain reader finds them."""

import gzip
import re
from pathlib import Path

import pytest
from gcode_compare import assert_same

from beadworth import gcode

PRINTS = Path(__file__).resolve().parents[3] / "shared" / "prints"
HERE = Path(__file__).parent / "data"


def index_rows():
    if not PRINTS.is_dir():
        return []
    rows = [
        [cell.strip() for cell in line.split("|")[1:-1]]
        for line in (PRINTS / "INDEX.md").read_text().splitlines()
    ]
    return [row for row in rows if len(row) > 9 and ".gcode" in row[0]]


ROWS = index_rows()
pytestmark = pytest.mark.filterwarnings("error")
needs_prints = pytest.mark.skipif(not ROWS, reason="the folder of real prints is not here")


@needs_prints
@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_counts_are_those_of_the_index(row):
    name, size, _, lines, moves, extruding, _, arcs, layers = row[:9]
    seen = gcode.summary(PRINTS / name)
    assert (seen.bytes, seen.lines) == (int(size), int(lines))
    assert (seen.moves, seen.extruding_moves, seen.arcs) == (int(moves), int(extruding), int(arcs))
    assert seen.bad_arcs == 0
    told = {"continuous": None, "-": 0}.get(layers, layers)
    assert seen.layers == (int(told) if isinstance(told, str) else told)
    repeated = re.search(r"(\d+) lines without a command word", row[9])
    assert seen.repeated_motions == (int(repeated[1]) if repeated else 0)


@needs_prints
@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_moves_are_those_of_the_plain_reader(row):
    data = (PRINTS / row[0]).read_bytes()
    if row[0].endswith(".gz"):
        data = gzip.decompress(data)
    assert_same(data)


@pytest.mark.parametrize("path", sorted(HERE.glob("*.gcode")), ids=lambda path: path.stem)
@pytest.mark.parametrize("follow", [False, True])
@pytest.mark.parametrize("plain", [True, False])
@pytest.mark.parametrize("chunk_bytes", [64, 1 << 20])
def test_own_files_are_read_as_the_plain_reader_does(path, follow, plain, chunk_bytes):
    assert_same(path.read_bytes(), follow, plain, chunk_bytes)
