"""Every check beside plain arithmetic, for three invented printers; the document quotes it."""

import importlib.util
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def script():
    path = ROOT / "benchmarks" / "fit_by_hand.py"
    spec = importlib.util.spec_from_file_location("fit_by_hand_script", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_the_tool_says_what_hand_work_says(script):
    rows = script.found()
    assert len(rows) > 30
    off = {
        (row.rig, row.check): (check.value, row.by_hand)
        for row, check in rows
        if check.value != pytest.approx(row.by_hand, rel=0.01)
    }
    assert off == {}


def test_the_document_has_the_table(script):
    text = (ROOT / "docs/explanation/fit-check.md").read_text()
    assert [row for row in script.table().splitlines() if row not in text] == []


def test_the_three_rigs_have_no_value_in_question(script):
    for row, check in script.found():
        assert "in question" not in check.why, row
