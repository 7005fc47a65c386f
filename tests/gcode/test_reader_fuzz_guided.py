"""A coverage-guided fuzz run on the reader, and the corpus it left, on every run of the tests.

``BEADWORTH_FUZZ_SECONDS`` sets how long (without it 4 s, 60 s in the long run);
``tools/fuzz_gcode.py`` runs longer.
"""

import os
import re
import sys
from pathlib import Path

import pytest
from loops import some

pytest.importorskip("atheris")
HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1] / "tools"))
from fuzz_gcode import CORPUS, run  # noqa: E402 - found by the line above

SECONDS = int(os.environ.get("BEADWORTH_FUZZ_SECONDS") or some(4, long=60))


def test_guided_fuzzing_finds_nothing(tmp_path):
    corpus, found = tmp_path / "corpus", tmp_path / "found"
    corpus.mkdir(), found.mkdir()
    for path in CORPUS.iterdir():
        (corpus / path.name).write_bytes(path.read_bytes())
    code, said = run(SECONDS, corpus, found, seed=20261125)  # new paths are the tool's to look for
    failed = {path.name: path.read_bytes() for path in found.iterdir()}
    for fault in ("a number left out by the plain reader", "X taken for Z"):
        assert f"would notice {fault}" in said
    assert code == 0, f"{failed}\n{said[:3000]}"
    assert not failed
    runs = int(re.findall(r"stat::number_of_executed_units:\s*(\d+)", said)[0])
    branches = int(re.findall(r"cov: (\d+)", said)[-1])
    assert runs > len(list(CORPUS.iterdir()))  # the kept corpus was run through, and more
    assert branches > 1000  # instrumented code reports: without it libFuzzer is blind
