"""The dossier as one self-contained HTML file: no request, no script, light, dark and print."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from beadworth.report.blocks import Figure
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX, Chart, inline_svg, with_theme
from beadworth.report.data import ReportData
from beadworth.report.sections.order import SECTIONS, filled_section, filled_sections
from beadworth.report.sections.section import FilledSection, Section
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


def dossier_html(data: ReportData, sections: Sequence[Section] = SECTIONS) -> str:
    """The page of a trial, whole.

    Parameters
    ----------
    data : ReportData
    sections : sequence of Section
        What to include, in order; sections with nothing to say leave themselves out.
    """
    made = [_made(one) for one in filled_sections(data, sections)]
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


def render_section(data: ReportData, key: str) -> str:
    """One section of the page by its key, without its heading; empty where it says nothing.

    What stands in it is written as in :func:`dossier_html`; whoever shows it brings the style.

    Raises
    ------
    KeyError
        No section of this key.
    """
    one = filled_section(data, key)
    if one is None:
        return ""
    text: str = xml_text(_environment().get_template("blocks.html").render(_made(one)))
    return text


def _made(one: FilledSection) -> dict[str, Any]:
    """A section with its pictures drawn."""
    figures = {
        n: Markup(_figure(block.chart, f"{one.section.key}-{n}"))
        for n, block in enumerate(one.blocks)
        if isinstance(block, Figure)
    }
    return {"section": one.section, "blocks": one.blocks, "figures": figures}


def _figure(chart: Chart, key: str) -> str:
    """A chart at both widths; style rules show the one that fits the screen."""

    def drawn(kind: str, width_px: float) -> Markup:
        spec = with_theme(chart, width_px=width_px, title=False)
        return Markup(inline_svg(spec, chart.alt, f"{key}-{kind}"))

    template = _environment().get_template("figure.html")
    return template.render(
        chart=chart, wide=drawn("wide", WIDE_PX), narrow=drawn("narrow", NARROW_PX)
    )


def _base64(data: bytes) -> str:
    return b64encode(data).decode("ascii")


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("beadworth.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["base64"] = _base64
    return environment


@lru_cache(maxsize=1)
def _css() -> str:
    own = files("beadworth.report").joinpath("dossier.css").read_text(encoding="utf-8")
    return tokens_css() + recolour_css() + own
