"""What is declared is what is imported, and what is pinned is what gets installed."""

import importlib
import re
import shutil
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions, requires, version
from pathlib import Path

import module_graph as graph
import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from beadworth.core import extra_remedy

REPOSITORY = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["project"]
RUNTIME_EXTRAS = ("postgres", "cluster", "tables")


def asked_for(*extras):
    """What the project itself asks for, with some extras."""
    lists = [PROJECT["dependencies"], *(PROJECT["optional-dependencies"][e] for e in extras)]
    return [text for texts in lists for text in texts if not text.startswith("beadworth")]


def declared(*extras):
    """Canonical names of what the project itself asks for."""
    return {canonicalize_name(Requirement(text).name) for text in asked_for(*extras)}


IMPORT = re.compile(r"^ *(?:from (\w+)[\w.]* import |import (\w+)[\w.]*(?: as \w+)?$)", re.M)
"""A line that imports a library; the style checker allows one on a line."""


def imported():
    """Top-level modules that the source imports, not counting the standard library and itself."""
    found = set()
    for path in graph.modules().values():
        found |= {one for pair in IMPORT.findall(path.read_text()) for one in pair if one}
    return found - set(sys.stdlib_module_names) - {"beadworth"}


def test_every_library_that_is_imported_is_declared():
    owner = packages_distributions()
    needed = {canonicalize_name(owner[module][0]) for module in imported()}
    assert needed - declared(*RUNTIME_EXTRAS) == set()


def test_extras_are_explained():
    readme = (REPOSITORY / "README.md").read_text()
    for extra in PROJECT["optional-dependencies"]:
        file = "constraints.txt" if extra == "dev" else f"pins/{extra}.txt"
        assert f"| `{file}` | `{extra}` |" in readme, extra
        if extra in RUNTIME_EXTRAS:  # what a refusal says where the extra is missing
            assert extra_remedy(extra).endswith(f" -m pip install --require-hashes -r {file}")


def installed_with(requirements):
    """Canonical names of all that these requirements bring, by the metadata of what is there."""
    found, todo = set(), [(text, frozenset()) for text in requirements]
    done = set()
    while todo:
        text, extras = todo.pop()
        wanted = Requirement(text)
        if wanted.marker and not any(
            wanted.marker.evaluate({"extra": extra}) for extra in (extras or {""})
        ):
            continue
        name = canonicalize_name(wanted.name)
        if (name, frozenset(wanted.extras)) in done:
            continue
        done.add((name, frozenset(wanted.extras)))
        found.add(name)
        todo += [(text, frozenset(wanted.extras)) for text in requires(name) or ()]
    return found


PIN = re.compile(r"([\w.-]+)==([\w.+]+)(?: ; sys_platform == '(\w+)')? \\")
HASH = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")


def pins(*files):
    """Canonical names and versions in files of pins, every line of them looked at."""
    found = {}
    for file in files:
        head, *lines = (REPOSITORY / "pins" / f"{file}.txt").read_text().splitlines()
        assert head.startswith("# ")
        for before, line in zip([head, *lines], lines, strict=False):
            if before.endswith("\\"):
                assert HASH.fullmatch(line), (file, line)
            elif not line.startswith("-r "):
                pin = PIN.fullmatch(line)
                assert pin, (file, line)
                assert canonicalize_name(pin[1]) not in found, line
                found[canonicalize_name(pin[1])] = pin[2]
        assert not lines[-1].endswith("\\")
    return found


INSTALLER = "installer"
PIN_FILES = ("build", "run", "postgres", "tables", "cluster", "dev")
NOT_HERE = {"colorama"}
"""Installed on other systems only."""


def constraints():
    """All pins; none stands twice."""
    return pins(*PIN_FILES)


def test_everything_a_developer_installs_is_pinned_as_installed():
    there = installed_with(asked_for(*RUNTIME_EXTRAS, "dev"))
    pinned = constraints()
    assert len(there) > 100
    assert {name: version(name) for name in there} == {name: pinned.get(name) for name in there}


def test_nothing_is_pinned_that_nothing_installs():
    backend = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["build-system"]["requires"]
    build = {*installed_with(backend), "editables"}  # without it the source cannot be run in place
    assert set(pins("build")) == build
    there = installed_with(asked_for(*RUNTIME_EXTRAS, "dev"))
    assert set(constraints()) - there - build == NOT_HERE


def test_each_install_has_its_pins_and_no_more_on_any_system(monkeypatch):
    monkeypatch.syspath_prepend(REPOSITORY / "tools")
    tool = importlib.import_module("refresh_pins")
    assert {file: set(pins(file)) for file in (INSTALLER, *PIN_FILES)} == tool.placed()
    for file, drawn_in in tool.INCLUDES.items():
        text = (REPOSITORY / "pins" / f"{file}.txt").read_text()
        assert re.findall("^-r (.+).txt$", text, re.M) == list(drawn_in)
    assert (REPOSITORY / "constraints.txt").read_text().splitlines()[-1] == "-r pins/dev.txt"


def test_every_pin_has_hashes_and_every_install_checks_them():
    assert len(constraints()) > 100
    assert set(pins(INSTALLER)) == {"uv"}
    installs = []
    for file in ("README.md", "Makefile"):
        lines = (REPOSITORY / file).read_text().splitlines()
        installs += [line for line in lines if re.search(r"pip install (?!`)|\(INSTALL\)", line)]
    assert len(installs) == 5  # what tools/install.sh makes of it is tested below
    for line in installs:
        checked = re.search(r"--require-hashes -r (pins/\w+|constraints)\.txt$", line)
        nothing_fetched = re.search(r"--no-deps --no-build-isolation (-e )?\.$", line)
        assert checked or nothing_fetched, line


@pytest.fixture
def installing(tmp_path):
    """A folder with a ``.venv`` whose Python and uv only write down how they are called."""
    shutil.copy(REPOSITORY / "tools/install.sh", tmp_path)
    programs = tmp_path / ".venv/bin"
    programs.mkdir(parents=True)

    def program(name, code):
        file = programs / name
        file.write_text(f'#!/bin/sh\necho "${{0##*/}} $*" >>calls\n{code}\n')
        file.chmod(0o755)

    def install():
        command = ["sh", "install.sh", "--require-hashes", "-r", "pins/run.txt"]
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
        calls = tmp_path / "calls"
        return done.returncode, calls.read_text().splitlines(), done.stderr

    return program, install


GIVEN = "--require-hashes -r pins/run.txt"
FETCH_UV = (
    "python -m pip install --disable-pip-version-check --quiet --only-binary :all: "
    "--require-hashes -r pins/installer.txt"
)
BY_UV = f"uv pip install --python .venv/bin/python {GIVEN}"
BY_PIP = f"python -m pip install --disable-pip-version-check --progress-bar on --no-compile {GIVEN}"
SAID = "Installing with pip alone, which takes longer.\n"


def test_uv_installs_and_pip_is_left_alone(installing):
    program, install = installing
    program("python", "exit 1")
    program("uv", "exit 0")
    assert install() == (0, [BY_UV], "")


def test_uv_is_fetched_once_and_used_at_once(installing):
    program, install = installing
    program("python", "mv .venv/bin/fetched .venv/bin/uv")
    program("fetched", "exit 0")
    assert install() == (0, [FETCH_UV, BY_UV], "")
    assert install() == (0, [FETCH_UV, BY_UV, BY_UV], "")


@pytest.mark.parametrize("code", [0, 3])
def test_pip_does_it_where_uv_does_not_get_through(installing, code):
    program, install = installing
    program("python", f"exit {code}")
    program("uv", "exit 2")
    assert install() == (code, [BY_UV, BY_PIP], SAID)


def test_pip_does_it_where_uv_cannot_be_had(installing):
    program, install = installing
    program("python", 'test "$5" != --quiet')
    assert install() == (0, [FETCH_UV, BY_PIP], SAID)


def test_pins_are_sorted_and_types_are_shipped():
    for file in (INSTALLER, *PIN_FILES):
        assert list(pins(file)) == sorted(pins(file)), file
    assert (graph.ROOT / "py.typed").exists()
