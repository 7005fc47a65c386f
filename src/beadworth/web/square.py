"""An address as a square that a phone's camera reads (ISO/IEC 18004), drawn here."""

from __future__ import annotations

import io

from markupsafe import Markup


def square_svg(text: str) -> Markup:
    """A drawing to stand in a page: dark on light in every mode, as cameras want it."""
    import segno

    made = segno.make(text, error="m", micro=False)
    drawn = made.svg_inline(border=4, omitsize=True, dark="#000", light="#fff", lineclass=None,
                            svgclass=None)  # fmt: skip
    return Markup(drawn)


def square_text(text: str) -> str:
    """The same in half blocks, for a terminal."""
    import segno

    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out, border=2, compact=True)
    return out.getvalue()
