"""Tables of readings: whole or not at all, each row to the coupon it is of."""

from dataclasses import replace

import pytest
from bench_support import PLAN, stocked

from beadworth.core.errors import ReadingsError
from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import Reading
from beadworth.workflow import import_readings

ROW = Reading(STOCK.name, PLA.name, 210.0, 10.0, 600.0, 1.7)
LADDER = [c for c in PLAN.coupons if c.flow_mm3_s == 10.0]
REFERENCES = [c for c in PLAN.coupons if c.reference]


@pytest.fixture
def bench_trial(where):
    bench, trial = stocked(where)
    with bench:
        yield bench, trial


def imported(bench, trial, rows, source):
    """What a table of readings left on the bench, in the order of its rows."""
    before = len(bench.readings(trial))
    assert import_readings(bench, rows, source, trial=trial) == (trial, len(rows))
    return bench.readings(trial)[before:]


def problems(bench, trial, rows):
    with pytest.raises(ReadingsError) as caught:
        imported(bench, trial, rows, "t.csv")
    assert bench.readings(trial) == []
    return [str(problem) for problem in caught.value.problems]


def test_a_table_is_taken_whole_or_not_at_all(bench_trial):
    bench, trial = bench_trial
    rows = [
        Reading(STOCK.name, PLA.name, 210.0, c.flow_mm3_s, 600.0, 1.7, reference=c.reference)
        for c in PLAN.coupons
    ]
    wrong = Reading(STOCK.name, PLA.name, 210.0, 99.0, 600.0, 1.7)
    with pytest.raises(ReadingsError) as caught:
        imported(bench, trial, [*rows, wrong, rows[0]], "t.csv")
    assert len(caught.value.problems) == 2
    assert bench.readings(trial) == []
    stored = imported(bench, trial, rows, "t.csv")
    assert {s.reading.coupon for s in stored} == {c.coupon for c in PLAN.coupons}
    assert all(s.source == "t.csv" for s in stored)


def test_every_fault_is_told_at_once_in_the_order_of_the_rows(bench_trial):
    bench, trial = bench_trial
    said = problems(
        bench,
        trial,
        [
            replace(ROW, material="PETG"),
            replace(ROW, coupon="Z99"),
            replace(ROW, coupon=REFERENCES[0].coupon),
            replace(ROW, mass_g=17.0),
            replace(ROW, flow_mm3_s=10.5),
            replace(ROW, mass_g=float("nan")),
            replace(ROW, flow_mm3_s=12.0, reference=True),
            replace(ROW, flow_mm3_s=12.0, tare_g=-1.0),
            replace(ROW, flow_mm3_s=12.0, diameter_mm=17.5),
        ],
    )
    expected = [
        "PETG is not in the plan (there: PLA",
        "coupon Z99 is not in the plan",
        "is planned at",
        "17 g is more than the 600 mm",
        "10.5 is not in the plan",
        "not a finite number",
        "no planned reference coupon of",
        "a tare of -1 g",
        "filament is not 17.5 mm thick",
    ]
    assert [e in s for e, s in zip(expected, said, strict=False)] == [True] * len(expected), said
    assert [s.split(":")[0] for s in said][:3] == [
        "t.csv, row 1, column material",
        "t.csv, row 2, column coupon",
        "t.csv, row 3, column flow_mm3_s",
    ]


def test_a_row_without_a_name_does_not_take_the_place_of_one_named_later(bench_trial):
    bench, trial = bench_trial
    named = replace(ROW, coupon=LADDER[0].coupon, mass_g=1.71)
    stored = imported(bench, trial, [ROW, named], "t.csv")
    assert [s.reading.coupon for s in stored] == [LADDER[1].coupon, LADDER[0].coupon]


def test_a_row_goes_to_the_coupon_of_its_replicate(bench_trial):
    bench, trial = bench_trial
    last = max(LADDER, key=lambda c: c.replicate)
    stored = imported(bench, trial, [replace(ROW, replicate=last.replicate)], "t.csv")
    assert stored[0].reading.coupon == last.coupon


def test_rows_that_say_nothing_of_references_fill_them_last(bench_trial):
    """At the references' flow: the ladder's own coupons first, then the references."""
    bench, trial = bench_trial
    flow = REFERENCES[0].flow_mm3_s
    alike = [c for c in PLAN.coupons if c.flow_mm3_s == flow]
    stored = imported(bench, trial, [replace(ROW, flow_mm3_s=flow)] * len(alike), "t.csv")
    found = [s.reading.reference for s in stored]
    assert found == sorted(found)
    assert sum(found) == len(REFERENCES)


def test_a_void_row_takes_no_place_and_may_weigh_anything(bench_trial):
    bench, trial = bench_trial
    rows = [replace(ROW, void=True, mass_g=170.0, note="slipped"), ROW]
    void, good = imported(bench, trial, rows, "t.csv")
    assert (void.state, void.reason) == ("voided", "slipped")
    assert void.reading.coupon == good.reading.coupon
    assert bench.check().sound


def test_a_second_bare_table_is_refused_where_it_repeats_the_first(where):
    rows = [replace(ROW, coupon=name) for name in ("a", "b", "c")]
    with open_bench(where) as bench:
        trial = import_readings(bench, rows, "one.csv", question="What?")[0]
        with pytest.raises(ReadingsError) as caught:
            imported(bench, trial, [*rows[:2], replace(ROW, coupon="d")], "two.csv")
        assert len(caught.value.problems) == 2
        assert len(bench.readings(trial)) == 3


def test_an_empty_table_makes_no_trial(where):
    with open_bench(where) as bench:
        with pytest.raises(ReadingsError, match="no reading in this table"):
            import_readings(bench, [], "t.csv", question="Nothing?")
        assert bench.trials() == []


def test_a_table_brings_no_name_in_that_typing_would_not(tmp_path, empty_bench):
    head = "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g\n"
    with open_bench(empty_bench(tmp_path / "names.bench")) as bench:
        for rig in ("=A", "A\u202eB"):
            with pytest.raises(ReadingsError, match="the name"):
                import_readings(bench, f"{head}{rig},PLA,220,8,600,1.7\n", "t.csv")
        assert bench.trials() == []
