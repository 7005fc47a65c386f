"""The tests' own ``--processes``: what fails, ends its process or is left behind is said."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

SUPPORT = Path(__file__).parent / "support"
FINE = """
import pytest

@pytest.fixture(scope="session")
def lent(tmp_path_factory):
    yield tmp_path_factory.mktemp("lent")
    PLACE.joinpath(f"{__name__} took it back").touch()

@pytest.mark.parametrize("number", range(3))
def test_fine(lent, number):
    assert lent.is_dir()
"""
TROUBLED = """
import os, signal
import pytest

def test_wrong(capfd):
    print("what it said")
    assert 1 == 2

def test_ends_its_process():
    os.kill(os.getpid(), signal.SIGKILL)

def test_after_it(tmp_path):
    assert tmp_path.is_dir()

def test_left_out():
    pytest.skip("not here")

@pytest.fixture
def torn():
    yield
    raise ValueError("when it was put away")

def test_put_away_badly(torn): pass
"""


@pytest.fixture
def run(tmp_path):
    """Run files of tests; gives the exit code and what was printed."""

    def go(files: dict[str, str], *options: str) -> tuple[int, str]:
        for name, text in files.items():
            place = f"from pathlib import Path\nPLACE = Path({str(tmp_path)!r})\n"
            (tmp_path / f"test_{name}.py").write_text(place + text)
        command = [sys.executable, "-m", "pytest", "-p", "side_by_side", "-p", "no:cacheprovider",
                   "-c", "/dev/null", "--rootdir", str(tmp_path), "-rfEs", "--processes", "2",
                   "--import-mode=importlib", "-p", "no:schemathesis", "-p", "no:hypothesispytest",
                   *options, str(tmp_path)]  # fmt: skip
        env = {**os.environ, "PYTHONPATH": str(SUPPORT), "PYTEST_DEBUG_TEMPROOT": str(tmp_path)}
        done = subprocess.run(
            command, check=False, capture_output=True, text=True, cwd=tmp_path, env=env, timeout=60
        )
        return done.returncode, done.stdout + done.stderr

    return go


def test_each_test_is_run_once_and_what_was_lent_goes_back(run, tmp_path):
    code, said = run({"a": FINE, "b": FINE, "c": FINE})
    assert code == 0, said
    assert "9 passed" in said
    assert len(list(tmp_path.glob("test_* took it back"))) >= 2


def test_what_fails_or_ends_its_process_is_said_and_the_rest_is_run(run):
    code, said = run({"a": FINE, "b": TROUBLED, "c": FINE})
    assert code == 1
    assert "2 failed, 8 passed, 1 skipped, 1 error" in said
    assert "FAILED test_b.py::test_wrong - assert 1 == 2" in said
    assert re.search(r"Captured stdout call -+\nwhat it said", said)
    assert "FAILED test_b.py::test_ends_its_process - its process ended with it: -9" in said
    assert "ERROR test_b.py::test_put_away_badly - ValueError: when it was put away" in said
    assert "not here" in said


def test_what_stayed_set_up_and_cannot_be_put_away_is_an_error(run):
    stays = """
import pytest

@pytest.fixture(scope="session")
def stays():
    yield
    raise ValueError("it does not go")

def test_uses_it(stays): pass
"""
    code, said = run({"a": FINE, "b": stays})
    assert code == 1
    assert "4 passed, 1 error" in said
    assert "ValueError: it does not go" in said


def test_it_stops_when_told_to_and_takes_back_what_was_lent(run, tmp_path):
    wrong = """
import time

def test_wrong():
    while not PLACE.joinpath("begun").exists():
        time.sleep(0.01)
    assert 1 == 2
"""
    slow = """
import time

def test_slow(lent):
    PLACE.joinpath("begun").touch()
    time.sleep(30)
"""
    code, said = run({"a": wrong, "b": FINE + slow}, "-x")
    assert code == 1
    assert "stopping after 1 failures" in said
    assert len(list(tmp_path.glob("test_* took it back"))) == 1


def test_a_folder_that_all_would_empty_is_refused(run, tmp_path):
    code, said = run({"a": FINE}, "--basetemp", str(tmp_path / "own"))
    assert code == pytest.ExitCode.USAGE_ERROR
    assert "leave --basetemp out" in said


AFTER_THE_TOOL = """
def test_the_tool_has_ended():
    assert PLACE.joinpath("compiled").exists()
"""


def tool(tmp_path, code):
    """Put a program in the place of the one that compiles the kernels."""
    file = tmp_path / "tool.py"
    file.write_text(code)
    text = f"import kernels_first\nkernels_first.TOOL = {str(file)!r}\n"
    tmp_path.joinpath("conftest.py").write_text(text)


def test_no_test_begins_before_the_kernels_are_compiled(run, tmp_path):
    tool(tmp_path, "import time, pathlib; time.sleep(1); pathlib.Path('compiled').touch()")
    code, said = run({"a": AFTER_THE_TOOL, "b": AFTER_THE_TOOL}, "-p", "kernels_first")
    assert code == 0, said
    assert "2 passed" in said


def test_where_the_kernels_cannot_be_compiled_no_test_is_run(run, tmp_path):
    tool(tmp_path, "import pathlib, sys; pathlib.Path('compiled').touch(); sys.exit(3)")
    code, said = run({"a": AFTER_THE_TOOL, "b": AFTER_THE_TOOL}, "-p", "kernels_first")
    assert code == 1
    assert "passed" not in said
    assert f"could not be compiled: run {tmp_path / 'tool.py'} to see why" in said
