"""Commands ask the workflow: what they import while running, wherever in a file it stands."""

import ast
from pathlib import Path

import beadworth.cli

ALLOWED = {
    "beadworth", "beadworth.cli", "beadworth.core", "beadworth.demo", "beadworth.material",
    "beadworth.report", "beadworth.rig", "beadworth.text", "beadworth.trial", "beadworth.web",
    "beadworth.workflow",
}  # fmt: skip
SHOWS_PAGES = {"bench.py", "demo.py"}
"""The only files that may import the web app, to serve it."""


def imported(tree):
    """Packages imported while running; blocks for the type checker are left out."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.ImportFrom):
            if node.module == "beadworth":
                yield from (f"beadworth.{name.name}" for name in node.names)
            else:
                yield node.module
        elif isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        else:
            yield from imported(node)


def test_commands_import_the_workflow_and_the_packages_of_records_and_words():
    seen = {}
    for path in Path(beadworth.cli.__file__).parent.glob("*.py"):
        for module in imported(ast.parse(path.read_text(encoding="utf-8"))):
            package = ".".join(module.split(".")[:2])
            if package.startswith("beadworth") and package != "beadworth.__version__":
                seen.setdefault(package, set()).add(path.name)
    wrong = {package: files for package, files in seen.items() if package not in ALLOWED}
    assert wrong == {}
    assert seen["beadworth.web"] == SHOWS_PAGES
    assert "beadworth.workflow" in seen
