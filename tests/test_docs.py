"""The documents are true: links lead somewhere, commands exist, the reference is current."""

import importlib.util
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted([ROOT / "README.md", *(ROOT / "docs").rglob("*.md")])


def reference_tool():
    path = ROOT / "tools" / "make_reference.py"
    spec = importlib.util.spec_from_file_location("make_reference", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_command_reference_is_current():
    tool = reference_tool()
    assert tool.TARGET.read_text() == tool.reference_text(), "run python tools/make_reference.py"


def test_every_command_and_option_has_words():
    text = reference_tool().reference_text()
    empty = [line for line in text.splitlines() if re.match(r"\| `[^|]*` \|\s*\|", line)]
    assert not empty
    assert not re.findall(r"## `[^`]+`\n\n\n", text)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_and_pictures_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text()):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_commands_named_in_documents_exist():
    known = set(re.findall(r"## `(beadworth[^`]*)`", reference_tool().reference_text()))
    verbs_of = {}
    for name in known:
        _, noun, *verb = name.split()
        verbs_of.setdefault(noun, set()).update(verb)
    for page in PAGES:
        for noun, verb in re.findall(
            r"(?<!from )\bbeadworth ([a-z]+)(?: ([a-z][a-z-]*))?", _code_of(page)
        ):
            assert noun in verbs_of, f"{page.name}: beadworth {noun}"
            if verbs_of[noun] and verb:
                assert verb in verbs_of[noun], f"{page.name}: beadworth {noun} {verb}"


def _code_of(page):
    """Code blocks and code spans only: prose may say 'beadworth is'."""
    text = page.read_text()
    return "\n".join(re.findall(r"```.*?```|`[^`\n]+`", text, flags=re.S))
