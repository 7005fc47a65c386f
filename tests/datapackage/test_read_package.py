"""Packages of others: whole, damaged, lying. Nothing wrong is taken and all of it is told."""

import io
import json
import re
import stat
import struct
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from loops import some
from package_support import edited, sealed

from beadworth.core.errors import PackageError
from beadworth.datapackage import (
    check_truth,
    read_package,
    refit,
    unzip,
    write_package,
    zip_bytes,
)
from beadworth.datapackage.archive import MOST_BYTES, MOST_FILE_BYTES, MOST_FILES

KEPT = {}


def refit_once(contents):
    """The fit of a package's readings, made once of the same ones: few lies change them."""
    key = repr((contents.current, contents.loss, contents.confidence, contents.rigs,
                contents.materials))  # fmt: skip
    if key not in KEPT:
        KEPT[key] = refit(contents)
    return KEPT[key]


def refusal(files):
    """Everything that is said against a package."""
    with pytest.raises(PackageError) as refused:
        check_truth(read_package(files, "theirs"), "theirs", refit_once)
    for problem in refused.value.problems:
        assert problem.where.startswith("theirs")
        assert "Nothing was imported." in problem.remedy
    return str(refused.value)


def test_package_read_and_written_again_is_the_same_bytes(demo_files):
    contents = read_package(demo_files)
    assert write_package(contents) == demo_files
    assert len(contents.current) == 66


def test_zip_holds_the_same_files_and_is_the_same_bytes_each_time(demo_files):
    packed = zip_bytes(demo_files)
    assert packed == zip_bytes(dict(reversed(demo_files.items())))
    assert unzip(packed, "a.zip") == demo_files


def test_a_folder_around_everything_and_what_desktops_leave_is_taken_off(demo_files):
    inside = {f"tern/{name}": data for name, data in demo_files.items()}
    packed = zip_bytes(inside | {"__RES/tern/._x": b"1", "tern/.directory": b"2"})
    assert unzip(packed, "a.zip") == demo_files


def test_readings_give_the_ceilings_that_are_claimed(demo_files):
    contents = read_package(demo_files)
    fitted = check_truth(contents)
    claimed = {(c.rig, c.temperature_c): c for c in contents.ceilings if c.basis == "readings"}
    assert len(claimed) == 6
    for ceiling in fitted.ceilings:
        said = claimed[ceiling.rig, ceiling.temperature_c]
        assert said.flow_mm3_s == pytest.approx(ceiling.flow_mm3_s, rel=1e-6)


# what was changed, and what must be said

RAW = {
    "a byte of the readings": (
        lambda f: f | {"readings.csv": f["readings.csv"].replace(b"1.77", b"1.78", 1)},
        "readings.csv: its SHA-256 is not the one in the descriptor",
    ),
    "the readings cut short": (
        lambda f: f | {"readings.csv": f["readings.csv"][:-40]},
        "but the descriptor says",
    ),
    "a file missing": (
        lambda f: {k: v for k, v in f.items() if k != "rigs.json"},
        "rigs.json: the file is missing.",
    ),
    "no descriptor": (
        lambda f: {k: v for k, v in f.items() if k != "datapackage.json"},
        "there is no datapackage.json, so this is no data package.",
    ),
    "a descriptor that is no JSON": (
        lambda f: f | {"datapackage.json": f["datapackage.json"][:-9]},
        "datapackage.json: this is not JSON:",
    ),
    "a descriptor nested too deep": (
        lambda f: f | {"datapackage.json": b"[" * 200_000},
        "datapackage.json: this is not JSON:",
    ),
    "a descriptor that is a list": (
        lambda f: f | {"datapackage.json": b"[]"},
        "this is not a JSON object.",
    ),
    "a title changed": (
        lambda f: f | {"datapackage.json": f["datapackage.json"].replace(b"stock", b"stork")},
        "the descriptor was changed after it was sealed",
    ),
    "a file nobody names": (
        lambda f: f | {"more.csv": b"x"},
        "the descriptor names no file 'more.csv'.",
    ),
    "a name that leads out": (
        lambda f: f | {"../x.csv": b"x"},
        "the name '../x.csv' leads out of the package.",
    ),
}


@pytest.mark.parametrize("change", RAW)
def test_damage_is_refused_with_the_reason(demo_files, change):
    make, said = RAW[change]
    assert said in refusal(make(demo_files))


def renamed(field, name, value):
    def change(top):
        table = next(r for r in top["resources"] if r["name"] == "readings")
        column = next(f for f in table["schema"]["fields"] if f["name"] == field)
        column[name] = value

    return change


def on_readings(name, value):
    def change(top):
        next(r for r in top["resources"] if r["name"] == "readings")[name] = value

    return change


def turned(top):
    next(r for r in top["resources"] if r["name"] == "readings")["schema"]["fields"].reverse()


def put(name, value):
    return lambda top: top.update({name: value})


SEALED = {
    "a unit of its own": (
        lambda f: sealed(f, top=renamed("flow_mm3_s", "unit", "L/h")),
        "field resources.readings.flow_mm3_s: its unit is 'L/h'; this release knows it with "
        "'mm3/s' only.",
    ),
    "a type of its own": (
        lambda f: sealed(f, top=renamed("mass_g", "type", "string")),
        "field resources.readings.mass_g: its type is 'string'",
    ),
    "a dialect that others would read otherwise": (
        lambda f: sealed(f, top=on_readings("dialect", {"delimiter": ";"})),
        "field resources.readings: the property 'dialect' is not known here.",
    ),
    "another encoding": (
        lambda f: sealed(f, top=on_readings("encoding", "utf-16")),
        "field resources.readings: this is not a CSV table in UTF-8.",
    ),
    "columns in another order": (
        lambda f: sealed(f, top=turned),
        "field resources.readings: the columns are not reading, coupon, rig,",
    ),
    "a factor on a column": (
        lambda f: sealed(f, top=renamed("mass_g", "multiplier", 2)),
        "field resources.readings.mass_g: the property 'multiplier' is not known here.",
    ),
    "a later format": (
        lambda f: sealed(f, top=put("trial_package", 2)),
        "trial_package is 2, and this release reads 1.",
    ),
    "no format": (
        lambda f: sealed(f, top=lambda top: top.pop("trial_package")),
        "this is no data package of a trial",
    ),
    "a property nobody knows": (
        lambda f: sealed(f, top=put("homepage", "https://example.org")),
        "the property 'homepage' is not known here.",
    ),
    "simulated called measured": (
        lambda f: sealed(f, top=put("simulated", False)),
        "its parts are simulated, but the descriptor says otherwise.",
    ),
    "another title": (
        lambda f: sealed(f, top=put("title", "Another question?")),
        "the title is not the question in trial.json.",
    ),
    "a licence nobody knows": (
        lambda f: sealed(f, top=put("licenses", [{"name": "mine"}])),
        "the licence is not one known here: CC-BY-4.0,",
    ),
    "no date": (
        lambda f: sealed(f, top=put("created", "yesterday")),
        "'yesterday' is no date",
    ),
    "rows that are not there": (
        lambda f: sealed(f, readings_csv=f["readings.csv"] + b"\n"),
        "readings.csv, row 68: 0 cells stand under 15 columns.",
    ),
    "a ceiling made higher": (
        lambda f: sealed(f, ceilings_csv=lifted(f["ceilings.csv"], "flow_mm3_s", 1.05)),
        "the ceiling has flow_mm3_s",
    ),
    "an interval made narrower": (
        lambda f: sealed(f, ceilings_csv=lifted(f["ceilings.csv"], "low_mm3_s", 1.026)),
        "the ceiling has low",
    ),
    "a ceiling left out": (
        lambda f: sealed(f, ceilings_csv=without(f["ceilings.csv"], ",readings,")),
        "the readings give a ceiling, the table has none.",
    ),
    "a curve left out": (
        lambda f: sealed(f, curves_csv=without(f["curves.csv"], ",230.0,")),
        "230 °C: the curve is missing.",
    ),
    "a curve laid lower": (
        lambda f: sealed(f, curves_csv=lifted(f["curves.csv"], "loss", 0.6)),
        "but the readings give",
    ),
    "a mass that was never fed": (
        lambda f: sealed(f, readings_csv=edited_mass(f["readings.csv"], "3.60")),
        "3.6 g is more than the 180 mm that were fed can weigh",
    ),
    "a coupon planned otherwise": (
        lambda f: sealed(f, readings_csv=f["readings.csv"].replace(b"1,A01,", b"1,A02,", 1)),
        "coupon A02 is not in coupons.csv at that setting.",
    ),
    "a plan changed after the fact": (
        lambda f: sealed(f, coupons_csv=f["coupons.csv"].replace(b",180.0,1,", b",170.0,1,", 1)),
        "the plan's digest is not that of its record and coupons",
    ),
    "a budget made smaller": (
        lambda f: sealed(f, budget_csv=contributing(f["budget.csv"], "0.0002331")),
        "the budget's combined_u is 0.007866, but its lines give",
    ),
    "a rig that cannot be": (
        lambda f: sealed(f, rigs_json=f["rigs.json"].replace(b'mm": 0.4', b'mm": 4.0', 1)),
        "the nozzle (4 mm) is not narrower than the bore (2 mm).",
    ),
    "a rig twice": (
        lambda f: sealed(f, rigs_json=json.dumps([json.loads(f["rigs.json"])[0]] * 2).encode()),
        "stands twice.",
    ),
    "a number that is none": (
        lambda f: sealed(f, rigs_json=f["rigs.json"].replace(b"40.0", b"NaN", 1)),
        "rigs.json: this is not JSON: NaN is no number of JSON.",
    ),
    "a day that is none": (
        lambda f: sealed(f, trial_json=f["trial.json"].replace(
            b'"amendments": []', b'"amendments": [{"day": "today", "what": "x", "reason": ""}]')),
        "trial.json, field amendments.0.day",
    ),
    "a contribution whose square is no number": (
        lambda f: sealed(f, budget_csv=contributing(f["budget.csv"], "1e300032331")),
        "budget.csv, row 4, column contribution: '1e300032331",
    ),
    "a contribution too large for any budget": (
        lambda f: sealed(f, budget_csv=contributing(f["budget.csv"], "1e200")),
        "budget.csv, row 4, column contribution: '1e200' is no number.",
    ),
    "a coverage factor of its own": (
        lambda f: sealed(f, trial_json=f["trial.json"].replace(b"1.9599", b"1.2599")),
        "the budget's coverage_factor is 1.26, but its lines give 1.96.",
    ),
    "characters nobody can see": (
        lambda f: sealed(f, readings_csv=f["readings.csv"].replace(b"simulated", b"a\0b", 1)),
        "readings.csv: it holds characters that no document can show.",
    ),
    "half a character": (
        lambda f: sealed(f, rigs_json=f["rigs.json"].replace(b"moving bed", b"\\ud800")),
        "rigs.json: this is not JSON: it holds characters that no document can show.",
    ),
    "a number without end": (
        lambda f: sealed(f, rigs_json=f["rigs.json"].replace(b": 0.4", b": 1" + b"0" * 4000, 1)),
        "rigs.json, record 1, field hot_end.nozzle_mm",
    ),
    "lists in lists": (
        lambda f: sealed(f, rigs_json=b"[" * 100_000 + b"]" * 100_000),
        "rigs.json: this is not JSON: it is nested too deep.",
    ),
    "every reading voided": (
        lambda f: sealed(f, readings_csv=f["readings.csv"].replace(b",current,", b",voided,")),
        "no reading counts, so there is nothing to compare with.",
    ),
    "readings too few for a curve": (
        lambda f: sealed(f, readings_csv=b"\n".join(f["readings.csv"].split(b"\n")[:3]) + b"\n"),
        "readings.csv, Tern, stock hot end, PLA, chalk white, 210 °C: readings at 2 flows only",
    ),
}  # fmt: skip


def lifted(data, column, factor):
    lines = data.decode().split("\n")
    place = lines[0].split(",").index(column) + 2  # two names in quotes hold a comma each
    for n, line in enumerate(lines[1:], 1):
        cells = line.split(",")
        if len(cells) > place and cells[place]:
            cells[place] = repr(float(cells[place]) * factor)
            lines[n] = ",".join(cells)
    return "\n".join(lines).encode()


def without(data, mark):
    return "\n".join(line for line in data.decode().split("\n") if mark not in line).encode()


def edited_mass(data, mass):
    """The first reading's mass, which stands behind the filament that was fed."""
    return re.sub(rb",180\.0,[0-9.]+,", f",180.0,{mass},".encode(), data, count=1)


def contributing(data, value):
    """The budget with another contribution in its fourth row, the measured diameter's."""
    head, *lines = data.decode().split("\n")
    place = head.split(",").index("contribution") - len(head.split(","))
    cells = lines[2].split(",")
    assert "filament diameter" in lines[2]
    cells[place] = value
    lines[2] = ",".join(cells)
    return "\n".join([head, *lines]).encode()


@pytest.mark.parametrize("change", SEALED)
def test_a_lie_is_refused_though_every_hash_agrees(demo_files, change):
    make, said = SEALED[change]
    assert said in refusal(make(demo_files))


def test_words_and_limits_of_columns_may_be_another_releases(demo_files):
    for change in (
        renamed("mass_g", "description", "what the balance said"),
        renamed("flow_mm3_s", "constraints", {"required": True, "minimum": 0}),
    ):
        contents = read_package(sealed(demo_files, top=change))
        assert write_package(contents) == demo_files


def test_sealing_alone_changes_nothing(demo_files):
    """The lies above are refused for what they say, not for how they were packed."""
    assert write_package(read_package(sealed(demo_files))) == demo_files


CELLS = {
    ("mass_g", "heavy"): "row 2, column mass_g: 'heavy' is no number.",
    ("mass_g", ""): "row 2, column mass_g: this cell is empty.",
    ("mass_g", "nan"): "row 2, column mass_g: 'nan' is no number.",
    ("mass_g", "1e999"): "row 2, column mass_g: '1e999' is no number.",
    ("temperature_c", "-5.0"): "row 2, column temperature_c: -5.0 is below the least of 1.",
    ("temperature_c", "2100.0"): "row 2, column temperature_c: 2100.0 is above the most of 700.",
    ("reference", "1"): "row 2, column reference: '1' is no boolean.",
    ("state", "maybe"): "row 2, column state: 'maybe' is none of current, voided, superseded.",
    ("replicate", "1.5"): "row 2, column replicate: '1.5' is no integer.",
    ("reading", "2"): "readings.csv: reading 2 stands twice, but names one row only.",
}


@pytest.mark.parametrize("cell", CELLS, ids="-".join)
def test_a_cell_that_does_not_fit_its_schema_is_told_with_its_place(demo_files, cell):
    plain = demo_files["readings.csv"].replace(b'"Tern, stock hot end"', b"Tern")
    plain = plain.replace(b'"PLA, chalk white"', b"PLA")
    spoilt = sealed(demo_files, readings_csv=edited(plain, 1, *cell))
    assert CELLS[cell] in refusal(spoilt)


def test_everything_wrong_is_told_at_once(demo_files):
    spoilt = sealed(
        demo_files,
        top=put("created", "yesterday"),
        readings_csv=demo_files["readings.csv"].replace(b",1.77,", b",heavy,", 1),
        rigs_json=b"{",
    )
    said = refusal(spoilt)
    for part in ("'yesterday' is no date", "'heavy' is no number", "rigs.json: this is not JSON"):
        assert part in said


# zips


def zipped(*entries):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in entries:
            entry = name if isinstance(name, zipfile.ZipInfo) else zipfile.ZipInfo(name)
            entry.compress_type = zipfile.ZIP_DEFLATED
            packed.writestr(entry, data)
    return out.getvalue()


def link(name):
    entry = zipfile.ZipInfo(name)
    entry.create_system = 3
    entry.external_attr = (stat.S_IFLNK | 0o777) << 16
    return entry


def declared(data, size):
    """The zip with another unpacked size in its central directory and its local header."""
    spoilt = bytearray(data)
    at = spoilt.index(b"PK\x01\x02")
    spoilt[at + 24 : at + 28] = struct.pack("<I", size)
    spoilt[22:26] = struct.pack("<I", size)
    return bytes(spoilt)


HOSTILE = {
    "parent folder": (lambda: zipped(("../../x.csv", b"1")), "leads out of the package"),
    "parent inside": (lambda: zipped(("a/../../x.csv", b"1")), "leads out of the package"),
    "absolute": (lambda: zipped(("/etc/x.csv", b"1")), "is a place on a disk"),
    "drive": (lambda: zipped(("C:x.csv", b"1")), "is a place on a disk"),
    "drive and folder": (lambda: zipped(("C:/x.csv", b"1")), "is a place on a disk"),
    "backslash": (lambda: zipped(("a\\..\\x.csv", b"1")), "leads out of the package"),
    "share": (lambda: zipped(("\\\\nas\\x.csv", b"1")), "is a place on a disk"),
    "folder in folder": (lambda: zipped(("a/b/x.csv", b"1")), "stands in a folder of its own"),
    "link": (lambda: zipped((link("x.csv"), b"/etc/passwd")), "is a link or device"),
    "odd name": (lambda: zipped(("a b.csv", b"1")), "is not one of plain letters"),
    "case": (lambda: zipped(("a.csv", b"1"), ("A.csv", b"2")), "differs from 'a.csv' only in case"),
    "no zip": (lambda: b"PK hello", "this is not a whole zip file"),
    "nothing": (lambda: b"", "this is not a whole zip file"),
    "bomb": (
        lambda: zipped(("x.csv", b"\0" * (MOST_FILE_BYTES + 1))),
        f"more than the {MOST_FILE_BYTES:,} allowed",
    ),
    "many bombs": (
        lambda: zipped(*((f"x{n}.csv", b"\0" * (MOST_BYTES // 3)) for n in range(4))),
        "all unpacked together",
    ),
    "many files": (
        lambda: zipped(*((f"x{n}.csv", b"") for n in range(MOST_FILES + 1))),
        f"more than the {MOST_FILES} a package may hold",
    ),
    "more than declared": (
        lambda: declared(zipped(("x.csv", b"\0" * 100_000)), 10),
        "Nothing was imported.",
    ),
    "less than declared": (
        lambda: declared(zipped(("x.csv", b"\0" * 10)), 100_000),
        "Nothing was imported.",
    ),
    "too large": (lambda: b"PK" + b"\0" * MOST_BYTES, "the zip file is"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_zip_is_refused_with_the_reason(name):
    make, said = HOSTILE[name]
    with pytest.raises(PackageError) as refused:
        unzip(make(), "theirs.zip")
    assert said in str(refused.value)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_name_twice_in_a_zip_is_refused():
    with pytest.raises(PackageError, match=r"'a\.csv' stands twice"):
        unzip(zipped(("a.csv", b"1"), ("a.csv", b"2")), "theirs.zip")


def test_a_zip_cut_anywhere_is_refused(demo_files):
    packed = zip_bytes(demo_files)
    for length in range(0, len(packed), 997):
        with pytest.raises(PackageError):
            unzip(packed[:length], "theirs.zip")


FUZZ = settings(
    max_examples=some(40, long=300),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@FUZZ
@given(st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 7)), min_size=1, max_size=6))
def test_flipped_bits_are_refused_or_change_nothing(demo_files, flips):
    packed = bytearray(zip_bytes(demo_files))
    for at, bit in flips:
        packed[at % len(packed)] ^= 1 << bit
    try:
        files = unzip(bytes(packed), "theirs.zip")
        contents = read_package(files)
    except PackageError:
        return
    # bits of a zip that carry nothing: times, attributes
    assert write_package(contents) == demo_files


@FUZZ
@given(st.binary(max_size=400))
def test_any_bytes_as_a_zip_are_refused(data):
    with pytest.raises(PackageError):
        unzip(b"PK\x03\x04" + data, "theirs.zip")


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=12,
)


@FUZZ
@given(st.integers(0, 10**3), st.integers(0, 10**3), JSON)
def test_any_json_anywhere_in_the_descriptor_is_refused(demo_files, place, key, value):
    top = json.loads(demo_files["datapackage.json"])
    tables = [top, *top["resources"]]
    part = tables[place % len(tables)]
    name = sorted(part)[key % len(part)]
    if part[name] == value:
        return
    part[name] = value
    spoilt = demo_files | {"datapackage.json": json.dumps(top).encode()}
    with pytest.raises(PackageError):
        read_package(spoilt)


TABLES = ("readings", "coupons", "ceilings", "curves", "budget")
PIECES = (b"", b"-", b"1e300", b'"', b"\n", b",", b"null", b"\xff")


@FUZZ
@given(
    st.sampled_from([*(f"{name}.csv" for name in TABLES), "rigs.json", "materials.json"]),
    st.integers(0, 10**6),
    st.integers(0, 12),
    st.sampled_from(PIECES),
)
def test_any_text_in_any_cell_or_document_is_read_or_refused(demo_files, name, place, cut, piece):
    """Sealed, so that every later check is reached; nothing but our own error may come."""
    text = demo_files[name]
    at = place % (len(text) + 1)
    to = min(len(text), at + cut)
    spoilt = sealed(demo_files, **{name.replace(".", "_"): text[:at] + piece + text[to:]})
    try:
        contents = read_package(spoilt)
    except PackageError:
        return
    assert write_package(contents)["readings.csv"].count(b"\n") >= 1
