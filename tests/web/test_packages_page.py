"""Data packages in the browser and over HTTP: brought in, shown, compared, refused whole."""

from __future__ import annotations

import io
import re
import shutil
import zipfile

import pytest
from page_words import plain

from beadworth import demo
from beadworth.datapackage import unzip, zip_bytes
from beadworth.store import open_bench
from beadworth.web import create_app
from beadworth.workflow import export_package
from beadworth.workflow.packages import PACKAGE_KIND, imported_packages


@pytest.fixture(scope="module")
def demo_file(demo_copy, tmp_path_factory):
    return demo_copy(tmp_path_factory.mktemp("packages-demo"), packages=True)


@pytest.fixture
def seeded(demo_file, tmp_path):
    with open_bench(shutil.copy(demo_file, tmp_path / "demo.bench")) as bench:
        yield bench


@pytest.fixture
def visitor(seeded):
    from fastapi.testclient import TestClient

    with TestClient(create_app(seeded), base_url="http://127.0.0.1",
                    follow_redirects=False) as made:  # fmt: skip
        yield made


@pytest.fixture(scope="module")
def reader(demo_file, tmp_path_factory):
    """A visitor who changes nothing: all who only read share one application, fitted once."""
    from fastapi.testclient import TestClient

    copy = shutil.copy(demo_file, tmp_path_factory.mktemp("read") / "demo.bench")
    with (
        open_bench(copy) as bench,
        TestClient(create_app(bench), base_url="http://127.0.0.1", follow_redirects=False) as made,
    ):
        made.bench = bench
        yield made


@pytest.fixture(scope="module")
def trial(reader):
    return next(t.id for t in reader.bench.trials() if t.question == demo.FINISHED.question)


def test_a_zip_given_by_the_form_is_kept_and_shown(visitor, seeded, trial):
    zipped = zip_bytes(export_package(seeded, trial))
    done = visitor.post("/packages", files={"file": ("tern.zip", zipped, "application/zip")})
    assert done.status_code == 303
    shown = visitor.get(done.headers["location"])
    text = plain(shown.text)
    assert demo.FINISHED.question in text
    assert "Creative Commons Attribution 4.0 International" in text
    assert "simulated" in text
    assert re.search(r"17\.[0-4] mm³/s \(16\.\d to 18\.\d\)", text)
    assert len(imported_packages(seeded)) == 5


def test_a_spoilt_zip_is_refused_with_every_reason_and_nothing_kept(reader, trial):
    files = export_package(reader.bench, trial)
    files["readings.csv"] += b"x"
    del files["rigs.json"]
    given = {"file": ("<b>tern</b>.zip", zip_bytes(files), "application/zip")}
    refused = reader.post("/packages", files=given)
    assert refused.status_code == 422
    text = refused.text
    assert "Nothing was imported: 3 things are wrong with it" in text
    assert "its SHA-256 is not the one in the descriptor" in text
    assert "the file is missing." in text
    assert "<b>tern" not in text
    assert len(reader.bench.notes(PACKAGE_KIND)) == 4


@pytest.mark.parametrize("data", [b"", b"PK", b"not a zip at all"])
def test_what_is_no_zip_is_refused(reader, data):
    refused = reader.post("/packages", files={"file": ("a.zip", data, "application/zip")})
    assert refused.status_code == 422
    assert "not a whole zip file" in refused.text
    assert reader.post("/packages", data={}).status_code == 422


def test_the_list_shows_licences_and_the_table_its_sources(reader):
    text = plain(reader.get("/packages").text)
    assert text.count("CC-BY-4.0") == 4
    assert "The lime kiln" in text
    assert "common practice, no source; a 20 mm melt zone" in text
    assert "doi:10.1007/s40192-024-00350-w" in text


def test_a_package_of_a_later_release_is_told_of_and_no_more(visitor, seeded):
    later = {"datapackage.json": '{"trial_package": 2}'}
    seeded.add_note(PACKAGE_KIND, "f" * 64, {"source": "later", "files": later})
    text = plain(visitor.get("/packages").text)
    assert "Package ffffffff cannot be read by this release" in text
    assert text.count("CC-BY-4.0") == 4


def test_ones_own_rig_against_a_packages_rig(reader, trial):
    name = imported_packages(reader.bench)[0].name
    page = reader.get(f"/packages/{name}")
    assert page.status_code == 200
    query = {"own": f"{trial}|{demo.LONG_ZONE.name}", "rig": "Plover, standard melt zone"}
    text = plain(reader.get(f"/packages/{name}", params=query).text)
    assert "The candidate delivers more at all 3 common temperatures." in text
    assert f"the baseline Plover, standard melt zone (package {name})" in text
    refused = reader.get(f"/packages/{name}", params={"own": "nobody|nothing"})
    assert refused.status_code == 422
    assert "this is no rig of a trial of yours." in refused.text


def test_an_unknown_package_is_not_found(reader):
    assert reader.get("/packages/00000000").status_code == 404


def test_a_package_is_handed_on_as_it_came(reader):
    first = imported_packages(reader.bench)[0]
    got = reader.get(f"/packages/{first.name}/file")
    assert got.headers["content-type"] == "application/zip"
    assert unzip(got.content, "a.zip") == export_package(reader.bench, first.name)


# JSON


def test_packages_over_http(visitor, seeded, trial, refusal):
    listed = visitor.get("/api/packages").json()["packages"]
    assert next(p["creator"] for p in listed) == "The reed loft"
    exported = visitor.get(f"/api/trials/{trial}/package", params={"licence": "CC0-1.0"})
    assert exported.status_code == 200
    given = visitor.post(
        "/api/packages", params={"name": "tern.zip"}, content=exported.content,
        headers={"content-type": "application/zip"},
    )  # fmt: skip
    assert given.status_code == 201
    row = given.json()
    assert (row["new"], row["licence"], row["simulated"]) == (True, "CC0-1.0", True)
    address = f"/api/packages/{row['package']}"
    assert len(visitor.get(f"{address}/fit").json()["ceilings"]) == 6
    found = visitor.get(f"{address}/compare", params={"trial": trial}).json()
    assert len(found["differences"]) == 3
    again = visitor.get(f"{address}/file").content
    assert unzip(again, "a") == unzip(exported.content, "b")
    refusal(visitor.post("/api/packages", params={"name": "x.zip"}, content=again[:-9]), 422,
            "package", mentions=["x.zip"])  # fmt: skip
    refusal(visitor.get("/api/packages/0000/fit"), 404, "not-found")
    refusal(visitor.get(f"/api/trials/{trial}/package", params={"licence": "free"}), 422, "input",
            mentions=["CC-BY-4.0"])  # fmt: skip
    refusal(visitor.get("/api/trials/nothing/package"), 404, "not-found")


def test_typical_over_http(reader, trial):
    found = reader.get(f"/api/trials/{trial}/typical").json()
    assert len(found["pools"]) == 6
    pool = found["pools"][0]
    assert pool["pooled"]["prediction_low"] < pool["pooled"]["low"]
    assert pool["pooled"]["pooled"]["method"] == "REML"


def test_a_page_of_somebody_else_cannot_bring_a_package_in(reader):
    buffer = io.BytesIO()
    zipfile.ZipFile(buffer, "w").close()
    for path in ("/packages", "/api/packages?name=a.zip"):
        done = reader.post(path, content=buffer.getvalue(),
                            headers={"origin": "https://example.org"})  # fmt: skip
        assert done.status_code == 403


@pytest.mark.browser
def test_pages_are_quiet_fit_and_are_accessible(visit, demo_server):
    seen = visit(f"{demo_server.address}/packages")
    seen.check_both()
    seen.page.get_by_role("link", name="The reed loft").click()
    seen.page.get_by_role("button", name="Compare").click()
    seen.page.locator(".finding").wait_for()
    seen.check_both()


def test_a_trial_shows_its_ceilings_beside_its_class(reader, trial):
    assert (
        'hx-get="/trials/long-melt-zone-deliver-1/typical"'
        in reader.get(f"/trials/{trial}?tab=typical").text
    )
    text = reader.get(f"/trials/{trial}/typical").text
    assert "Long melt zone, usual bore, PLA at 220 °C: 4 trials give" in text
    assert 'id="figure-typical-long-usual-pla"' in text
    assert 'id="figure-forest-long-usual-pla-220"' in text
