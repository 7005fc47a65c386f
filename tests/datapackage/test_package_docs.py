"""The documents about packages say what the code does."""

import importlib.util
import re
from pathlib import Path

from beadworth.typical.classes import BORE_BORDERS_MM, ZONE_BORDERS_MM

ROOT = Path(__file__).resolve().parents[2]
EXPLAINED = ROOT / "docs" / "explanation" / "typical-values.md"


def tool(name):
    spec = importlib.util.spec_from_file_location(name, ROOT / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_reference_of_files_columns_and_units_is_current():
    made = tool("tools/make_package_reference")
    assert made.TARGET.read_text() == made.reference_text(), (
        "run python tools/make_package_reference.py"
    )


def test_borders_of_the_classes_are_those_explained():
    text = EXPLAINED.read_text()
    for border in (*ZONE_BORDERS_MM, *BORE_BORDERS_MM):
        assert re.search(rf"\b{border:g}\b", text), border


def test_coverage_quoted_is_what_the_script_measures():
    """One row of the table run again: the script draws from a seed, so digits must agree."""
    bench = tool("benchmarks/pooling_coverage")
    mean, ahead = bench.covered(3, 0.2)
    row = f"| 3 | 0.2 | {100 * mean:.0f} % | {100 * ahead:.0f} % |"
    assert row in EXPLAINED.read_text()
