"""Figures in the melt document are those its script prints."""

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = (ROOT / "docs" / "explanation" / "melt.md").read_text()


@pytest.fixture(scope="module")
def script():
    path = ROOT / "benchmarks" / "melt_published.py"
    spec = importlib.util.spec_from_file_location("melt_published", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    "part",
    [
        "convergence",
        "published",
        "lowest_temperatures",
        "first_flow",
        "relative_force",
        "left_out_terms",
        "trade_facts",
        "directions",
        "shares",
        "intervals",
    ],
)
def test_tables_are_what_the_script_prints(script, capsys, part):
    getattr(script, part)()
    rows = [line for line in capsys.readouterr().out.splitlines() if line.startswith("|")]
    assert len(rows) > 4
    missing = [row for row in rows if row not in DOCUMENT]
    assert missing == []
