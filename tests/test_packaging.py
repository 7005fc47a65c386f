"""What is declared is what is imported, and what is pinned is what gets installed."""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions, requires, version
from pathlib import Path

import module_graph as graph
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

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


def imported():
    """Top-level modules that the source imports, not counting the standard library and itself."""
    found = set()
    for path in graph.modules().values():
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level:
                found.add(node.module.split(".")[0])
    return found - set(sys.stdlib_module_names) - {"beadworth"}


def test_every_library_that_is_imported_is_declared():
    owner = packages_distributions()
    needed = {canonicalize_name(owner[module][0]) for module in imported()}
    assert needed - declared(*RUNTIME_EXTRAS) == set()


def test_extras_are_explained():
    readme = (REPOSITORY / "README.md").read_text()
    for extra in PROJECT["optional-dependencies"]:
        assert f"'.[{extra}]'" in readme, extra


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


def constraints():
    lines = (REPOSITORY / "constraints.txt").read_text().splitlines()
    pairs = [re.fullmatch(r"([\w.-]+)==([\w.+]+)", line) for line in lines]
    assert all(pairs), [line for line, pair in zip(lines, pairs, strict=True) if not pair]
    return {canonicalize_name(pair[1]): pair[2] for pair in pairs}


def test_everything_a_developer_installs_is_pinned_as_installed():
    there = installed_with(asked_for(*RUNTIME_EXTRAS, "dev"))
    pinned = constraints()
    assert len(there) > 100
    assert {name: version(name) for name in there} == {name: pinned.get(name) for name in there}


def test_nothing_is_pinned_that_nothing_installs():
    backend = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["build-system"]["requires"]
    build = {"hatchling", "packaging", "pathspec", "pluggy", "trove-classifiers"}
    assert {canonicalize_name(Requirement(text).name) for text in backend} <= build
    assert set(constraints()) - installed_with(asked_for(*RUNTIME_EXTRAS, "dev")) - build == set()


def test_pins_are_sorted_and_types_are_shipped():
    lines = (REPOSITORY / "constraints.txt").read_text().splitlines()
    assert lines == sorted(lines, key=str.lower)
    assert (graph.ROOT / "py.typed").exists()
