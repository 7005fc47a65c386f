"""A live weighing on the bench, on a file and on a server: stored, used, kept unused, voided."""

from dataclasses import replace

import numpy as np
import pytest
from ramp_case import short_ramp, short_trace

from beadworth.core import ConflictError, FitError, InputError, NotFoundError, ReadingsError
from beadworth.datapackage import check_truth, read_package
from beadworth.demo import PLA, STOCK
from beadworth.ramp import Trace, sections_of, write_trace_csv
from beadworth.store import live, open_bench
from beadworth.trial import Reading
from beadworth.workflow import (
    Ramp,
    begin_live,
    describe_live,
    export_package,
    import_package,
    journal_entries,
    live_fit,
    live_table,
    live_view,
    live_weighing,
    live_weighings,
    read_live,
    report_data,
    store_trace,
    trial_fit,
    unread_live,
    uses_of_rig,
    void_live,
)

SPEC = short_ramp(STOCK.name, PLA.name)
RAMP = Ramp(SPEC, STOCK, PLA)
TRACE = short_trace(SPEC)


@pytest.fixture
def bench(where):
    with open_bench(where) as store:
        store.save_rig(STOCK)
        store.save_material(PLA)
        yield store


def tracked():
    """The same trace on a balance that takes slow rises away."""
    rise = np.diff(TRACE.mass_g, prepend=TRACE.mass_g[0])
    smooth = np.convolve(rise, np.ones(40) / 40, "same")
    return Trace(TRACE.time_s, 50.0 + np.cumsum(np.where(smooth < 0.25e-3, 0.0, rise)))


def test_it_becomes_an_entry_of_a_trial_whose_ceilings_it_carries(bench):
    one = store_trace(bench, RAMP, write_trace_csv(TRACE), "t.csv", note="a strand leaned")
    assert one.standing == "used"
    snapshot = bench.snapshot(one.trial)
    fit = trial_fit(snapshot)
    (ceiling,) = fit.ceilings
    assert ceiling.low < 11.0 < ceiling.high
    assert fit.groups[0].notes[0].startswith("read from live weighing")
    assert live_fit(one).ceilings == fit.ceilings
    (page,) = journal_entries(bench, one.trial)
    assert page.record.title == f"Live weighing {one.number}, {STOCK.name}: used"
    assert "Seen: a strand leaned" in page.record.text
    data = report_data(bench, one.trial, sections=("live",))
    assert {entry.live for entry in data.entries} == {True}
    assert uses_of_rig(bench, STOCK.name)[0] == f"trial {one.trial}"
    files = export_package(bench, one.trial)
    found = read_package(files)
    assert found.live[0].trace.mass_g.tolist() == TRACE.mass_g.tolist()
    assert check_truth(found).ceilings[0].low == pytest.approx(ceiling.low)
    assert import_package(bench, files, "again")[0].in_short().temperatures_c == (215.0,)


def test_coupons_come_first_and_it_stands_beside_them(bench):
    rows = [
        Reading(STOCK.name, PLA.name, 215.0, flow, 600.0, 1.789 * min(1.0, 9.8 / flow), f"C{i}")
        for i, flow in enumerate((4.0, 6.0, 8.0, 9.5, 10.5, 11.5, 12.5))
    ]
    trial = bench.create_trial_from_readings("Coupons?", rows, "t.csv").id
    before = trial_fit(bench.snapshot(trial)).ceilings
    one = store_trace(bench, RAMP, write_trace_csv(TRACE), "t.csv", trial=trial)
    assert (one.trial, one.standing) == (trial, "used")
    snapshot = bench.snapshot(trial)
    assert snapshot.fitted == snapshot.current
    assert trial_fit(snapshot).ceilings == before


def test_a_failed_check_is_kept_and_not_used(bench):
    one = store_trace(bench, RAMP, write_trace_csv(tracked()), "t.csv")
    assert one.standing == "kept but not used: slow and fast failed"
    with pytest.raises(FitError, match="no reading counts yet"):
        trial_fit(bench.snapshot(one.trial))
    assert live_fit(one) is None
    assert any("Switch its zero tracking off" in line for line in describe_live(one, None))
    assert live_view(bench, one).ceilings == ()
    found = read_package(export_package(bench, one.trial))
    assert next(c.verdict for c in found.live[0].checks) == "failed"


def test_a_silence_of_more_than_two_seconds_is_told(bench):
    one = store_trace(bench, RAMP, write_trace_csv(TRACE), "t.csv")
    for gap_s, told in ((2.0, False), (2.1, True)):
        seen = replace(one, finding=replace(one.finding, longest_gap_s=gap_s))
        said = " ".join(describe_live(seen, None))
        assert ("the longest silence 2.1 s" in said, "silence" in said) == (told, told)


def test_voided_it_stays_and_no_longer_counts(bench):
    one = store_trace(bench, RAMP, write_trace_csv(TRACE), "t.csv")
    with pytest.raises(InputError, match="no reason is given"):
        void_live(bench, one.number, " ")
    voided = void_live(bench, one.number, "the cup touched a cable")
    assert voided.standing == "voided: the cup touched a cable"
    assert not bench.snapshot(one.trial).fitted
    with pytest.raises(ConflictError, match="does not count already"):
        void_live(bench, one.number, "again")
    with pytest.raises(ConflictError, match="was voided"):
        read_live(bench, one.number)
    with pytest.raises(ConflictError, match="is over: voided: the cup touched a cable"):
        unread_live(bench, one.number)
    with pytest.raises(NotFoundError, match=f"Those there are: {one.number}"):
        live_weighing(bench, 99)
    assert [found.number for found in live_weighings(bench)] == [one.number]


def test_a_trace_that_is_not_of_the_ramp_stores_nothing(bench):
    flat = Trace(TRACE.time_s, 50.0 + 0.001 * (np.arange(TRACE.time_s.size) % 3))
    with pytest.raises(ReadingsError, match="not to be seen in the trace"):
        store_trace(bench, RAMP, write_trace_csv(flat), "t.csv")
    assert bench.trials() == []


def test_what_was_appended_before_a_stop_is_there_and_is_read(bench):
    one = begin_live(bench, RAMP, balance="Bench balance")
    assert one.standing == "not read yet"
    for a, b in ((0, 700), (700, 1400)):
        live.append(bench, one.number, Trace(TRACE.time_s[a:b], TRACE.mass_g[a:b]), a)
    assert live_table(bench, one.number).count("\n") == 1401
    with pytest.raises(ReadingsError, match="the trace lasts 12 min"):
        read_live(bench, one.number)
    assert live_weighing(bench, one.number).finding is None
    rest = Trace(TRACE.time_s[1400:], TRACE.mass_g[1400:])
    live.append(bench, one.number, rest, 1400)
    live.append(bench, one.number, rest, 1400)  # sent twice
    found = read_live(bench, one.number)
    assert found.finding.rows == TRACE.time_s.size
    assert "stopped without an end" in found.finding.ended
    assert found.counts


def test_the_steps_that_ran_are_those_that_are_read(bench):
    one = begin_live(bench, RAMP)
    assert one.program.count("G1 E") > 50
    assert one.sections == sections_of(SPEC)


def test_a_table_is_stored_with_the_steps_that_ran(bench):
    ran = SPEC.model_copy(update={"leg_s": 150.0})  # as a package brings them
    table = write_trace_csv(short_trace(ran))
    one = store_trace(bench, Ramp(SPEC, STOCK, PLA, sections_of(ran)), table, "t.csv")
    assert (one.sections, one.standing, one.program) == (sections_of(ran), "used", "")
