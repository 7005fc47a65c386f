"""The package as written: valid by the standard's own library, deterministic, nothing private."""

import csv
import dataclasses
import hashlib
import io
import json
from datetime import date

import pytest
import yaml

from beadworth.core.errors import InputError
from beadworth.datapackage import LICENCES, PublicationOptions, package_files
from beadworth.rig import Known


def written(files, folder):
    for name, data in files.items():
        (folder / name).write_bytes(data)
    return folder


def rows(files, name):
    return list(csv.DictReader(io.StringIO(files[name].decode(), newline="")))


@pytest.fixture(scope="module")
def files(report_data):
    return package_files(report_data)


def test_frictionless_library_finds_the_package_valid(frictionless, files, tmp_path):
    report = frictionless.validate(str(written(files, tmp_path) / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    # every resource was looked at, and those with a schema as tables
    assert {t.name: t.type for t in report.tasks} == {
        "trial": "json", "rigs": "json", "materials": "json", "readings": "table",
        "coupons": "table", "ceilings": "table", "curves": "table", "budget": "table",
    }  # fmt: skip


def test_frictionless_library_sees_a_changed_file(frictionless, files, tmp_path):
    folder = written(files, tmp_path)
    spoilt = files["readings.csv"].replace(b"current", b"curremt", 1)
    (folder / "readings.csv").write_bytes(spoilt)
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert {error.type for task in report.tasks for error in task.errors} >= {"hash-count"}


def test_sizes_and_hashes_are_those_of_the_files(files):
    descriptor = json.loads(files["datapackage.json"])
    for resource in descriptor["resources"]:
        data = files[resource["path"]]
        assert resource["bytes"] == len(data)
        assert resource["hash"] == f"sha256:{hashlib.sha256(data).hexdigest()}"
    named = {r["path"] for r in descriptor["resources"]}
    assert set(files) == named | {"datapackage.json", "README.md", "CITATION.cff"}


def test_every_column_has_a_meaning_and_every_quantity_a_unit(files):
    descriptor = json.loads(files["datapackage.json"])
    for resource in descriptor["resources"]:
        for field in resource.get("schema", {"fields": []})["fields"]:
            assert field["description"]
            if field["name"].endswith(("_c", "_mm", "_g", "_mm3_s")):
                unit = {"_c": "Cel", "mm": "mm", "_g": "g", "_s": "mm3/s"}[field["name"][-2:]]
                assert field["unit"] == unit


def test_same_data_give_same_bytes_and_only_the_date_differs_on_another_day(report_data, files):
    assert package_files(report_data) == files
    assert list(files) == sorted(files)
    later = package_files(dataclasses.replace(report_data, generated_at=date(2031, 5, 1)))
    assert {n for n in files if later[n] != files[n]} == {
        "datapackage.json", "README.md", "CITATION.cff",
    }  # fmt: skip
    assert all(later[n] == files[n].replace(b"2031-04-03", b"2031-05-01") for n in files)


def test_line_ends_and_encoding_are_fixed(files):
    for name, data in files.items():
        assert b"\r" not in data, name
        assert data.endswith(b"\n"), name
        data.decode("utf-8")


def test_rows_are_those_of_the_trial(report_data, files):
    readings = rows(files, "readings.csv")
    assert [float(r["mass_g"]) for r in readings] == [e.reading.mass_g for e in report_data.entries]
    assert [r["state"] for r in readings] == [e.state for e in report_data.entries]
    voided = next(r for r in readings if r["state"] == "voided")
    assert voided["reason"] == "strand touched the fan shroud"
    read = [r for r in rows(files, "ceilings.csv") if r["basis"] == "readings"]
    wanted = {(c.rig, c.temperature_c): c.flow_mm3_s for c in report_data.ceilings}
    assert {(r["rig"], float(r["temperature_c"])): float(r["flow_mm3_s"]) for r in read} == wanted
    assert len(rows(files, "coupons.csv")) == len(report_data.plan.coupons)
    assert len(rows(files, "budget.csv")) == len(report_data.plan.budget.lines)


def test_times_of_entry_stay_on_the_bench(report_data, files):
    assert report_data.entries[0].at == "2031-04-02 10:15"
    text = b"".join(files.values())
    assert b"10:15" not in text
    assert b"12:40" not in text
    assert json.loads(files["trial.json"])["amendments"][0]["day"] == "2031-04-02"


PRIVATE = [
    "/home/jo/bench/tern.toml", "C:\\Users\\jo\\tern.toml", "~/bench/tern.toml",
    "file:///srv/x", "jo@example.org", "\\\\nas\\jo\\tern", "/Users/jo/Desktop/a b",
]  # fmt: skip


@pytest.mark.parametrize("private", PRIVATE)
def test_folders_and_addresses_are_left_out_of_every_text(report_data, private):
    entry = report_data.entries[0]
    spoilt = dataclasses.replace(
        report_data,
        question=f"What of {private}",
        rigs=tuple(r.model_copy(update={"source": f"from {private}"}) for r in report_data.rigs),
        entries=(
            dataclasses.replace(
                entry, reading=dataclasses.replace(entry.reading, note=f"see {private}")
            ),
        ),
        disclosure=f"ask {private}",
    )
    made = package_files(spoilt, PublicationOptions(creator=f"by {private}"))
    for name, data in made.items():
        assert private.encode() not in data, name
        assert b"jo" not in data.replace(b"json", b""), name


@pytest.mark.parametrize("kept", ["2.0 mm³/s", "g/(m·K)", "and/or", "https://example.org/a/b"])
def test_units_and_web_addresses_are_kept(report_data, kept):
    made = package_files(dataclasses.replace(report_data, question=f"Is it {kept} or not?"))
    assert json.loads(made["datapackage.json"])["title"] == f"Is it {kept} or not?"


def test_remarks_and_prices_are_left_out_where_asked(report_data, files):
    assert json.loads(files["rigs.json"])[1]["price"] == 54.0
    assert b"simulated\n" in files["readings.csv"]
    made = package_files(report_data, PublicationOptions(notes=False, prices=False))
    assert "price" not in json.loads(made["rigs.json"])[1]
    assert {r["note"] for r in rows(made, "readings.csv")} == {""}
    assert {r["reason"] for r in rows(made, "readings.csv")} == {""}


def test_notes_of_a_rig_stay_on_the_bench_as_they_do_in_the_dossier(report_data):
    known = {"hot_end.melt_zone_mm": Known(origin="measured", note="asked at the club")}
    rigs = tuple(
        r.model_copy(update={"note": "lent by a friend", "known": known}) for r in report_data.rigs
    )
    made = package_files(dataclasses.replace(report_data, rigs=rigs))
    text = b"".join(made.values())
    assert b"friend" not in text
    assert b"club" not in text
    assert b'"origin": "measured"' in made["rigs.json"]


def test_simulated_is_marked_where_a_reader_looks_first(files):
    descriptor = json.loads(files["datapackage.json"])
    assert descriptor["simulated"] is True
    assert descriptor["description"].startswith("SIMULATED")
    assert b"**Simulated" in files["README.md"]


@pytest.mark.parametrize("licence", LICENCES)
def test_licence_stands_in_descriptor_readme_and_citation(report_data, licence):
    made = package_files(report_data, PublicationOptions(licence=licence, creator="Saltmarsh shed"))
    assert json.loads(made["datapackage.json"])["licenses"][0]["name"] == licence
    assert f"({licence})" in made["README.md"].decode()
    cited = yaml.safe_load(made["CITATION.cff"])
    assert cited["license"] == licence
    assert cited["authors"] == [{"name": "Saltmarsh shed"}]
    assert (cited["cff-version"], cited["date-released"]) == ("1.2.0", "2031-04-03")


def test_unknown_licence_is_refused_with_those_known(report_data):
    with pytest.raises(InputError, match=r"no licence 'free' .*CC-BY-4.0, .*PDDL-1.0"):
        package_files(report_data, PublicationOptions(licence="free"))
