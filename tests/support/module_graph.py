"""Which module imports which, read from the source without running it.

Imports inside functions count; those under ``if TYPE_CHECKING:`` are marked, since they are not
there at run time.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass
from functools import cache
from pathlib import Path

SRC = Path(__file__).resolve().parents[2] / "src"
ROOT = SRC / "beadworth"


@dataclass(frozen=True)
class Import:
    """One imported name: ``from TARGET import NAME`` (name None: ``import TARGET``)."""

    importer: str
    line: int
    target: str
    name: str | None
    typing_only: bool

    def __str__(self) -> str:
        what = (
            f"import {self.target}"
            if self.name is None
            else f"from {self.target} import {self.name}"
        )
        return f"{self.importer}:{self.line}: {what}"


def module_name(path: Path) -> str:
    """Dotted name of a source file; a package bears its folder's name."""
    parts = path.relative_to(SRC).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def package_of(module: str) -> str:
    """The package directly under beadworth that a module belongs to ('' for beadworth itself)."""
    return module.split(".")[1] if "." in module else ""


@cache
def modules() -> dict[str, Path]:
    """Every module of the source, by dotted name."""
    return {module_name(path): path for path in sorted(ROOT.rglob("*.py"))}


@cache
def packages() -> tuple[str, ...]:
    """Names of the packages directly under beadworth."""
    return tuple(sorted(path.parent.name for path in ROOT.glob("*/__init__.py")))


@cache
def imports_of(module: str) -> tuple[Import, ...]:
    """Every import of our own modules in one module, wherever it stands."""
    path = modules()[module]
    return tuple(_imports(ast.parse(path.read_text()), module, path.name == "__init__.py"))


def _imports(node: ast.AST, module: str, is_package: bool, typing_only: bool = False):
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.expr):
            continue  # nothing is imported inside
        if isinstance(child, ast.If) and _is_for_typing(child.test):
            for part in child.body:
                yield from _imports(ast.Module([part], []), module, is_package, True)
            for part in child.orelse:
                yield from _imports(ast.Module([part], []), module, is_package, typing_only)
        elif isinstance(child, ast.Import):
            for alias in child.names:
                if alias.name.split(".")[0] == "beadworth":
                    yield Import(module, child.lineno, alias.name, None, typing_only)
        elif isinstance(child, ast.ImportFrom):
            target = child.module or ""
            if child.level:
                stem = module.split(".")
                stem = stem[: len(stem) - child.level + is_package]
                target = ".".join([*stem, *([child.module] if child.module else [])])
            if target == "beadworth":  # a whole package: what is asked of it stands in the code
                for alias in child.names:
                    for name in _attributes(node, alias.asname or alias.name):
                        yield Import(
                            module, child.lineno, f"beadworth.{alias.name}", name, typing_only
                        )
            elif target.split(".")[0] == "beadworth":
                for alias in child.names:
                    yield Import(module, child.lineno, target, alias.name, typing_only)
        else:
            yield from _imports(child, module, is_package, typing_only)


def _is_for_typing(test: ast.expr) -> bool:
    return isinstance(test, ast.Name | ast.Attribute) and ast.unparse(test).endswith(
        "TYPE_CHECKING"
    )


def _attributes(scope: ast.AST, name: str) -> set[str]:
    """Attributes taken from a name anywhere in a module or function."""
    return {
        node.attr
        for node in ast.walk(scope)
        if isinstance(node, ast.Attribute)
        and isinstance(node.value, ast.Name)
        and node.value.id == name
    }


@cache
def public_page(package: str) -> dict[str, str]:
    """Public names of a package and the module each stands in.

    Read from ``__init__.pyi``, or where a package has none from its ``__init__.py``.
    """
    stub = ROOT / package / "__init__.pyi"
    name = f"beadworth.{package}"
    if not stub.exists():
        body = ast.parse(stub.with_suffix(".py").read_text()).body
        (names,) = (
            ast.literal_eval(node.value)
            for node in body
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"
        )
        return dict.fromkeys(names, name)
    return {
        alias.name: f"{name}.{node.module or alias.name}"
        for node in ast.parse(stub.read_text()).body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def module_meant(found: Import) -> str:
    """The module an import needs: ``from PACKAGE import NAME`` needs the one that holds NAME."""
    inside = f"{found.target}.{found.name}"
    if inside in modules():
        return inside
    package = package_of(found.target)
    if found.target == f"beadworth.{package}":
        return public_page(package).get(found.name or "", found.target)
    return found.target


def circles(package: str) -> list[list[str]]:
    """Groups of modules of a package that need each other at run time, also inside functions."""
    members = [module for module in modules() if package_of(module) == package]
    needs = {
        module: {
            meant
            for found in imports_of(module)
            if not found.typing_only
            and (meant := module_meant(found)) in members
            and meant != module
        }
        for module in members
    }
    return [sorted(group) for group in _strongly_connected(needs) if len(group) > 1]


def _strongly_connected(needs: dict[str, set[str]]) -> list[set[str]]:
    """Groups whose members reach one another, by plain search: the graphs are small."""

    def reach(start: str) -> set[str]:
        seen, todo = set(), [start]
        while todo:
            for target in needs[todo.pop()]:
                if target not in seen:
                    seen.add(target)
                    todo.append(target)
        return seen

    reached = {module: reach(module) for module in needs}
    groups: list[set[str]] = []
    for module in needs:
        if not any(module in group for group in groups):
            groups.append(
                {module} | {other for other in reached[module] if module in reached[other]}
            )
    return groups
