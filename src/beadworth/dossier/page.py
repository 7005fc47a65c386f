"""The dossier as one self-contained HTML file: no request, no script, light, dark and print."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from beadworth.dossier import tables
from beadworth.dossier.blocks import Draw, Figure
from beadworth.dossier.charts import NARROW_PX, WIDE_PX, inline_svg
from beadworth.dossier.data import DossierData
from beadworth.dossier.section import Context, Section
from beadworth.dossier.sections import SECTIONS
from beadworth.dossier.sentences import answer_sentence, count, level, listed, temperature
from beadworth.dossier.theme import recolour_css, tokens_css
from beadworth.legible import legible


def dossier_html(data: DossierData, sections: Sequence[Section] = SECTIONS) -> str:
    """The page of a trial, whole.

    Parameters
    ----------
    data : DossierData
    sections : sequence of Section
        What to include, in order; sections with nothing to say leave themselves out.
    """
    made = [one for one in (_made(section, data) for section in sections) if one is not None]
    text = (
        _environment()
        .get_template("page.html")
        .render(
            data=data,
            answer=_answer(data),
            rigs=tables.tested_rigs(data),
            ceilings=tables.ceiling_rows(data),
            facts=_facts(data),
            disclosure=data.disclosure or disclosure_line(data),
            simulated=simulated_parts(data),
            sections=made,
            loss=_loss_level(data),
            css=Markup(_css()),
        )
    )
    page: str = legible(text)
    return page


def disclosure_line(data: DossierData) -> str:
    """Who supplied the hardware, as far as the rigs say."""
    known = [f"{rig.name}: {rig.supplied_by}" for rig in data.rigs if rig.supplied_by]
    silent = [rig.name for rig in data.rigs if not rig.supplied_by]
    if not known:
        return "Who supplied the hardware is not stated."
    tail = f" Not stated for {listed(silent)}." if silent else ""
    return f"Who supplied the hardware: {'; '.join(known)}.{tail}"


def simulated_parts(data: DossierData) -> str:
    """What of the dossier is simulated, in words; empty where nothing is."""
    parts = ["the readings"] if data.simulated else []
    rigs = sum(rig.simulated for rig in data.rigs)
    if rigs:
        parts.append(count(rigs, "rig"))
    if data.material is not None and data.material.simulated:
        parts.append("the material")
    return listed(parts)


def _answer(data: DossierData) -> str:
    rigs = tables.tested_rigs(data)
    return answer_sentence(
        data.ceilings,
        data.differences,
        baseline=rigs[0] if rigs else data.baseline,
        candidate=data.candidate if data.candidate in rigs else None,
    )


def _facts(data: DossierData) -> list[str]:
    """The few figures that say how much stands behind the answer."""
    counted = sum(entry.state == "current" for entry in data.entries)
    temperatures = sorted({c.temperature_c for c in data.ceilings if c.basis == "readings"})
    facts = [count(counted, "coupon") + " weighed"] if data.entries else []
    if temperatures:
        facts.append(listed(temperature(t) for t in temperatures))
    if data.material is not None:
        facts.append(data.material.name)
    return facts


def _loss_level(data: DossierData) -> str:
    read = [c.loss for c in data.ceilings if c.basis == "readings"]
    return level(read[0]) if read else ""


def _made(section: Section, data: DossierData) -> Context | None:
    """A section with its pictures drawn; None where it has nothing to say."""
    if section.blocks is not None:
        blocks = section.blocks(data)
        if not blocks:
            return None
        drawn = {
            n: Markup(_figure(block.draw, f"{section.key}-{n}"))
            for n, block in enumerate(blocks)
            if isinstance(block, Figure)
        }
        return {"section": section, "template": "blocks.html", "context": {"blocks": blocks},
                "figures": drawn}  # fmt: skip
    context = section.context(data) if section.context else None
    if context is None:
        return None
    figures = [
        Markup(_figure(draw, f"{section.key}-{n}"))
        for n, draw in enumerate(context.pop("figures", ()))
    ]
    return {"section": section, "template": section.template, "context": context,
            "figures": figures}  # fmt: skip


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
        loader=PackageLoader("beadworth.dossier"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["base64"] = lambda data: b64encode(data).decode("ascii")
    environment.filters["day"] = lambda at: str(at)[:10]
    return environment


@lru_cache(maxsize=1)
def _css() -> str:
    own = files("beadworth.dossier").joinpath("dossier.css").read_text(encoding="utf-8")
    return tokens_css() + recolour_css() + own
