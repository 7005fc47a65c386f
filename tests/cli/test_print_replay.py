"""What ``beadworth print replay`` says of files that are no prints, on the terminal and as JSON."""

import gzip
import json
import subprocess
import sys

import pytest
from cli_support import CliRunner
from replay_support import RIG, make_fit, straight

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
    assert said.exit_code == 2, said.output
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


@pytest.fixture
def under_and_over(tmp_path):
    """A rig, a capacity of 14 mm³/s at 220 °C, and prints under and over it."""
    from beadworth.capacity import fit_to_json
    from beadworth.core import to_toml

    (tmp_path / "rig.toml").write_text(to_toml(RIG))
    (tmp_path / "fit.json").write_text(json.dumps(fit_to_json(make_fit())))
    for name, flow in (("under", 5.0), ("over", 30.0)):
        (tmp_path / f"{name}.gcode").write_text(straight(flow, count=3))
    return tmp_path


def retime(folder, name, *more):
    words = ["print", "retime", str(folder / name), "--rig", str(folder / "rig.toml")]
    said = CliRunner().invoke(app, [*words, "--capacity", str(folder / "fit.json"), *more])
    assert said.exit_code == 0, said.output
    return said.stdout


def test_a_print_under_its_ceiling_is_left_alone_and_its_bytes_copied_on_demand(under_and_over):
    said = retime(under_and_over, "under.gcode")
    assert said.startswith("Under the ceiling less the reserve already: nothing is changed. ")
    assert said.rstrip().endswith("Nothing was written.")
    assert not (under_and_over / "under-retimed.gcode").exists()
    retime(under_and_over, "under.gcode", "--out", str(under_and_over / "copy.gcode"))
    copy, own = (under_and_over / name for name in ("copy.gcode", "under.gcode"))
    assert copy.read_bytes() == own.read_bytes()


def test_a_copy_is_written_beside_the_print_or_packed_where_its_name_says_so(under_and_over):
    said = retime(under_and_over, "over.gcode")
    assert "looks made for another hot end" in said
    beside = under_and_over / "over-retimed.gcode"
    assert f"Written: {beside}" in said.replace("\n", "")
    packed = under_and_over / "over.gcode.gz"
    found = json.loads(retime(under_and_over, "over.gcode", "--out", str(packed), "--json"))
    assert (found["moves_slower"], found["other_hot_end"], found["by_peak"]) == (3, True, False)
    assert gzip.decompress(packed.read_bytes()) == beside.read_bytes()


def test_a_replay_without_capacity_loads_neither_the_store_nor_the_fit(tmp_path):
    file = tmp_path / "beads.gcode"
    file.write_text(straight(8.0, count=4))
    probe = (
        f"import sys; sys.argv = ['beadworth', 'print', 'replay', {str(file)!r}]\n"
        "from beadworth.cli import main\n"
        "try:\n    main()\nexcept SystemExit: pass\n"
        "heavy = {'sqlalchemy', 'fastapi', 'beadworth.store', 'beadworth.capacity.fitting.law'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout


def test_a_replay_loads_nothing_it_does_not_need(no_print):
    """The compiler of what is compiled already, and a progress bar that nobody sees."""
    CliRunner().invoke(app, ["print", "replay", str(no_print)])  # compiles what is not compiled
    probe = (
        f"import sys; sys.argv = ['beadworth', 'print', 'replay', {str(no_print)!r}]\n"
        "from beadworth.cli import main\n"
        "try:\n    main()\nexcept SystemExit: pass\n"
        "unused = {'numba', 'scipy', 'rich', 'sqlalchemy', 'statistics'}\n"
        "print('LOADED', sorted(unused & set(sys.modules)), 'llvmlite' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert "LOADED [] True" in done.stdout
