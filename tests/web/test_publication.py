"""Publishing from the browser: one click, progress, a zip from disk, and single files."""

from __future__ import annotations

import csv
import io
import json
import re
import threading
import time
import zipfile

import pytest
from cli_support import call_main
from fastapi.testclient import TestClient
from PIL import Image

from beadworth.datapackage import PublicationOptions
from beadworth.store import open_bench
from beadworth.web.app import create_app
from beadworth.web.jobs import Jobs
from beadworth.web.routes.publish import publication_job
from beadworth.workflow import LOOK_AT
from beadworth.workflow import publish as publishing


@pytest.fixture(scope="module")
def bench(demo_copy, tmp_path_factory):
    with open_bench(demo_copy(tmp_path_factory.mktemp("publication"))) as made:
        yield made


@pytest.fixture(scope="module")
def trial(bench):
    return next(t.id for t in bench.trials() if t.spec and t.spec.candidate)


@pytest.fixture(scope="module")
def client(bench):
    with TestClient(create_app(bench), base_url="http://127.0.0.1") as made:
        yield made


def fetched(client, trial, parts, **fields):
    """The zip of a publication, after its progress was followed to its end."""
    answer = client.post(
        f"/trials/{trial}/publication",
        data={"part": parts} | fields,
        headers={"HX-Request": "true"},
    )
    for _ in range(300):
        assert answer.status_code == 200
        ready = re.search(r'href="([^"]+/file)"', answer.text)
        if ready:
            file = client.get(ready[1])
            assert file.headers["content-type"] == "application/zip"
            return ready[1], zipfile.ZipFile(io.BytesIO(file.content))
        again = re.search(r'hx-get="([^"]+)"', answer.text)[1]
        time.sleep(0.1)
        answer = client.get(again, headers={"HX-Request": "true"})
    pytest.fail("never done")
    return None


def test_a_click_gives_a_zip_of_what_was_ticked(client, trial):
    address, found = fetched(client, trial, ["html", "pdf", "talking-points", "package"])
    names = found.namelist()
    assert {f"{trial}.html", f"{trial}.pdf", f"{trial}-talking-points.md",
            f"{trial}-readings.csv", f"{trial}-data/datapackage.json"} <= set(names)  # fmt: skip
    assert found.testzip() is None
    assert found.read(f"{trial}.pdf").startswith(b"%PDF")
    assert {entry.date_time[0] for entry in found.infolist()} == {1980}
    # a newer one takes its place, and the old address says so
    newer, _ = fetched(client, trial, ["talking-points"])
    assert newer != address
    gone = client.get(address)
    assert gone.status_code == 404
    assert "a newer one took its place" in gone.text


def test_the_data_package_has_the_licence_and_shows_what_was_chosen(client, trial):
    page = client.get(f"/trials/{trial}/publish").text
    assert '<option value="CC-BY-4.0" selected>' in page
    for fields, licence, creator, priced in (
        ({"show": ["notes", "prices"]}, "CC-BY-4.0", "", True),
        ({"licence": "CC0-1.0", "creator": "Saltmarsh shed"}, "CC0-1.0", "Saltmarsh shed", False),
    ):
        _, found = fetched(client, trial, ["package"], **fields)
        said = json.loads(found.read(f"{trial}-data/datapackage.json"))
        assert [one["name"] for one in said["licenses"]] == [licence]
        assert [one["title"] for one in said.get("contributors", ())] == [creator] * bool(creator)
        rigs = json.loads(found.read(f"{trial}-data/rigs.json"))
        assert any(rig.get("price") for rig in rigs) == priced
        readings = found.read(f"{trial}-data/readings.csv").decode("utf-8").splitlines()
        assert any(row["note"] for row in csv.DictReader(readings)) == priced
    refused = client.post(
        f"/trials/{trial}/publication", data={"part": "package", "licence": "mine"}
    )
    assert refused.status_code == 422
    assert "is known here" in refused.text


def test_the_page_shows_what_was_chosen_and_no_more(client, trial, bench):
    price = next(f"{rig.price:.2f} {rig.currency}" for rig in bench.rigs() if rig.price)
    with_all = {"show": ["notes", "prices", "wear", "replays"]}
    for fields, there in ((with_all, True), ({"show": []}, False)):
        _, found = fetched(client, trial, ["html", "talking-points"], **fields)
        page = found.read(f"{trial}.html").decode("utf-8")
        assert (price in page) == there
        assert ("Is it worth it" in page or "What it buys" in page) == there
        assert ('id="wear"' in page) == there
        assert ("simulated</td>" in page or "; simulated" in page) == there
        rows = found.read(f"{trial}-readings.csv").decode("utf-8").splitlines()
        assert any(row["note"] for row in csv.DictReader(rows)) == there
        shown = client.get(f"/trials/{trial}/dossier.html", params={"chosen": "1", **fields}).text
        assert (price in shown) == there
    # unasked, what goes beyond the trial stays at home
    assert 'id="wear"' not in client.get(f"/trials/{trial}/dossier.html").text


def test_one_that_differs_takes_the_place_of_one_still_being_made(bench, trial, monkeypatch):
    go = threading.Event()
    made = []

    def publish(data, name, folder, parts, *, options, tell):
        assert go.wait(30)
        folder.mkdir()
        (folder / "licence").write_text(options.licence)
        made.append(options.licence)

    monkeypatch.setattr(publishing, "publish_dossier", publish)
    jobs, parts = Jobs(at_once=1), frozenset({"package"})
    first = publication_job(jobs, bench, trial, parts, PublicationOptions())
    assert publication_job(jobs, bench, trial, parts, PublicationOptions()) is first
    other = publication_job(jobs, bench, trial, parts, PublicationOptions("CC0-1.0"))
    go.set()
    assert first.wait(30)
    assert jobs.numbered(first.number) is None
    assert not first.folder.exists()
    assert zipfile.ZipFile(other.answer()).read("licence") == b"CC0-1.0"
    assert sorted(made) == ["CC-BY-4.0", "CC0-1.0"]


def test_single_files(client, trial):
    page = client.get(f"/trials/{trial}/publish").text
    figures = re.findall(r'href="([^"]+\.png)"', page)
    assert len(figures) >= 12
    for ending, start in (("dossier.pdf", b"%PDF"), ("talking-points.md", b"# Does the long")):
        answer = client.get(f"/trials/{trial}/{ending}")
        assert answer.content.startswith(start)
        assert "attachment" in answer.headers["content-disposition"]
    picture = client.get(figures[-1])
    assert Image.open(io.BytesIO(picture.content)).format == "PNG"


def test_nothing_ticked_and_nothing_there_say_so(client, trial):
    refused = client.post(f"/trials/{trial}/publication", data={})
    assert refused.status_code == 422
    assert "nothing is ticked" in refused.text
    assert client.get(f"/trials/{trial}/publication/999").status_code == 404
    assert client.get("/trials/none-such/dossier.pdf").status_code == 404
    assert client.post("/trials/none-such/publication", data={"part": "pdf"}).status_code == 404


def test_what_looks_private_is_named_before_publishing_in_page_and_terminal_alike(
    client, bench, trial, tmp_path
):
    assert LOOK_AT not in client.get(f"/trials/{trial}/publish").text
    stored = bench.readings(trial)[3]
    bench.void_reading(stored.reading_id, "twice, see /home/jo/coupons.csv; jo@example.org knows")
    coupon = stored.reading.coupon
    said = [
        f"{seen} looks like {what}: why a reading of coupon {coupon} no longer counts; "
        "the data package has [left out] in its place."
        for seen, what in (
            ("/home/jo/coupons.csv", "a path of a computer"),
            ("jo@example.org", "an e-mail address"),
        )
    ]
    page = client.get(f"/trials/{trial}/publish").text
    assert re.findall("<li>([^<]* looks like [^<]*)</li>", page) == said
    assert f"<strong>{LOOK_AT}</strong>" in page
    out = tmp_path / "package"
    place = ("--out", str(out), "--bench", bench.name)
    code, told, _ = call_main(["package", "export", trial, *place])
    assert code == 0
    assert told.splitlines()[:3] == [LOOK_AT, *(f"  {sentence}" for sentence in said)]
    assert "[left out]; [left out] knows" in (out / "readings.csv").read_text()
    # without remarks there is nothing to look at
    _, told, _ = call_main(["package", "export", trial, "--no-notes", "--json", *place])
    assert json.loads(told)["look_at"] == []
