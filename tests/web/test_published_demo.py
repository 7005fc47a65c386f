"""Every artefact of a whole publication opened: Chromium, PDF pages, and what must not be in it."""

from __future__ import annotations

import base64
import getpass
import io
import platform
import re
import zipfile
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from beadworth.store import open_bench
from beadworth.store.prints import PrintShelf

USER = "quillfeather"
HOST = "nightjarhost"
PRINT = "bracket-for-merganser"
# The command, then in its process, which has the fits by now, every chart as the browser hands it
# out, as SVG; the first and the last as the files of a publication, on a canvas, and as PNG from
# the browser (all of them would take minutes).
PUBLISH = """
import sys
from pathlib import Path
from beadworth.cli import main
from beadworth.store import open_bench
from beadworth.workflow import report_data
from beadworth.report import pictures, render_png, render_svg, write_figures
from beadworth.report.render.figures import SHAPES, canvas_svg

bench, trial, out = sys.argv[1], sys.argv[2], Path(sys.argv[3])
try:
    main(["dossier", "publish", trial, "--out", str(out), "--bench", bench,
          "--html", "--pdf", "--package", "--wear", "--replays"])
except SystemExit as ended:
    assert not ended.code
with open_bench(bench) as store:
    data = report_data(store, trial)
found = pictures(data)
some = [found[0], found[-1]]
write_figures(data, out, chosen=some)
for one in found:
    (out / f"{one.name}.svg").write_text(render_svg(one.chart), encoding="utf-8")
for one in some:
    (out / f"{one.name}-canvas.svg").write_text(canvas_svg(one, SHAPES[0]), encoding="utf-8")
    (out / f"{one.name}.png").write_bytes(render_png(one.chart))
"""


@pytest.fixture(scope="module")
def published(demo_nursery, demo_copy, tmp_path_factory):
    """What the command writes for the demo upgrade, on a machine with telling names."""
    home = tmp_path_factory.mktemp("home") / USER
    home.mkdir()
    bench = demo_copy(home)
    with open_bench(bench) as made:
        record = next(t for t in made.trials() if t.spec and t.spec.candidate)
        trial = record.id
        with PrintShelf(made).receiving(f"{PRINT}.gcode") as upload:
            upload.write(b"G1 X1 F600\n")
            stored = upload.keep()
        PrintShelf(made).store_verdict(
            stored,
            {"verdict": "never over the ceiling", "time_s": 5400.0, "rig": record.spec.baseline},
        )
    out = home / "out"
    telling = {"HOME": str(home), "USER": USER, "LOGNAME": USER, "USERNAME": USER,
               "HOSTNAME": HOST, "TMPDIR": str(home)}  # fmt: skip
    said = demo_nursery.run(PUBLISH, [str(bench), trial, str(out)], telling, home)
    assert said.endswith("ended well\n"), said
    return out


def test_the_whole_upgrade_is_in_it(published):
    page = next(published.glob("*.html")).read_text(encoding="utf-8")
    for key in ("comparison", "typical", "worth", "fit", "bringup", "replays", "wear", "journal",
                "cautions", "method", "readings", "references"):  # fmt: skip
        assert f'<section class="part" id="{key}"' in page, key


EMBEDDED = re.compile(rb"data:[\w./+-]+;base64,([A-Za-z0-9+/=]+)")


def searched(data: bytes) -> list[bytes]:
    """The bytes of a file, and what is packed inside a PDF, a zip, a PNG, a page or an SVG."""
    if data.startswith(b"\x89PNG"):
        picture = Image.open(io.BytesIO(data))
        picture.load()  # texts may stand behind the pixels
        return [data, *(f"{key}={said}".encode() for key, said in picture.info.items())]
    if data.startswith(b"PK"):
        packed = zipfile.ZipFile(io.BytesIO(data))
        return [data, *(packed.read(name) for name in packed.namelist())]
    if data.startswith(b"%PDF"):
        import pypdf
        import pypdfium2

        reader = pypdf.PdfReader(io.BytesIO(data))
        inside = [repr(reader.metadata), (reader.xmp_metadata and reader.xmp_metadata.stream
                  .get_data().decode("utf-8", "replace")) or ""]  # fmt: skip
        inside += [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(data)]
        return [data, *(text.encode("utf-8") for text in inside)]
    inside = [base64.b64decode(found) for found in EMBEDDED.findall(data)]
    return [data, *(part for one in inside for part in searched(one))]


@pytest.mark.parametrize("zipped", [False, True])
@pytest.mark.parametrize("add", ["add_text", "add_itxt"])
def test_the_search_finds_a_word_packed_in_a_picture(add, zipped):
    chunks = PngImagePlugin.PngInfo()
    getattr(chunks, add)("Comment", f"/home/{USER} " * 20, zip=zipped)
    made = io.BytesIO()
    Image.new("1", (2, 2)).save(made, "PNG", pnginfo=chunks)
    packed = base64.b64encode(made.getvalue())
    for data in (made.getvalue(), b'<svg><image href="data:image/png;base64,' + packed + b'"/>'):
        assert any(USER.encode() in part for part in searched(data))


def test_no_user_name_host_folder_or_print_file_is_in_any_artefact(published):
    files = [file for file in published.rglob("*") if file.is_file()]
    kinds = [file.suffix for file in files]
    assert {".html", ".pdf", ".json", ".csv", ".md", ".svg", ".png"} <= set(kinds)
    assert kinds.count(".svg") > 20 + 2
    assert kinds.count(".png") == 2 * 13
    words = {
        USER,
        HOST,
        PRINT,
        "src/",
        "python -m",
        str(published.parent),
        str(Path.cwd()),
        "/tmp/",
        "/home/",
    }
    # the names of this very machine, where they are long enough not to stand there by chance
    words |= {name for name in (platform.node(), getpass.getuser()) if len(name) > 5}
    for file in files:
        assert not any(word in file.name for word in words), file.name
        for data in searched(file.read_bytes()):
            for word in words:
                assert word.encode() not in data, (file.name, word)


def test_every_page_of_the_pdf_has_ink(published):
    import pypdfium2

    document = pypdfium2.PdfDocument(next(published.glob("*.pdf")).read_bytes())
    assert len(document) > 15
    for number, page in enumerate(document, 1):
        grey = np.asarray(page.render(scale=0.5).to_pil().convert("L"))
        assert (grey[30:-25] < 140).mean() > 0.002, number
        text = page.get_textpage()
        right = max(text.get_rect(n)[2] for n in range(text.count_rects()))
        assert right <= page.get_width() - 40, number


@pytest.mark.browser
def test_the_page_of_the_whole_upgrade_in_a_browser(published, visit):
    file = next(published.glob("*.html"))
    seen = visit(file.as_uri())
    seen.check_both()
    assert seen.requests == [file.as_uri()]
