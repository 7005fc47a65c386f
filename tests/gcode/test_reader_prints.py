"""Print files, real and our own: counts as their index has them, moves as read plainly."""

import gzip
import json
import re
from pathlib import Path

import own_prints
import pytest
from gcode_compare import assert_same
from loops import each, some

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
@each(row=ROWS or [None])
def test_moves_are_those_of_the_plain_reader(row):
    """Reading 17 MB plainly takes minutes: small files always, large ones in the long tests."""
    if int(row[1]) > some(400_000, long=10**9):
        return
    data = (PRINTS / row[0]).read_bytes()
    if row[0].endswith(".gz"):
        data = gzip.decompress(data)
    assert_same(data)


@each(
    path=sorted(HERE.glob("*.gcode")) + sorted(own_prints.FOLDER.glob("*.gcode")),
    follow=[False, True],
    plain=[True, False],
    chunk_bytes=[64, 1 << 20],
)
def test_own_files_are_read_as_the_plain_reader_does(path, follow, plain, chunk_bytes):
    assert_same(path.read_bytes(), follow, plain, chunk_bytes)


OWN = json.loads((own_prints.FOLDER / "index.json").read_text())


@pytest.mark.parametrize("name", OWN)
def test_counts_of_own_prints_are_those_of_their_writer(name):
    seen = gcode.summary(own_prints.FOLDER / name)
    row = dict(OWN[name])
    row.pop("stands_for")
    assert seen.filament_net_mm == pytest.approx(row.pop("filament_mm"), abs=1e-4)
    assert {key: getattr(seen, key) for key in row} == row
    assert seen.problem_counts == {}
    assert seen.bad_arcs == 0


def test_own_prints_are_what_their_writer_writes():
    found = {file.name: file.read_bytes() for file in own_prints.FOLDER.iterdir()}
    assert found == own_prints.written()
