"""Every artefact of a whole publication opened: Chromium, PDF pages, and what must not be in it."""

from __future__ import annotations

import getpass
import io
import os
import platform
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from beadworth.bench import open_bench
from beadworth.demo import seed

USER = "quillfeather"
HOST = "nightjarhost"


@pytest.fixture(scope="module")
def published(tmp_path_factory):
    """What the command writes for the demo upgrade, on a machine with telling names."""
    home = tmp_path_factory.mktemp("home") / USER
    home.mkdir()
    bench = home / "my.bench"
    with open_bench(bench) as made:
        seed(made)
        trial = next(t.id for t in made.trials() if t.spec and t.spec.candidate)
    out = home / "out"
    telling = {"HOME": str(home), "USER": USER, "LOGNAME": USER, "USERNAME": USER,
               "HOSTNAME": HOST, "TMPDIR": str(home)}  # fmt: skip
    ran = subprocess.run(
        [sys.executable, "-m", "beadworth", "dossier", "publish", trial, "--out", str(out),
         "--bench", str(bench), "--html", "--pdf", "--package"],
        env=os.environ | telling, cwd=home, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    return out


def test_the_whole_upgrade_is_in_it(published):
    page = next(published.glob("*.html")).read_text(encoding="utf-8")
    for key in ("comparison", "typical", "worth", "fit", "bringup", "wear", "journal", "cautions",
                "method", "readings", "references"):  # fmt: skip
        assert f'<section class="part" id="{key}"' in page, key


def searched(data: bytes) -> list[bytes]:
    """The bytes of a file, and what is packed inside a PDF or a zip."""
    if data.startswith(b"PK"):
        packed = zipfile.ZipFile(io.BytesIO(data))
        return [data, *(packed.read(name) for name in packed.namelist())]
    if data.startswith(b"%PDF"):
        import pypdf

        reader = pypdf.PdfReader(io.BytesIO(data))
        inside = [repr(reader.metadata), (reader.xmp_metadata and reader.xmp_metadata.stream
                  .get_data().decode("utf-8", "replace")) or ""]  # fmt: skip
        inside += [page.extract_text() for page in reader.pages]
        return [data, *(text.encode("utf-8") for text in inside)]
    return [data]


def test_no_user_name_host_or_folder_is_in_any_artefact(published):
    files = [file for file in published.rglob("*") if file.is_file()]
    assert len(files) > 10
    words = {USER, HOST, str(published.parent), str(Path.cwd()), "/tmp/", "/home/"}
    # the names of this very machine, where they are long enough not to stand there by chance
    words |= {name for name in (platform.node(), getpass.getuser()) if len(name) > 5}
    for file in files:
        for data in searched(file.read_bytes()):
            for word in words:
                assert word.encode() not in data, (file.name, word)


def test_every_page_of_the_pdf_has_ink(published):
    document = pypdfium2.PdfDocument(next(published.glob("*.pdf")).read_bytes())
    assert len(document) > 15
    for number, page in enumerate(document, 1):
        grey = np.asarray(page.render(scale=0.5).to_pil().convert("L"))
        assert (grey[30:-25] < 140).mean() > 0.002, number
        text = page.get_textpage()
        right = max(text.get_rect(n)[2] for n in range(text.count_rects()))
        assert right <= page.get_width() - 40, number


@pytest.mark.browser
@pytest.mark.parametrize("mode", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_the_page_of_the_whole_upgrade_in_a_browser(width, mode, published, visit):
    file = next(published.glob("*.html"))
    seen = visit(file.as_uri(), width=width, mode=mode)
    seen.check()
    assert seen.requests == [file.as_uri()]
