"""Figures in the fit-check document are those its script prints."""

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = (ROOT / "docs" / "explanation" / "fit-check.md").read_text()


@pytest.fixture(scope="module")
def script():
    path = ROOT / "benchmarks" / "fit_check.py"
    spec = importlib.util.spec_from_file_location("fit_check_script", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("part", ["table", "changes_table", "curve"])
def test_tables_are_what_the_script_prints(script, part):
    rows = getattr(script, part)().splitlines()
    assert len(rows) > 2
    assert [row for row in rows if row not in DOCUMENT] == []


def test_the_picture_is_the_one_the_script_draws(script):
    drawn = script.side_view(script.upgrade(script.PARENT, script.CHANGES))
    assert (ROOT / "docs" / "img" / "side-view.svg").read_text(encoding="utf-8") == drawn
