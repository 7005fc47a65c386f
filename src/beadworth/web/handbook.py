"""Pages of the documentation, shown in the app so that a formula is one click from its number."""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from markupsafe import Markup

DOCS = Path(__file__).parents[3] / "docs"
PLACES = (
    Path(__file__).parent / "handbook",
    *(DOCS / folder for folder in ("explanation", "how-to", "tutorial")),
)
"""An installed package holds the pages (``pyproject.toml`` names them); a source tree has docs/."""
SCROLL = '<div class="scroll" tabindex="0" role="region" aria-label="Table">'
PAGES = (
    "first-trial", "second-evening", "run-a-coupon-program", "budget", "capacity", "coupon-program",
    "live-weighing", "fit-check", "bring-up", "melt", "witness", "causes", "find-a-cause",
    "wear",
)  # fmt: skip


def text_of(page: str) -> str | None:
    """The Markdown of a page, None where it did not come with this installation."""
    if page not in PAGES:
        return None
    for place in PLACES:
        file = place / f"{page}.md"
        if file.is_file():
            return file.read_text(encoding="utf-8")
    return None


def formula_address(heading: str, page: str = "fit-check") -> str | None:
    """The address of a heading of a page, None where there is no such heading."""
    text = text_of(page)
    if text is None or slug(heading) not in _slugs(text):
        return None
    return f"/handbook/{page}#{slug(heading)}"


def slug(heading: str) -> str:
    """A heading as an anchor."""
    return re.sub(r"[^a-z0-9]+", "-", heading.lower()).strip("-")


@lru_cache(maxsize=len(PAGES))
def _slugs(text: str) -> frozenset[str]:
    return frozenset(slug(head) for head in re.findall(r"^#{1,4} (.+)$", text, flags=re.M))


@lru_cache(maxsize=len(PAGES))
def html_of(text: str) -> Markup:
    """Markdown of our own as HTML: headings with anchors, wide tables that scroll, no raw HTML."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = reader.parse(text)
    for here, after in pairwise(tokens):
        if here.type == "heading_open":
            here.attrSet("id", slug(after.content))
    made = str(reader.renderer.render(tokens, reader.options, {}))
    # The page's policy takes no styles from within it; a class says the same.
    made = re.sub(r' style="text-align:(\w+)"', r' class="to-\1"', made)
    made = made.replace("<table>", f"{SCROLL}<table>").replace("</table>", "</table></div>")
    return Markup(re.sub(r"<img [^>]*>", "", _links_within(made)))


def _links_within(made: str) -> str:
    """Links to other pages of these lead on; of those that lead out of the app the words stay."""

    def leads_on(link: re.Match[str]) -> str:
        page, anchor, words = link.groups()
        return f'<a href="/handbook/{page}{anchor or ""}">{words}</a>' if page in PAGES else words

    made = re.sub(r'<a href="(?:\.\./[\w-]+/)?([\w-]+)\.md(#[^"]*)?">(.*?)</a>', leads_on, made)
    return re.sub(r'<a href="(?!#|/handbook/|https?:)[^"]*">(.*?)</a>', r"\1", made)
