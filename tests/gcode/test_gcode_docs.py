"""Every problem kind stands in the reference with the words the reader uses."""

from pathlib import Path

from beadworth.gcode.problems import KINDS

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "reference" / "gcode.md").read_text()


def test_every_problem_kind_is_documented_in_its_own_words():
    for kind, (message, remedy) in KINDS.items():
        row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{kind}` |"))
        assert message in row
        assert remedy in row
