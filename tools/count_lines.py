"""Count the lines of the source, package by package.

Usage: python tools/count_lines.py

All lines of .py and .pyi files under src, blank ones and comments included, and of them those
that hold code (neither blank, nor a comment, nor inside a docstring).
"""

from __future__ import annotations

import ast
import io
import tokenize
from collections import Counter
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "src" / "beadworth"
BESIDE_CODE = {
    tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
    tokenize.ENDMARKER,
}  # fmt: skip


def code_lines(text: str) -> int:
    """Lines of a module that hold code."""
    prose: set[int] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            prose |= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    held: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in BESIDE_CODE:
            held |= set(range(token.start[0], token.end[0] + 1))
    return len(held - prose)


def main() -> None:
    """Print a table."""
    lines: Counter[str] = Counter()
    code: Counter[str] = Counter()
    files: Counter[str] = Counter()
    for path in sorted([*SOURCE.rglob("*.py"), *SOURCE.rglob("*.pyi")]):
        parts = path.relative_to(SOURCE).parts
        package = parts[0] if len(parts) > 1 else "(top)"
        text = path.read_text(encoding="utf-8")
        for count, value in ((lines, text.count("\n")), (code, code_lines(text)), (files, 1)):
            count[package] += value
            count["all"] += value
    print("| package | files | lines | of them code |\n| --- | --: | --: | --: |")
    for package in [*sorted(set(files) - {"all"}), "all"]:
        print(f"| {package} | {files[package]} | {lines[package]} | {code[package]} |")


if __name__ == "__main__":
    main()
