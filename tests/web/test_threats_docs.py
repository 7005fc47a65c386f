"""What the page of threats says is shown by a test, is: every file and test it names is there."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "explanation" / "threats.md").read_text(encoding="utf-8")


def named():
    return re.findall(r"`((?:[a-z]+/)?test_[\w/…]+)`", PAGE)


def test_every_file_and_test_that_is_named_is_there():
    sources = {
        path.relative_to(ROOT / "tests").with_suffix("").as_posix(): path.read_text()
        for path in (ROOT / "tests").rglob("test_*.py")
    }
    defined = {name for text in sources.values() for name in re.findall(r"def (test_\w+)", text)}
    found = named()
    assert len(found) > 40
    for name in found:
        if "/" in name:
            assert name in sources, name
        elif name.endswith("…"):
            assert any(one.startswith(name[:-1]) for one in defined), name
        else:
            assert name in defined, name


def test_every_section_says_what_holds_or_why_not():
    rows = [line.split("|")[1:-1] for line in PAGE.splitlines() if re.match(r"\| \d", line)]
    assert len(rows) > 25
    for section, state, why, shown in rows:
        said = state.strip()
        assert said == "local" or said.startswith(("holds", "not on")), section
        assert why.strip() or shown.strip(), section


def test_limits_that_are_quoted_are_those_of_the_code():
    from beadworth.web.guesses import ALL, EACH, WINDOW_S
    from beadworth.workflow import PHONE_LIFE
    from beadworth.workflow.phones import CODE_LETTERS, CODE_LIFE, LETTERS

    assert (EACH, ALL, WINDOW_S) == (5, 60, 60)
    assert "5 wrong ones a minute from one address and 60 from all" in PAGE
    assert CODE_LIFE.total_seconds() == 600
    assert PHONE_LIFE.total_seconds() == 12 * 3600
    assert len(LETTERS) ** CODE_LETTERS == 2**60
