"""Live weighings in a data package: valid by the standard's own library, read back, held true."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from ramp_case import short_ramp, short_trace

from beadworth.core import PackageError
from beadworth.datapackage import PublicationOptions, package_files, read_package
from beadworth.datapackage.contents import contents_of
from beadworth.datapackage.live import live_problems
from beadworth.datapackage.writing import write_package
from beadworth.demo import PLA, STOCK
from beadworth.ramp import Trace, analyse_trace, sections_of
from beadworth.report import PublishedLive, ReportData

SPEC = short_ramp(STOCK.name, PLA.name)
TRACE = short_trace(SPEC)
FOUND = analyse_trace(TRACE, SPEC)


def published(**changes):
    one = PublishedLive(
        7, "2026-11-29", "current", "", SPEC, sections_of(SPEC), STOCK.name, PLA.name, TRACE,
        FOUND.readings, FOUND.joint, FOUND.checks, FOUND.noise.hang_mg, FOUND.noise.hang_s,
        FOUND.wander, FOUND.grams, FOUND.minutes, "used", note="from /home/somebody/traces",
    )  # fmt: skip
    return replace(one, **changes)


def data_of(*lives):
    rig = STOCK.model_copy(update={"note": "at home, /home/somebody/printer"})
    return ReportData("How much flow, weighed live?", (rig,), PLA, date(2026, 11, 30),
                      section_data={"live": lives})  # fmt: skip


FILES = package_files(data_of(published(), published(number=9, state="voided", reason="touched")))


def test_frictionless_library_finds_the_package_valid(frictionless, tmp_path):
    for name, data in FILES.items():
        (tmp_path / name).write_bytes(data)
    report = frictionless.validate(str(tmp_path / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    assert {t.name: t.type for t in report.tasks} == {
        "trial": "json", "rigs": "json", "materials": "json", "live": "json", "trace": "table",
        "steps": "table", "delivered": "table", "covariance": "table", "checks": "table",
    }  # fmt: skip


def test_what_is_written_is_read_back():
    first, second = read_package(FILES).live
    for found in (first, second):
        assert found.trace.time_s.tolist() == TRACE.time_s.tolist()
        assert found.trace.mass_g.tolist() == TRACE.mass_g.tolist()
        assert found.trace.stable is None
        assert found.sections == sections_of(SPEC)
        assert (found.spec, found.readings, found.joint) == (SPEC, FOUND.readings, FOUND.joint)
        assert found.checks == FOUND.checks
    assert (first.counts, second.counts) == (True, False)
    assert (second.number, second.state, second.reason) == (9, "voided", "touched")
    assert write_package(read_package(FILES)) == FILES


def test_a_stable_mark_is_kept():
    marked = Trace(TRACE.time_s, TRACE.mass_g, np.arange(TRACE.time_s.size) % 3 == 0)
    (found,) = read_package(package_files(data_of(published(trace=marked)))).live
    assert (found.trace.stable == marked.stable).all()


def test_an_owners_note_stays_at_home():
    assert "somebody" not in b"".join(FILES.values()).decode()
    quiet = package_files(data_of(published(note="leaned")), PublicationOptions(notes=False))
    assert json.loads(quiet["live.json"])[0]["note"] == ""


def test_a_mass_that_the_trace_does_not_give_is_found():
    contents = contents_of(data_of(published()))
    assert live_problems(contents) == []
    heavier = tuple(
        replace(r, mass_g=1.05 * r.mass_g) if i == 3 else r for i, r in enumerate(FOUND.readings)
    )
    (told,) = live_problems(contents_of(data_of(published(readings=heavier))))
    assert told.what == "what it delivered is not what its trace gives."


def test_a_failed_check_cannot_be_left_out():
    rise = np.diff(TRACE.mass_g, prepend=TRACE.mass_g[0])
    smooth = np.convolve(rise, np.ones(40) / 40, "same")
    trace = Trace(TRACE.time_s, 50.0 + np.cumsum(np.where(smooth < 0.25e-3, 0.0, rise)))
    found = analyse_trace(trace, SPEC)
    lying = published(trace=trace, readings=found.readings, joint=found.joint)
    (told,) = live_problems(contents_of(data_of(lying)))
    assert told.what == "its trace fails a check that is not told: slow and fast."
    honest = replace(lying, checks=found.checks, standing="kept but not used")
    contents = contents_of(data_of(honest))
    assert live_problems(contents) == []
    assert contents.fitted == ()


def test_tables_that_do_not_belong_together_are_refused():
    files = dict(FILES)
    table = files["covariance.csv"].decode().splitlines()
    files["covariance.csv"] = ("\n".join(table[:-1]) + "\n").encode()
    with pytest.raises(PackageError) as error:
        read_package(files)
    assert any("SHA-256" in p.what for p in error.value.problems)
    cut = replace(FOUND.joint, coupons=("x", *FOUND.joint.coupons[1:]))
    with pytest.raises(PackageError, match="the tables of weighing 7 do not belong together"):
        read_package(package_files(data_of(published(joint=cut))))
