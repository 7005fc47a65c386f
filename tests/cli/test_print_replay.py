"""What ``beadworth print replay`` says of files that are no prints, on the terminal and as JSON."""

import json

import pytest
from typer.testing import CliRunner

from beadworth.cli import app
from beadworth.replay.survey import Job, survey_row

TEXT = "[project]\nname = 'x'\nname = 'y'\nmodule = 1\n"


@pytest.fixture
def no_print(tmp_path):
    file = tmp_path / "settings.gcode"
    file.write_text(TEXT)
    return file


def test_a_file_that_moves_nothing_is_told_so_and_how_it_was_read(no_print):
    said = CliRunner().invoke(app, ["print", "replay", str(no_print)])
    assert said.exit_code == 0, said.output
    assert said.stdout.startswith("No line of it moves anything (4 read): this is no print.")
    assert "ceiling" not in said.stdout
    assert "layers" not in said.stdout
    assert "Unrecognised: name, 2 times, first in line 2" in said.stdout
    assert "Unrecognised: module, once, in line 4" in said.stdout


def test_its_json_keeps_the_counts(no_print):
    said = CliRunner().invoke(app, ["print", "replay", str(no_print), "--json"])
    found = json.loads(said.stdout)
    assert (found["moves"], found["layers"]) == (0, 0)
    assert found["verdict"].endswith("this is no print.")


def test_a_program_that_lays_nothing_has_no_layers(tmp_path):
    file = tmp_path / "travel.gcode"
    file.write_text("G1 X10 F600\nG1 X90\n")
    said = CliRunner().invoke(app, ["print", "replay", str(file)])
    assert "lays nothing: no move pushes filament." in said.stdout
    assert "2 moves, 0 layers" in said.stdout


def test_a_survey_lists_it_with_the_reason(no_print, tmp_path):
    row = survey_row(str(no_print), Job({"name": "R"}, None, None, None))
    assert row["problem"] == "no line of it moves anything (4 read): this is no print."
    good = tmp_path / "good.gcode"
    good.write_text("G1 X10 E1 F600\n")
    assert survey_row(str(good), Job({"name": "R"}, None, None, None))["problem"] is None
