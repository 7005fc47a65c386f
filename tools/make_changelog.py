"""Gather the fragments of changelog.d into CHANGELOG.md under a release, or print them.

Usage: python tools/make_changelog.py [VERSION]

With a version: writes its section at the top of CHANGELOG.md and deletes the fragments.
Without: prints what would be written.
"""

from __future__ import annotations

import sys
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[1]
FRAGMENTS = REPOSITORY / "changelog.d"
CHANGELOG = REPOSITORY / "CHANGELOG.md"
TITLE = "# Changelog\n"


def entries(folder: Path) -> str:
    """Every fragment of a folder, in the order of their names.

    Raises
    ------
    ValueError
        A fragment that is not a list of bullets, by its name.
    """
    parts = []
    for path in sorted(folder.glob("*.md")):
        text = path.read_text(encoding="utf-8").strip("\n")
        lines = text.splitlines()
        if not lines or not all(line.startswith(("- ", "  ")) for line in lines):
            raise ValueError(
                f"{path.name}: write bullet lines that begin with '- ', continued by two spaces"
            )
        parts.append(text)
    return "\n".join(parts)


def with_release(changelog: str, version: str, gathered: str) -> str:
    """The changelog with a section for a release above the others.

    What stands under 'Unreleased' goes into it, behind the fragments.

    Raises
    ------
    ValueError
        The version already has a section, or there is nothing to say.
    """
    if not gathered:
        raise ValueError("changelog.d holds no fragment")
    if f"\n## {version}\n" in changelog:
        raise ValueError(f"CHANGELOG.md already has a section {version}")
    rest = changelog.removeprefix(TITLE).lstrip("\n")
    rest = rest.removeprefix("## Unreleased\n").lstrip("\n")
    return f"{TITLE}\n## {version}\n\n{gathered}\n\n{rest}"


def main() -> int:
    """Print the fragments, or with a version write them into the changelog."""
    try:
        gathered = entries(FRAGMENTS)
        if len(sys.argv) == 1:
            print(gathered)
            return 0
        text = with_release(CHANGELOG.read_text(encoding="utf-8"), sys.argv[1], gathered)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2
    CHANGELOG.write_text(text, encoding="utf-8")
    for path in FRAGMENTS.glob("*.md"):
        path.unlink()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
