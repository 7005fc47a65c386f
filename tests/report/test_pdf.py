"""The typeset dossier: pages rendered, fonts inside, tables numbered, hostile words as words."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import io
import os
import re
import subprocess
import sys

import numpy as np
import pypdf
import pytest
from report_case import with_prediction

from beadworth.report.blocks import Figure, Paragraph, Photo, Table
from beadworth.report.render.html import dossier_html
from beadworth.report.render.pdf import ZERO_WIDTH_SPACE, dossier_pdf
from beadworth.report.sections.order import filled_sections
from beadworth.report.sections.section import Section

HOSTILE = (
    '#panic("out")',
    '#eval("1+1") #sys.inputs',
    "*bold* _soft_ `code` $ x^2 $",
    "@ref <label> \\ // comment",
    '#read("/etc/passwd")',
    "]#v(9cm)[",
    '") "',
    "}}{{ 7*7 }}",
    "https://example.org/very/long/path/without/any/place/to/break/" + "x" * 80,
)
MM = 72 / 25.4


@pytest.fixture(scope="module")
def pdf(report_data):
    return dossier_pdf(report_data)


@functools.cache
def texts(pdf):
    """What each page says, as a reader's program takes it out."""
    import pypdfium2

    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]
    return [page.replace("\r\n", "\n") for page in pages]


def words(pdf):
    """All of it without spaces and places to break, so that line ends do not count."""
    return re.sub(rf"[\s{ZERO_WIDTH_SPACE}]", "", "".join(texts(pdf)))


def squeezed(text):
    return re.sub(r"\s", "", text)


@pytest.fixture(scope="module")
def pdf_of_one_rig(report_data):
    """The dossier of a trial of the baseline alone."""
    rig = report_data.rigs[0].name
    own = {
        name: tuple(one for one in getattr(report_data, name) if one.rig == rig)
        for name in ("groups", "ceilings", "law_ceilings", "speeds", "speed_settings")
    }
    entries = tuple(e for e in report_data.entries if e.reading.rig == rig)
    return dossier_pdf(
        dataclasses.replace(report_data, candidate=None, rigs=report_data.rigs[:1], entries=entries,
                            differences=(), section_data={}, **own)
    )  # fmt: skip


@pytest.fixture(scope="module")
def pdf_with_prediction(report_data):
    """The dossier with predictions beside what was weighed."""
    return dossier_pdf(with_prediction(report_data))


@pytest.mark.parametrize("which", ["pdf", "pdf_of_one_rig", "pdf_with_prediction"])
def test_it_opens_on_answer_and_chart_and_leaves_no_page_half_empty(which, request):
    import pypdfium2

    pdf = request.getfixturevalue(which)
    first = texts(pdf)[0]
    assert first.index("Figure 1") < first.index("Who supplied the hardware")
    used = []
    for page in pypdfium2.PdfDocument(pdf):
        body = np.asarray(page.render(scale=0.5).to_pil().convert("L"))
        body = body[int(26 * MM / 2) : int(275 * MM / 2)]
        used.append((np.flatnonzero((body < 200).any(axis=1))[-1] + 1) / len(body))
    assert min(used[:-1]) > 0.6


def test_every_page_has_ink_and_nothing_runs_off_it(pdf):
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    assert len(document) > 5
    for number, page in enumerate(document, 1):
        wide, high = page.get_size()
        assert (wide, high) == pytest.approx((210 * MM, 297 * MM), abs=0.1)
        grey = np.asarray(page.render(scale=1.0).to_pil().convert("L"))
        body = grey[int(26 * MM) : int(275 * MM)]
        assert (body < 128).mean() > 0.002, f"page {number} is empty"
        edge = np.ones_like(grey, dtype=bool)
        margin = int(9 * MM)
        edge[margin:-margin, margin:-margin] = False
        assert (grey[edge] == 255).all(), f"page {number} prints into its edge"
        text = page.get_textpage()
        for n in range(text.count_rects()):
            left, bottom, right, top = text.get_rect(n)
            assert left >= 15 * MM, number
            assert right <= wide - 15 * MM, number
            assert bottom >= 5 * MM, number
            assert top <= high - 5 * MM, number


def fonts_of(pdf):
    """Every font a page or a picture on it uses, as the dictionaries that describe it."""

    def walk(resources, seen):
        for name in resources.get("/Font", {}):
            font = resources["/Font"][name].get_object()
            yield font
        for name in resources.get("/XObject", {}):
            inner = resources["/XObject"][name].get_object()
            if inner.get("/Resources") and id(inner) not in seen:
                seen.add(id(inner))
                yield from walk(inner["/Resources"].get_object(), seen)

    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        yield from walk(page["/Resources"].get_object(), set())


def test_every_font_is_inside(pdf):
    names = set()
    for font in fonts_of(pdf):
        base = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        descriptor = base["/FontDescriptor"].get_object()
        assert any(f"/FontFile{n}" in descriptor for n in ("", "2", "3")), base["/BaseFont"]
        assert "/ToUnicode" in font, "text that cannot be searched or read aloud"
        names.add(str(base["/BaseFont"]).partition("+")[2])
    assert {name.partition("-")[0] for name in names} == {"LibertinusSerif", "LiberationSans"}


def test_figures_are_vectors_with_text(pdf):
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert not any(page.images for page in reader.pages)
    said = "".join(texts(pdf))
    assert "commanded flow, mm³/s" in said
    assert "nozzle temperature, °C" in said


def test_tables_and_figures_are_numbered_in_order(pdf, report_data):
    blocks = [block for one in filled_sections(report_data) for block in one.blocks]
    said = "\n".join(texts(pdf))
    for kind, word in ((Table, "Table"), (Figure, "Figure")):
        many = sum(isinstance(block, kind) for block in blocks)
        numbers = [int(n) for n in re.findall(rf"^{word}\s(\d+)\.\s", said, flags=re.M)]
        assert many > 5
        assert numbers == list(range(1, many + 1))


def test_all_of_the_page_stands_in_it(pdf, report_data):
    said = words(pdf)
    data = report_data
    for text in (
        data.question, "Hot parts.", "voided: strand touched the fan shroud", "JCGM 100:2008",
        "bought by the workshop at full price", "Two coupons added",
        data.versions["numpy"],
    ):  # fmt: skip
        assert squeezed(text) in said, text
    for one in filled_sections(data):
        assert squeezed(one.section.title) in said
    assert all(entry.reading.coupon in said for entry in data.entries)


def test_pages_are_numbered_and_marked(pdf, report_data):
    pages = texts(pdf)
    for number, text in enumerate(pages, 1):
        assert f"{number} of {len(pages)}" in text
        assert "SIMULATED" in text
    real = dataclasses.replace(
        report_data,
        simulated=False,
        rigs=tuple(r.model_copy(update={"simulated": False}) for r in report_data.rigs),
        material=report_data.material.model_copy(update={"simulated": False}),
        entries=(),
    )
    assert "simulated" not in "".join(texts(dossier_pdf(real))).lower()


def test_it_is_tagged_and_says_nothing_of_who_made_it(pdf, report_data):
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.trailer["/Root"]["/Lang"] == "en"
    told_of = reader.metadata
    assert told_of.title == report_data.question
    assert told_of.author is None
    assert told_of.creation_date.date() == report_data.generated_at
    assert b"pdfuaid" in pdf


SAME = """
import sys, hashlib, importlib.util
spec = importlib.util.spec_from_file_location("made", sys.argv[1])
made = importlib.util.module_from_spec(spec); spec.loader.exec_module(made)
from beadworth.report import dossier_pdf
data = made.report_data.__wrapped__()
print(hashlib.sha256(dossier_pdf(data)).hexdigest())
"""


def test_the_same_dossier_gives_the_same_bytes_anywhere(pdf, tmp_path, request):
    """Made here, and by another user in another place at another hour."""
    made = request.path.parents[1] / "support" / "report_case.py"
    environment = os.environ | {
        "HOME": str(tmp_path), "TMPDIR": str(tmp_path), "USER": "another", "TZ": "Asia/Tokyo",
        "PYTHONHASHSEED": "1",
    }  # fmt: skip
    ran = subprocess.run(
        [sys.executable, "-c", SAME, str(made)],
        env=environment, cwd=tmp_path, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert ran.stdout.strip() == hashlib.sha256(pdf).hexdigest()


# several to a document, which takes a second to set; what cannot be broken is on its own
@pytest.mark.parametrize("word", [" ".join(HOSTILE[:4]), " ".join(HOSTILE[4:8]), HOSTILE[8]])
def test_hostile_words_are_words(word, report_data):
    import pypdfium2

    name = word[:70].strip()
    rigs = tuple(
        rig.model_copy(update={"name": f"{name} {n}", "parent": None, "supplied_by": word})
        for n, rig in enumerate(report_data.rigs)
    )
    data = dataclasses.replace(
        report_data,
        question=word, rigs=rigs, candidate=None, plan=None, spec=None, groups=(), ceilings=(),
        law_ceilings=(), differences=(), speeds=(), speed_settings=(),
        entries=tuple(
            dataclasses.replace(e, reading=dataclasses.replace(e.reading, note=word))
            for e in report_data.entries[:4]
        ),
    )  # fmt: skip
    made = dossier_pdf(data)
    assert squeezed(word) in words(made)
    page = dossier_html(data)
    assert len(page) > 1000
    for page in pypdfium2.PdfDocument(made):
        text = page.get_textpage()
        right = max(text.get_rect(n)[2] for n in range(text.count_rects()))
        assert right <= 195 * MM


def test_letters_the_fonts_lack_and_characters_no_text_has_do_not_stop_it(report_data):
    data = dataclasses.replace(report_data, question="热端 \U0001f525 a\x00b \ud800?", plan=None,
                               groups=(), speeds=(), entries=(), law_ceilings=())  # fmt: skip
    assert dossier_pdf(data).startswith(b"%PDF")


def test_a_photo_stands_in_it(report_data):
    from PIL import Image

    held = io.BytesIO()
    Image.new("RGB", (60, 40), (120, 60, 20)).save(held, "PNG")
    photo = Photo(held.getvalue(), "image/png", "The hot end, fitted", "A brown rectangle")
    section = Section("photos", "Photos", lambda data: (Paragraph("See."), photo))
    made = dossier_pdf(report_data, (section,))
    reader = pypdf.PdfReader(io.BytesIO(made))
    assert sum(len(page.images) for page in reader.pages) == 1
    assert "Figure 1. The hot end, fitted" in " ".join("".join(texts(made)).split())
