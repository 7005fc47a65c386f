"""Technical words of the pages: each is explained where it is used."""

import re
from pathlib import Path

import beadworth.web
from beadworth.report.terms import TERMS, meanings

TEMPLATES = Path(beadworth.web.__file__).parent / "templates"


def test_every_term_a_page_explains_is_known_and_every_known_one_is_explained_somewhere():
    used = set()
    for template in TEMPLATES.glob("*.html"):
        for names in re.findall(r"\{\{ meaning\(\((.*?)\)\) \}\}", template.read_text("utf-8")):
            used |= set(re.findall(r'"([^"]+)"', names))
    assert used <= set(TERMS)
    assert len(used) >= 12
    assert meanings("p")[0][1].startswith("How often chance alone")


def test_the_budget_of_a_dossier_explains_its_terms(report_data):
    from beadworth.report.render.html import dossier_html

    page = dossier_html(report_data)
    for name in ("sensitivity", "coverage factor", "type A, type B"):
        assert TERMS[name] in page
