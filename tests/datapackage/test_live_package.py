"""The data package of a live weighing: valid by the standard's own library, the trace as read."""

import csv
import io
import json
from datetime import date

import numpy as np
import pytest
from ramp_case import short_ramp, short_trace

from beadworth.core import InputError
from beadworth.datapackage import live_package_files
from beadworth.demo import PLA, STOCK
from beadworth.ramp import analyse_trace

SPEC = short_ramp(STOCK.name, PLA.name)
TRACE = short_trace(SPEC)
FOUND = analyse_trace(TRACE, SPEC)


@pytest.fixture(scope="module")
def files():
    rig = STOCK.model_copy(update={"note": "at home, /home/somebody/printer"})
    day = date(2026, 11, 30)
    return live_package_files(SPEC, TRACE, FOUND, rig, PLA, (), created=day)


def rows(files, name):
    return list(csv.DictReader(io.StringIO(files[name].decode(), newline="")))


def test_frictionless_library_finds_the_package_valid(files, tmp_path):
    import frictionless

    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    report = frictionless.validate(str(tmp_path / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    assert {t.name: t.type for t in report.tasks} == {
        "ramp": "json", "rig": "json", "material": "json", "answer": "json", "trace": "table",
        "delivered": "table", "covariance": "table", "checks": "table",
    }  # fmt: skip


def test_the_trace_is_every_row_as_it_was_read(files):
    read = rows(files, "trace.csv")
    assert [float(r["time_s"]) for r in read] == TRACE.time_s.tolist()
    assert [float(r["mass_g"]) for r in read] == TRACE.mass_g.tolist()


def test_the_covariance_is_whole(files):
    names = list(FOUND.joint.coupons)
    made = np.zeros((len(names), len(names)))
    for row in rows(files, "covariance.csv"):
        i, j = names.index(row["first"]), names.index(row["second"])
        made[i, j] = made[j, i] = float(row["covariance"])
    assert np.allclose(made, FOUND.joint.covariance, rtol=1e-12)


def test_an_owners_note_stays_at_home(files):
    assert "somebody" not in b"".join(files.values()).decode()
    assert json.loads(files["ramp.json"])["rig"] == STOCK.name


def test_a_licence_nobody_knows_is_refused():
    with pytest.raises(InputError, match="no licence 'mine' is known here"):
        live_package_files(SPEC, TRACE, FOUND, STOCK, PLA, (), created=date(2026, 1, 1),
                           licence="mine")  # fmt: skip
