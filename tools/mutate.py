"""Change one thing in the source at a time and see whether a test notices.

``python tools/mutate.py --count 100 --seed 1`` samples changes over ``capacity``,
``trial``, ``replay`` and ``worth``: a number moved, a comparison turned or its
boundary swapped, ``and`` for ``or``, plus for minus, times for divided. The tree
is copied to a temporary folder and every run happens there. Each package's own
tests run once under coverage, so that a change is put only to the tests that run
its line; compiled kernels are left out, since no line of theirs is seen running.

A change is *killed* when a test fails, *slow* when the tests that run it do not end
in the time allowed, *unseen* when none runs its line, and *survived* otherwise. Every
result is appended to ``--out`` as a JSON line; the survivors are printed at the end.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("capacity", "trial", "replay", "worth")
COPIED = ("src", "tests", "benchmarks", "docs", "tools", "pyproject.toml", "README.md")
COMPARISONS = {
    ast.Lt: ("<=", ">"),
    ast.LtE: ("<", ">="),
    ast.Gt: (">=", "<"),
    ast.GtE: (">", "<="),
    ast.Eq: ("!=",),
    ast.NotEq: ("==",),
}
SIGNS = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.And: "and", ast.Or: "or",
}  # fmt: skip
ARITHMETIC = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
LOGIC = {ast.And: "or", ast.Or: "and"}


@dataclass(frozen=True)
class Mutant:
    """One change: the bytes from ``start`` to ``stop`` of a file become ``new``."""

    file: str
    line: int
    start: int
    stop: int
    old: str
    new: str
    inside: bool
    """Whether it is in a function; what is outside runs when the module is imported."""


def numbers(value: float) -> tuple[str, ...]:
    """What a number may become: a whole one a step either way, another a fifth either way."""
    if isinstance(value, int):
        return (str(value + 1), str(value - 1)) if value else ("1",)
    return (f"{1.2 * value!r}", f"{0.8 * value!r}") if value else ("0.1",)


def mutants_of(path: Path, name: str) -> Iterator[Mutant]:
    """Give every change of one file."""
    source = path.read_bytes()
    starts = [0]
    for text in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(text))

    def at(line: int, column: int) -> int:
        return starts[line - 1] + column

    def between(left: ast.expr, right: ast.expr, operator: ast.AST) -> tuple[int, int] | None:
        start = at(left.end_lineno or 0, left.end_col_offset or 0)
        stop = at(right.lineno, right.col_offset)
        sign = SIGNS[type(operator)].encode()
        found = source.find(sign, start, stop)
        return None if found < 0 else (found, found + len(sign))

    def walk(node: ast.AST, inside: bool) -> Iterator[Mutant]:
        places: list[tuple[int, int, str]] = []
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            span = at(line, node.col_offset), at(node.end_lineno or 0, node.end_col_offset or 0)
            places = [(*span, new) for new in numbers(node.value)]
        elif isinstance(node, ast.Compare):
            operands = [node.left, *node.comparators]
            for left, operator, right in zip(operands, node.ops, operands[1:], strict=False):
                if type(operator) in COMPARISONS and (spot := between(left, right, operator)):
                    places += [(*spot, new) for new in COMPARISONS[type(operator)]]
        elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
            if spot := between(node.left, node.right, node.op):
                places = [(*spot, ARITHMETIC[type(node.op)])]
        elif isinstance(node, ast.BoolOp) and (
            spot := between(node.values[0], node.values[1], node.op)
        ):
            places = [(*spot, LOGIC[type(node.op)])]
        for start, stop, new in places:
            yield Mutant(name, line, start, stop, source[start:stop].decode(), new, inside)
        deeper = inside or isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for child in ast.iter_child_nodes(node):
            if not is_annotation(node, child):
                yield from walk(child, deeper)

    yield from walk(ast.parse(source), inside=False)


def is_annotation(parent: ast.AST, child: ast.AST) -> bool:
    """Whether a child is a type, which nothing runs."""
    return child in (getattr(parent, "annotation", None), getattr(parent, "returns", None))


class Tree:
    """A copy of the repository to change."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in COPIED:
            kept = ROOT / name
            if kept.is_dir():
                ignored = shutil.ignore_patterns("__pycache__", "img")
                shutil.copytree(kept, folder / name, ignore=ignored)
            else:
                shutil.copy(kept, folder / name)
        self.environment = os.environ | {
            "PYTHONPATH": str(folder / "src"), "PYTHONDONTWRITEBYTECODE": "1",
        }  # fmt: skip

    def pytest(self, *arguments: str, limit_s: float) -> int | None:
        """Run pytest; gives its exit code, None where it did not end in time."""
        process = subprocess.Popen(
            [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *arguments],
            cwd=self.folder, env=self.environment, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        try:
            return process.wait(limit_s)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            return None

    def lines_run(self, package: str) -> dict[str, dict[int, list[str]]]:
        """Which tests of a package run which line of it: file → line → tests."""
        from coverage import CoverageData

        data = self.folder / f".coverage-{package}"
        configuration = self.folder / f"coverage-{package}.ini"
        configuration.write_text(f"[run]\ndata_file = {data}\nsource_pkgs = beadworth.{package}\n")
        arguments = (
            f"tests/{package}", f"--cov=beadworth.{package}", "--cov-context=test",
            "--cov-report=", f"--cov-config={configuration}", "-m", "not browser",
        )  # fmt: skip
        report = self.folder / f"tests-{package}.xml"
        self.pytest(*arguments, f"--junitxml={report}", limit_s=3600)
        failing = failed_in(report)
        if failing:
            print(f"{len(failing)} tests of {package} fail as they stand and judge nothing")
        seen = CoverageData(str(data))
        seen.read()
        found: dict[str, dict[int, list[str]]] = {}
        for file in seen.measured_files():
            lines = seen.contexts_by_lineno(file)
            found[str(Path(file).relative_to(self.folder))] = {
                line: sorted({c.partition("|")[0] for c in contexts if "::" in c} - failing)
                for line, contexts in lines.items()
            }
        return found

    def judge(self, mutant: Mutant, tests: list[str], limit_s: float) -> str:
        """Change the file, run the tests, put the file back."""
        file = self.folder / mutant.file
        whole = file.read_bytes()
        file.write_bytes(whole[: mutant.start] + mutant.new.encode() + whole[mutant.stop :])
        try:
            code = self.pytest("-x", *tests, limit_s=limit_s)
        finally:
            file.write_bytes(whole)
        if code is None:
            return "slow"
        return "survived" if code == 0 else "killed"


def failed_in(report: Path) -> set[str]:
    """Tests of a JUnit report that did not pass, by their ids in pytest."""
    found = set()
    for case in ElementTree.parse(report).iter("testcase"):
        if case.find("failure") is not None or case.find("error") is not None:
            file = case.get("classname", "").replace(".", "/") + ".py"
            found.add(f"{file}::{case.get('name')}")
    return found


def tests_for(mutant: Mutant, lines: dict[int, list[str]], most: int) -> list[str]:
    """Tests that run the changed line; of a module's own lines, those that run any of its file."""
    if mutant.inside:
        return lines.get(mutant.line, [])[:most]
    often = Counter(test for tests in lines.values() for test in tests)
    return [test for test, _ in often.most_common(most)]


def sample(packages: list[str], count: int, seed: int) -> list[Mutant]:
    """Draw changes evenly over all there are."""
    everything = []
    for package in packages:
        for path in sorted((ROOT / "src" / "beadworth" / package).rglob("*.py")):
            if not path.name.startswith("_"):
                everything += mutants_of(path, str(path.relative_to(ROOT)))
    return random.Random(seed).sample(everything, min(count, len(everything)))


def main() -> None:
    """Sample, run, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=60, help="changes to try")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--packages", nargs="+", default=list(PACKAGES))
    parser.add_argument("--limit", type=float, default=120.0, help="seconds per change")
    parser.add_argument("--most", type=int, default=60, help="tests per change")
    parser.add_argument("--minutes", type=float, default=1e9, help="stop after so long")
    parser.add_argument("--out", type=Path, default=Path("build/mutants.jsonl"))
    given = parser.parse_args()
    given.out.parent.mkdir(parents=True, exist_ok=True)
    end = time.monotonic() + 60 * given.minutes
    drawn = sample(given.packages, given.count, given.seed)
    drawn.sort(key=lambda mutant: given.packages.index(Path(mutant.file).parts[2]))
    counts: Counter[str] = Counter()
    survivors = []
    with tempfile.TemporaryDirectory(prefix="bw-mutants-") as folder:
        tree = Tree(Path(folder))
        lines: dict[str, dict[str, dict[int, list[str]]]] = {}
        for mutant in drawn:
            if time.monotonic() > end:
                break
            package = Path(mutant.file).parts[2]
            if package not in lines:
                lines[package] = tree.lines_run(package)
            tests = tests_for(mutant, lines[package].get(mutant.file, {}), given.most)
            result = tree.judge(mutant, tests, given.limit) if tests else "unseen"
            counts[result] += 1
            with given.out.open("a", encoding="utf-8") as out:
                out.write(json.dumps(asdict(mutant) | {"result": result}) + "\n")
            if result in ("survived", "unseen"):
                survivors.append((result, mutant))
    print(", ".join(f"{number} {name}" for name, number in counts.most_common()))
    for result, mutant in survivors:
        print(f"{result}: {mutant.file}:{mutant.line}: {mutant.old} → {mutant.new}")


if __name__ == "__main__":
    main()
