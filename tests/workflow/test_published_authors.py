"""Whose an entry is stays on the bench: nothing that is published names who made it."""

import zipfile

from loops import is_long

from beadworth import demo
from beadworth.report.charts.chart import WIDE_PX
from beadworth.store import entries_by, open_bench
from beadworth.workflow import PublicationOptions, add_journal_page, export_package, publish_trial

WHO = "Zbigniew Quux"  # invented


def test_no_author_is_in_a_dossier_or_a_package(demo_copy, tmp_path, monkeypatch):
    if not is_long():  # both widths of a chart hold the same words
        monkeypatch.setattr("beadworth.report.render.html.NARROW_PX", WIDE_PX)
    with open_bench(demo_copy(tmp_path)) as bench:
        trial = next(t.id for t in bench.trials() if t.question == demo.FINISHED.question)
        old = next(s for s in bench.readings(trial) if s.state == "current")
        page = {"on": "2026-11-29", "stage": "trial", "title": "Weighed", "shown": True}
        with entries_by(WHO):
            new = bench.supersede_reading(
                old.reading_id, old.reading.mass_g, old.reading.tare_g, reason="weighed again"
            )
            add_journal_page(bench, trial, page)
        assert new.author == WHO
        options = PublicationOptions()
        parts = ["html", "talking-points"]
        made = publish_trial(bench, trial, parts, options, tmp_path / "out.zip")
        with zipfile.ZipFile(made) as archive:
            files = {name: archive.read(name) for name in archive.namelist()}
        files |= export_package(bench, trial)
    assert len(files) > 5
    assert any(b"Weighed" in data for data in files.values())  # the page is in it
    for name, data in files.items():
        for part in WHO.split():
            assert part.encode() not in data, name


def test_the_journal_says_who_wrote_a_page(demo_copy, tmp_path):
    from fastapi.testclient import TestClient

    from beadworth.web import create_app

    with open_bench(demo_copy(tmp_path)) as bench:
        page = {"on": "2026-11-29", "stage": "trial", "title": "Weighed"}
        with entries_by(WHO):
            made = add_journal_page(bench, demo.STOCK.name, page)
        assert made.author == WHO
        with TestClient(create_app(bench), "http://127.0.0.1") as client:
            assert f"by {WHO}" in client.get(f"/journal/{demo.STOCK.name}").text
