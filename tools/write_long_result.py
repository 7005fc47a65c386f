"""Write the result of ``make test-long`` into docs/testing.md, between its two marks.

``python tools/write_long_result.py build/long.xml``
"""

from __future__ import annotations

import os
import platform
import sys
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

from beadworth import __version__

PAGE = Path(__file__).resolve().parents[1] / "docs" / "testing.md"
BEGIN, END = "<!-- long: begin -->", "<!-- long: end -->"
SLOWEST = 10


def table(report: Path) -> str:
    """What a JUnit report says: counts, failures by name, the slowest tests."""
    cases = list(ElementTree.parse(report).iter("testcase"))
    failed = [c for c in cases if c.find("failure") is not None or c.find("error") is not None]
    skipped = [c for c in cases if c.find("skipped") is not None]
    passed = len(cases) - len(failed) - len(skipped)
    seconds = sum(float(case.get("time", 0.0)) for case in cases)
    lines = [
        f"{date.today().isoformat()}, beadworth {__version__}, Python "
        f"{platform.python_version()}, {os.cpu_count()} cores: {passed} passed, {len(failed)} "
        f"failed, {len(skipped)} skipped; {seconds / 60:.0f} minutes of tests.",
        "",
        *(f"Failed: `{name(case)}`\n" for case in failed),
        "| slowest | s |",
        "| --- | --: |",
    ]
    slowest = sorted(cases, key=lambda case: -float(case.get("time", 0.0)))[:SLOWEST]
    lines += [f"| `{name(case)}` | {float(case.get('time', 0.0)):.0f} |" for case in slowest]
    return "\n".join(lines)


def name(case: ElementTree.Element) -> str:
    """A test by its file and function."""
    return (
        f"{case.get('classname', '').removeprefix('tests.').replace('.', '/')}: {case.get('name')}"
    )


def main() -> None:
    """Put the table between the marks."""
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    found = table(Path(sys.argv[1]))
    PAGE.write_text(f"{before}{BEGIN}\n{found}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
