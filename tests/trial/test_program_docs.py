"""The coupon program's page: its tables, drawing and word list are what the code makes now."""

import importlib.util
from pathlib import Path

import pytest

from beadworth.gcode.writer import WORDS
from beadworth.trial.programs.header import CAUTIONS

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "explanation" / "coupon-program.md"


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location(
        "coupon_program_script", ROOT / "benchmarks" / "coupon_program.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_tables_on_the_page_are_those_the_script_prints(script):
    text = PAGE.read_text(encoding="utf-8")
    assert script.coil_table() in text
    assert script.file_table() in text


def test_the_drawing_is_the_one_the_script_draws(script):
    assert script.DRAWING.read_text(encoding="utf-8") == script.drawing()


def test_every_word_is_on_the_page():
    (line,) = [w for w in PAGE.read_text(encoding="utf-8").splitlines() if w.startswith("`G0 ")]
    assert set(line.split("`")[1].split()) == WORDS


def test_cautions_stand_in_the_how_to_page():
    text = (ROOT / "docs" / "how-to" / "run-a-coupon-program.md").read_text(encoding="utf-8")
    for part in ("burn", "fumes", "unattended", "licensed people under your local codes"):
        assert part in text
        assert any(part.lower() in caution.lower() for caution in CAUTIONS)
