"""A coverage-guided fuzz run on the reader, and the corpus it left, on every run of the tests.

``BEADWORTH_FUZZ_SECONDS`` sets how long (without it 6 s, 60 s in the long run);
``tools/fuzz_gcode.py`` runs longer.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from loops import some

pytest.importorskip("atheris")
HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1] / "tools"))
from fuzz_gcode import CORPUS, run  # noqa: E402 - found by the line above

SECONDS = int(os.environ.get("BEADWORTH_FUZZ_SECONDS") or some(6, long=60))
PLANTED = """
import sys
sys.argv = ["fuzz"]
import fuzz_guided, gcode_reference
fuzz_guided.one_input(b"\\x02G1 X5000 F60\\n")
{fault}
try:
    fuzz_guided.one_input(b"\\x02G1 X5000 F60\\n")
except AssertionError:
    print("found")
"""


def test_guided_fuzzing_finds_nothing(tmp_path):
    corpus, found = tmp_path / "corpus", tmp_path / "found"
    corpus.mkdir(), found.mkdir()
    for path in CORPUS.iterdir():
        (corpus / path.name).write_bytes(path.read_bytes())
    code, said = run(SECONDS, corpus, found, seed=20261125)  # new paths are the tool's to look for
    failed = {path.name: path.read_bytes() for path in found.iterdir()}
    assert code == 0, f"{failed}\n{said[:3000]}"
    assert not failed
    runs = int(re.findall(r"stat::number_of_executed_units:\s*(\d+)", said)[0])
    branches = int(re.findall(r"cov: (\d+)", said)[-1])
    assert runs > len(list(CORPUS.iterdir()))  # the kept corpus was run through, and more
    assert branches > 1000  # instrumented code reports: without it libFuzzer is blind


@pytest.mark.parametrize(
    "fault",
    [
        "gcode_reference.LIMIT = 1000.0",  # the plain reader leaves the number out
        "fuzz_guided.INTERPRETED.__globals__['WX'] = 2",  # the interpreted scanner takes X for Z
    ],
)
def test_the_run_would_notice_readers_that_differ(fault):
    done = subprocess.run(
        [sys.executable, "-c", PLANTED.format(fault=fault)],
        cwd=HERE, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.strip() == "found"
