"""Copy the documents the app shows beside its figures into the package (or check that they are).

Usage: python tools/make_handbook.py [--check]

An installed app has no source tree; what it shows of the documentation must come with it.
"""

from __future__ import annotations

import sys
from pathlib import Path

from beadworth.web.handbook import PAGES, PLACES

TARGET = Path(__file__).resolve().parents[1] / "src" / "beadworth" / "web" / "handbook"


def source(page: str) -> Path:
    """The document a page is the copy of."""
    *folders, _ = PLACES
    return next(file for folder in folders if (file := folder / f"{page}.md").is_file())


def stale() -> list[str]:
    """Names of pages whose copy is missing or differs."""
    return [
        page
        for page in PAGES
        if not (TARGET / f"{page}.md").is_file()
        or (TARGET / f"{page}.md").read_bytes() != source(page).read_bytes()
    ]


def main() -> int:
    """Copy, or with ``--check`` only say what is not current."""
    behind = stale()
    if "--check" in sys.argv:
        for page in behind:
            print(f"{TARGET / page}.md is not current: run python tools/make_handbook.py")
        return 1 if behind else 0
    TARGET.mkdir(exist_ok=True)
    for page in behind:
        (TARGET / f"{page}.md").write_bytes(source(page).read_bytes())
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
