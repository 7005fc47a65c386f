"""The dossier as one self-contained HTML file: no request, no script, light, dark and print."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from beadworth.report.blocks import Draw, Figure
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX, inline_svg
from beadworth.report.data import DossierData
from beadworth.report.sections.order import SECTIONS
from beadworth.report.sections.section import Section, Told, told
from beadworth.report.summary import (
    answer_of,
    disclosure_of,
    facts_of,
    headlines,
    simulated_parts,
    who_for,
)
from beadworth.report.theme import recolour_css, tokens_css
from beadworth.text import xml_text


def dossier_html(data: DossierData, sections: Sequence[Section] = SECTIONS) -> str:
    """The page of a trial, whole.

    Parameters
    ----------
    data : DossierData
    sections : sequence of Section
        What to include, in order; sections with nothing to say leave themselves out.
    """
    made = [_made(one) for one in told(data, sections)]
    text = (
        _environment()
        .get_template("page.html")
        .render(
            data=data,
            answer=answer_of(data),
            headlines=headlines(data),
            who=who_for(data),
            facts=facts_of(data),
            disclosure=disclosure_of(data),
            simulated=simulated_parts(data),
            sections=made,
            css=Markup(_css()),
        )
    )
    page: str = xml_text(text)
    return page


def _made(one: Told) -> dict[str, Any]:
    """A section with its pictures drawn."""
    figures = {
        n: Markup(_figure(block.draw, f"{one.section.key}-{n}"))
        for n, block in enumerate(one.blocks)
        if isinstance(block, Figure)
    }
    return {"section": one.section, "blocks": one.blocks, "figures": figures}


def _figure(draw: Draw, key: str) -> str:
    """A chart at both widths; style rules show the one that fits the screen."""
    wide, narrow = draw(WIDE_PX), draw(NARROW_PX)
    template = _environment().get_template("figure.html")
    return template.render(
        chart=wide,
        wide=Markup(inline_svg(wide, f"{key}-wide")),
        narrow=Markup(inline_svg(narrow, f"{key}-narrow")),
    )


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("beadworth.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["base64"] = lambda data: b64encode(data).decode("ascii")
    return environment


@lru_cache(maxsize=1)
def _css() -> str:
    own = files("beadworth.report").joinpath("dossier.css").read_text(encoding="utf-8")
    return tokens_css() + recolour_css() + own
