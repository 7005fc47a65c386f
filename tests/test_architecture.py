"""The shape of the source: what may import what, what a public page promises, how long modules are.

`lint-imports` holds the order of the packages; these hold what it cannot see.
"""

import importlib
import inspect
import re
from pathlib import Path

import module_graph as graph
import pytest

REPOSITORY = Path(__file__).resolve().parents[1]
LONGEST_MODULE = 350
DOCS = REPOSITORY / "docs"
FOR_LIBRARY_USERS = [*(DOCS / "how-to").glob("*.md"), DOCS / "reference" / "charts.md"]


def test_packages_import_from_each_other_what_stands_on_a_public_page():
    past = [
        str(found)
        for module in graph.modules()
        for found in graph.imports_of(module)
        if (package := graph.package_of(found.target)) not in ("", graph.package_of(module))
        and package in graph.packages()
        and not _on_public_page(found, package)
    ]
    assert not past, "import from the package's public page:\n" + "\n".join(past)


def _on_public_page(found, package):
    return found.target == f"beadworth.{package}" and (
        found.name is None or found.name in graph.public_page(package)
    )


def test_packages_import_themselves_by_module():
    """Inside a package the page is not asked: that would be a circle through ``__init__``."""
    through = [
        str(found)
        for module in graph.modules()
        for found in graph.imports_of(module)
        if (package := graph.package_of(module))
        and found.target == f"beadworth.{package}" != module
        and f"{found.target}.{found.name}" not in graph.modules()
    ]
    assert not through, "import the module instead:\n" + "\n".join(through)


@pytest.mark.parametrize("package", graph.packages())
def test_no_module_needs_itself_by_way_of_another(package):
    assert graph.circles(package) == []


def test_a_circle_through_a_function_is_found(monkeypatch):
    def one(importer, target):
        return (graph.Import(importer, 1, target, None, False),)

    found = {"beadworth.x.a": one("beadworth.x.a", "beadworth.x.b"),
             "beadworth.x.b": one("beadworth.x.b", "beadworth.x.a"),
             "beadworth.x.c": one("beadworth.x.c", "beadworth.x.a")}  # fmt: skip
    monkeypatch.setattr(graph, "modules", lambda: found)
    monkeypatch.setattr(graph, "imports_of", found.get)
    assert graph.circles("x") == [["beadworth.x.a", "beadworth.x.b"]]


@pytest.mark.parametrize("package", graph.packages())
def test_what_a_public_page_names_is_there_with_a_docstring(package):
    page = importlib.import_module(f"beadworth.{package}")
    assert page.__doc__
    names = graph.public_page(package)
    assert sorted(page.__all__) == sorted(names)
    for name, module in names.items():
        thing = getattr(page, name)
        assert f"beadworth.{package}.{name}" not in graph.modules() or inspect.ismodule(thing)
        if inspect.isroutine(thing) or inspect.isclass(thing):
            assert thing.__doc__, f"{module}.{name} has no docstring"


def test_what_a_public_page_names_is_used_outside_its_package():
    """By a package, a tool, a benchmark, a page for library users, or as a type of an answer."""
    used = {
        (graph.package_of(found.target), found.name)
        for module in graph.modules()
        for found in graph.imports_of(module)
        if graph.package_of(found.target) != graph.package_of(module)
    }
    around = [path.read_text() for path in (REPOSITORY / "benchmarks").glob("*.py")]
    around += [path.read_text() for path in (REPOSITORY / "tools").glob("*.py")]
    around += [path.read_text() for path in FOR_LIBRARY_USERS]
    words = set(re.findall(r"\w+", "".join(around)))
    idle = [
        f"beadworth.{package}: {name}"
        for package in graph.packages()
        for name in set(graph.public_page(package)) - words - _types_named(package)
        if (package, name) not in used
    ]
    assert not idle, "take these off the public page, or use them:\n" + "\n".join(sorted(idle))


def _types_named(package):
    """Words in the annotations of what stands on a package's page: the types of its answers."""
    page = importlib.import_module(f"beadworth.{package}")
    things = [getattr(page, name) for name in graph.public_page(package)]
    classes = [thing for thing in things if inspect.isclass(thing)]
    methods = [method for c in classes for _, method in inspect.getmembers(c, inspect.isroutine)]
    called = [*(thing for thing in things if callable(thing)), *methods]
    notes = [str(getattr(thing, "__annotations__", "")) for thing in called]
    return set(re.findall(r"\w+", " ".join(notes)))


def test_modules_fit_a_few_screens():
    long = {
        name: lines
        for name, path in graph.modules().items()
        if (lines := len(path.read_text().splitlines())) > LONGEST_MODULE
    }
    assert not long


def test_every_package_is_described():
    text = (REPOSITORY / "docs" / "architecture.md").read_text()
    missing = [name for name in graph.packages() if not re.search(rf"^ +{name}/ ", text, re.M)]
    assert not missing


def test_what_leaves_is_written_by_one_writer():
    """A file written straight under its name is a half one when the disk is full."""
    own = ("write_text", "write_bytes")
    direct = {
        name
        for name, path in graph.modules().items()
        if any(f".{call}(" in path.read_text() for call in own)
    }
    assert direct == {"beadworth.report.render.pdf"}  # in a temporary folder, for the typesetter
