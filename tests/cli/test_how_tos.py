"""The how-to pages about a rig are true: their commands run, and print what the pages quote."""

import importlib.util
import re
import shlex
from pathlib import Path

import pytest
from cli_support import CliRunner

from beadworth.cli import app

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.usefixtures("full_fits")  # their figures are quoted here
PAGES = ("check-fit", "bring-up", "predict-a-hot-end")


def squeezed(text):
    return re.sub(r"\s+", " ", text).strip()


@pytest.mark.parametrize("page", PAGES)
def test_commands_run_and_print_what_is_quoted(page, tmp_path, monkeypatch):
    """In a copy of the examples, one command after the other as the page has them."""
    for file in (ROOT / "docs" / "examples").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "160")
    monkeypatch.setenv("BEADWORTH_BENCH", str(tmp_path / "how-to.bench"))
    text = (ROOT / "docs" / "how-to" / f"{page}.md").read_text()
    printed, ran, quoted = "", 0, 0
    for kind, block in re.findall(r"```(sh|text)\n(.*?)```", text, flags=re.S):
        if kind == "text":
            for line in block.strip().splitlines():
                assert squeezed(line) in printed, line
                quoted += 1
            continue
        printed = ""
        for command in block.strip().splitlines():
            _, *arguments = shlex.split(command)
            result = CliRunner().invoke(app, arguments)
            assert result.exit_code == 0, (command, result.exception)
            printed += squeezed(result.output) + " "
            ran += 1
    assert ran
    assert quoted


def test_the_examples_are_current():
    spec = importlib.util.spec_from_file_location("made", ROOT / "tools" / "make_examples.py")
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    for name, make in tool.MADE.items():
        assert (tool.FOLDER / name).read_text() == make(), "run python tools/make_examples.py"
