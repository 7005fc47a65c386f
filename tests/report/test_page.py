"""The dossier page: whole, self-contained, safe with hostile words, right in a real browser."""

from __future__ import annotations

import dataclasses
import itertools
import json
import os
import re
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import pytest
from chart_support import contrast
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from loops import is_long, some

from beadworth.bringup import bring_up_sheet, sheet_page
from beadworth.datapackage import package_files
from beadworth.report.blocks import (
    Bullets,
    Cell,
    Column,
    Figure,
    Heading,
    Pairs,
    Paragraph,
    Photo,
    Row,
    table,
)
from beadworth.report.charts.chart import WIDE_PX
from beadworth.report.charts.trial.ceiling import comparison_chart
from beadworth.report.data import ReadingEntry, ReportData
from beadworth.report.points import talking_points
from beadworth.report.render.figures import pictures
from beadworth.report.render.html import dossier_html, render_section
from beadworth.report.sections.order import SECTIONS
from beadworth.report.sections.section import Section
from beadworth.report.summary import disclosure_line, simulated_parts
from beadworth.report.theme import tokens_css
from beadworth.rig import Rig
from beadworth.text import xml_text
from beadworth.trial import Amendment, Reading
from beadworth.workflow.report import SECTION_SOURCES

GOLDEN = Path(__file__).parent / "golden" / "page.txt"
VOID = {"meta", "link", "br", "img", "input", "hr"}
OLD, NEW = "Tern, stock hot end", "Tern, long melt zone"
HOSTILE = (
    '"><script>alert(1)</script>',
    "</style><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "' onmouseover='alert(1)",
    "</svg></title><b>",
    "{{ 7*7 }}{% raw %}",
    "javascript:alert(1)",
    "]]>&lt;&amp;&#60;",
    # the SVG renderer ends the process on these unless they are taken out before
    "a\x00b\x01\x1f\x05\ufffe\uffff",
)
# Several to a page, as many as a rig's name holds: a page takes two seconds to draw.
TOGETHER = ("".join(HOSTILE[:2]), "".join(HOSTILE[2:5]), " ".join(HOSTILE[5:]))
# Every text element's colour against the nearest opaque ground under it.
COLOURS = """() => {
  const rgb = c => c.match(/[\\d.]+/g).map(Number);
  const out = new Set();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim() || !e.getClientRects().length) continue;
    const svg = e instanceof SVGElement;
    const ink = rgb(svg ? getComputedStyle(e).fill : getComputedStyle(e).color);
    let ground = null;
    if (e.closest('g.mark-text') && e.closest('svg').getAttribute('class').includes('speeds'))
      continue;  // over heat cells: their pairs are tested with the palette
    for (let p = e; p && !ground; p = p.parentElement) {
      const g = rgb(getComputedStyle(p).backgroundColor);
      if (g.length === 3 || g[3] === 1) ground = g;
    }
    out.add(JSON.stringify([ink.slice(0, 3), (ground || [255, 255, 255]).slice(0, 3)]));
  }
  return [...out];
}"""


class Outline(HTMLParser):
    """Reads a page as a browser would: elements, attributes, and whether they close."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags, self.attributes, self.text, self.open, self.crossed = [], [], [], [], []
        self.headings = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.crossed.append(tag)

    def handle_data(self, data):
        self.text.append(data)
        if self.open and re.fullmatch("h[1-6]", self.open[-1]):
            self.headings.append((int(self.open[-1][1]), data.strip()))


def outline(text):
    seen = Outline()
    seen.feed(text)
    seen.close()
    return seen


def check_whole(text):
    """What holds for every page, whatever words it carries."""
    seen = outline(text)
    assert seen.crossed == []
    assert seen.open == []
    assert "script" not in seen.tags
    for tag, name, value in seen.attributes:
        assert not name.startswith("on"), (tag, name)
        if name in ("src", "href", "xlink:href", "action", "data", "poster"):
            assert value.startswith(("#", "data:")), (tag, name, value)
    ids = [value for _, name, value in seen.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    return seen


@pytest.fixture(scope="module")
def html(report_data):
    return dossier_html(report_data)


def test_page_is_one_whole_file_that_asks_for_nothing(html):
    check_whole(html)
    assert not re.search(r"url\((?!#)", html)
    assert "@import" not in html
    assert "default-src 'none'" in html


def test_everything_promised_stands_on_it(html, report_data):
    text = " ".join("".join(outline(html).text).split())
    assert report_data.question in text
    assert report_data.plan.digest in text
    for words in (
        "SIMULATED",
        "Hot parts", "Fumes", "Never unattended", "licensed people under your local codes",
        "bought by the workshop at full price",
        "voided: strand touched the fan shroud", "superseded: typed 1.27 for 1.72",
        "Two coupons added", "JCGM 100:2008", "rectangular", "beadworth 0.1.0",
        "hot end: heated length of the bore, mm", "12.5", "54.00 EUR", "seed 20",
    ):  # fmt: skip
        assert words in text, words
    coupons = {e.reading.coupon for e in report_data.entries}
    assert all(coupon in text for coupon in coupons)
    for section in SECTIONS:
        if section.key not in SECTION_SOURCES or section.key in report_data.section_data:
            assert f'id="{section.key}"' in html


def test_no_published_file_speaks_of_source_files(html, report_data):
    held = {"page": html, "talking points": talking_points(report_data)}
    held |= {n: text.decode("utf-8") for n, text in package_files(report_data).items()}
    held |= {"bring-up sheet": sheet_page(bring_up_sheet(report_data.rigs[0]), tokens_css())}
    for name, text in held.items():
        for word in ("src/", "python -m", ".py"):
            assert word not in text, (name, word)


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.key)
def test_a_section_alone_is_the_one_of_the_page(section, html, report_data):
    alone = render_section(report_data, section.key)
    assert bool(alone) == (f'id="{section.key}"' in html)
    words = squeezed("".join(outline(alone).text))
    assert words in squeezed("".join(outline(html).text))


def squeezed(text):
    return re.sub(r"\s", "", text)


def test_headings_descend_one_step_at_a_time(html):
    levels = [level for level, _ in outline(html).headings]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_tables_have_captions_and_scopes(html):
    tables = re.findall(r"<table.*?</table>", html, flags=re.S)
    assert len(tables) > 8
    for found in tables:
        assert "<caption>" in found
        assert all("scope=" in head for head in re.findall(r"<th\b[^>]*>", found))


def test_every_chart_stands_in_it_with_its_finding_and_how_to_read_it(html, report_data):
    said = squeezed("".join(outline(html).text))
    number, *charts = (picture.chart for picture in pictures(report_data))
    assert number.name == "number"  # to share; the page has it among its figures
    assert len(charts) == html.count("<figcaption>")
    for chart in charts:
        assert squeezed(f"{chart.title}. {chart.caption}") in said, chart.name


def test_every_picture_has_words(html):
    pictures = re.findall(r"<svg[^>]*>", html)
    assert len(pictures) == 2 * html.count("<figcaption>")
    assert all(re.search(r'role="img" aria-label="[^"]{40,}"', p) for p in pictures)


def test_nothing_simulated_nothing_said(report_data):
    real = [rig.model_copy(update={"simulated": False}) for rig in report_data.rigs]
    data = dataclasses.replace(
        report_data,
        simulated=False,
        rigs=tuple(real),
        material=report_data.material.model_copy(update={"simulated": False}),
    )
    assert simulated_parts(data) == ""
    assert "SIMULATED" not in dossier_html(data)
    one = dataclasses.replace(data, rigs=(real[0], report_data.rigs[1]))
    assert "SIMULATED" in dossier_html(one)


def test_disclosure_names_who_did_not_say(report_data):
    said = disclosure_line(report_data)
    assert "Tern, long melt zone: bought by the workshop" in said
    assert "Not stated for Tern, stock hot end" in said
    assert disclosure_line(dataclasses.replace(report_data, rigs=())) == (
        "Who supplied the hardware is not stated."
    )


def test_a_rig_note_stays_private(report_data):
    rigs = tuple(r.model_copy(update={"note": "serial 4711, shelf B"}) for r in report_data.rigs)
    assert "4711" not in dossier_html(dataclasses.replace(report_data, rigs=rigs))


def test_notes_of_a_fit_read_as_sentences(report_data):
    group = dataclasses.replace(report_data.groups[0], notes=("coupon A07 is out.", "two left."))
    page = dossier_html(dataclasses.replace(report_data, groups=(group,)))
    lack = "Lack of fit against replicate scatter: p = 0.37: nothing amiss to see."
    assert f"{lack} Coupon A07 is out. Two left." in page


def test_bare_readings_without_a_plan_make_a_page():
    reading = Reading("r", "m", 210.0, 9.0, 600.0, 1.7)
    for data in (
        ReportData("What does it melt?", (), None, date(2031, 1, 1)),
        ReportData("What does it melt?", (Rig(name="r"),), None, date(2031, 1, 1),
                    entries=(ReadingEntry(reading),)),
    ):  # fmt: skip
        page = dossier_html(data)
        check_whole(page)
        assert "No ceiling can be read from these readings yet." in page


def test_a_feature_adds_its_section(report_data):
    def blocks(data):
        return [Paragraph(data.section_data["journal"])] if "journal" in data.section_data else None

    extra = Section("journal", "Journal", blocks)
    data = dataclasses.replace(report_data, section_data={"journal": "fitted <well>"})
    page = dossier_html(data, (extra,))
    assert "fitted &lt;well&gt;" in page
    assert 'id="readings"' not in page
    assert 'id="journal"' not in dossier_html(report_data, (extra,))


def test_a_section_of_blocks_is_laid_out_and_stays_words(report_data):
    word = "a<b>{{ 7*7 }}"
    rows = [Row(word, (Cell("1.2", "1.0 to 1.4"), word), state="voided")]
    blocks = (
        Paragraph(word, lead=word),
        Heading(word),
        Bullets((Paragraph(word),), kind="caution"),
        Pairs(((word, word),)),
        table(word, (Column("what"), "loss, %", Column(word)), rows),
        Figure(comparison_chart(report_data.differences, baseline=OLD, candidate=NEW)),
        Photo(b"\x89PNG", "image/png", word, word),
    )
    page = dossier_html(report_data, (Section("extra", word, lambda data: blocks),))
    seen = check_blocks_page(page)
    assert seen.count(word) >= 12
    assert 'class="state-voided"' in page
    empty = dossier_html(report_data, (Section("extra", word, lambda data: ()),))
    assert 'class="part"' not in empty


def check_blocks_page(page):
    """Its words, after the checks that hold for every page but the one on pictures' sources."""
    seen = check_whole(page)
    assert "b" not in seen.tags
    return "".join(seen.text)


def hostile_data(data, word):
    name = word[:80].strip() or "x"
    old, new = name[:70] + " 1", name[:70] + " 2"
    swap = {data.rigs[0].name: old, data.rigs[1].name: new}
    rigs = tuple(
        rig.model_copy(
            update={"name": swap[rig.name], "parent": swap.get(rig.parent), "frame": word,
                    "supplied_by": word, "currency": "EUR"}
        )
        for rig in data.rigs
    )  # fmt: skip

    def renamed(item):
        return dataclasses.replace(item, rig=swap[item.rig])

    def regroup(group):
        return dataclasses.replace(
            group,
            rig=swap[group.rig],
            curves=tuple(renamed(c) for c in group.curves),
            delivery=tuple(renamed(d) for d in group.delivery),
            law=dataclasses.replace(group.law, rig=swap[group.rig], sentence=word),
            notes=(word,),
        )

    entries = tuple(
        dataclasses.replace(
            e,
            reason=word,
            reading=dataclasses.replace(
                e.reading, rig=swap[e.reading.rig], coupon=word[20 * n :][:20], note=word
            ),
        )
        for n, e in enumerate(data.entries[::16])
    )
    return dataclasses.replace(
        data,
        question=word,
        rigs=rigs,
        candidate=new,
        material=data.material.model_copy(
            update={"name": name, "fumes_note": word, "source": word}
        ),
        entries=entries,
        groups=tuple(regroup(g) for g in data.groups),
        ceilings=tuple(renamed(c) for c in data.ceilings),
        law_ceilings=tuple(renamed(c) for c in data.law_ceilings),
        speeds=tuple(renamed(s) for s in data.speeds[::6]),
        speed_settings=tuple(renamed(s) for s in data.speed_settings),
        amendments=(Amendment(None, word, word),),
        versions={word: word},
        disclosure=word,
    )


@pytest.fixture
def one_width(monkeypatch):
    """The narrow charts drawn wide, which are there already; both widths in the long tests."""
    if not is_long():
        monkeypatch.setattr("beadworth.report.render.html.NARROW_PX", WIDE_PX)


def test_a_name_holds_every_hostile_word():
    assert all(len(words) <= 70 for words in TOGETHER)
    assert all(any(word in words for words in TOGETHER) for word in HOSTILE)


@pytest.mark.parametrize("word", TOGETHER)
def test_hostile_words_never_break_out(word, report_data, request):
    if word != TOGETHER[0]:
        request.getfixturevalue("one_width")
    page = dossier_html(hostile_data(report_data, word))
    seen = check_whole(page)
    assert "img" not in seen.tags
    shown = xml_text(word).split()
    said = "".join(seen.text)
    assert all(part in said for part in shown)
    page.encode("utf-8")


@settings(
    max_examples=some(1, long=12),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(word=st.text(st.characters(), min_size=1, max_size=120))
@example(word="lone surrogate \ud800")
@example(word="stray control \x05")
def test_any_words_make_a_whole_page(word, report_data, one_width):
    plain = dataclasses.replace(hostile_data(report_data, word), plan=None, speeds=())
    check_whole(dossier_html(plain))


def test_words_of_the_page_match_the_stored_ones(html):
    """Set BEADWORTH_GOLDEN=1 to write them anew, then read the difference."""
    text = re.sub(r"<(style|svg|figcaption)\b.*?</\1>", "", html, flags=re.S)
    lines = (" ".join(line.split()) for line in "".join(outline(text).text).splitlines())
    told = "\n".join(line for line in lines if line) + "\n"
    if os.environ.get("BEADWORTH_GOLDEN"):
        GOLDEN.write_text(told, encoding="utf-8")
    assert GOLDEN.read_text(encoding="utf-8") == told


@pytest.mark.browser
def test_page_in_a_browser(html, visit, tmp_path):
    page = tmp_path / "dossier.html"
    page.write_text(html, encoding="utf-8")
    seen = visit(page.as_uri())
    seen.check()
    for width, mode in ((1280, "light"), (1280, "dark"), (360, "dark"), (360, "light")):
        seen.page.set_viewport_size({"width": width, "height": 900})
        seen.page.emulate_media(color_scheme=mode)
        seen.check_layout()
        assert_charts_are_shown(seen.page, html)
    assert seen.requests == [page.as_uri()]


def assert_charts_are_shown(page, html):
    """Each chart once, and its texts readable."""
    shown = page.locator(".chart:visible").count()
    assert shown == html.count("<figcaption>")
    low = []
    for pair in page.evaluate(COLOURS):
        ink, ground = ("#" + "".join(f"{int(part):02x}" for part in c) for c in json.loads(pair))
        if contrast(ink, ground) < 4.5:
            low.append((ink, ground))
    assert low == []


@pytest.mark.browser
def test_the_answer_is_on_the_first_screen(html, visit):
    page = visit(html).page
    for width, height in ((1280, 800), (360, 800)):
        page.set_viewport_size({"width": width, "height": height})
        box = page.locator(".answer").bounding_box()
        assert box["y"] + box["height"] < height


@pytest.mark.browser
def test_one_picture_follows_the_mode(html, visit):
    script = "() => getComputedStyle(document.querySelector('.wide .role-axis-label text')).fill"
    page = visit(html).page
    light = page.evaluate(script)
    page.emulate_media(color_scheme="dark")
    assert light != page.evaluate(script)


@pytest.mark.browser
def test_prints_in_the_print_colours_and_whole(html, visit):
    seen = visit(html, mode="dark")
    pdf = seen.page.pdf(prefer_css_page_size=True)
    assert pdf.startswith(b"%PDF")
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) >= 4
    seen.page.emulate_media(media="print")
    ground = seen.page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)"
    assert seen.page.locator(".chart.narrow:visible").count() == 0
    seen.page.set_viewport_size({"width": 680, "height": 900})
    assert seen.look() == []
