"""What an entry is checked against is kept in memory, and never a moment longer than it holds."""

import pytest
from bench_support import PLAN, SPEC, stocked
from statements import statements

from beadworth.core.errors import NotFoundError, ReadingsError
from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import add_to_plan, plan


@pytest.fixture
def bench_trial(where):
    bench, trial = stocked(where)
    yield bench, trial
    bench.close()


@pytest.fixture
def elsewhere(bench_trial, where):
    """The same bench, opened by somebody else."""
    with open_bench(where) as other:
        yield other


def test_coupons_that_somebody_else_added_can_be_weighed_at_once(bench_trial, elsewhere):
    bench, trial = bench_trial
    bench.record_reading(trial, "A01", 1.78)
    added = add_to_plan(
        PLAN, bench.coupons(trial), [(STOCK.name, 210.0, 11.0)], {STOCK.name: STOCK}
    )
    with pytest.raises(NotFoundError):
        bench.record_reading(trial, added[0].coupon, 1.76)
    elsewhere.amend(trial, "the knee is near", added, "one coupon at 11")
    assert bench.record_reading(trial, added[0].coupon, 1.76).reading.reference


def test_a_plan_that_somebody_else_replaced_is_the_one_weighed(bench_trial, elsewhere):
    bench, trial = bench_trial
    bench.void_reading(bench.record_reading(trial, "A01", 1.78).reading_id, "x")
    other = elsewhere.create_trial(SPEC, PLAN).id
    with pytest.raises(ReadingsError):
        bench.record_reading(other, "A01", 17.8)  # refused, and the sheet is in memory now
    spec = SPEC.model_copy(update={"filament_mm": 500.0})
    elsewhere.replan(other, spec, plan(spec, {STOCK.name: STOCK}, PLA))
    assert bench.record_reading(other, "A01", 1.48).reading.filament_mm == 500.0


def test_a_material_that_somebody_else_corrected_is_the_one_checked_against(bench_trial, elsewhere):
    bench, trial = bench_trial
    bench.record_reading(trial, "A01", 1.78)
    with pytest.raises(ReadingsError):
        bench.record_reading(trial, "A02", 3.3)  # more than was fed can weigh
    elsewhere.save_material(PLA.model_copy(update={"density_g_cm3": 2.4}))
    assert bench.record_reading(trial, "A02", 3.3)


def test_two_benches_of_one_process_do_not_share(bench_trial, tmp_path, empty_bench):
    bench, trial = bench_trial
    bench.record_reading(trial, "A01", 1.78)
    other, same = stocked(empty_bench(tmp_path / "other.bench"))
    with other:
        assert same == trial
        other.save_material(PLA.model_copy(update={"density_g_cm3": 2.4}))
        assert other.record_reading(trial, "A02", 3.3)
    with pytest.raises(ReadingsError):
        bench.record_reading(trial, "A02", 3.3)


def test_an_entry_asks_no_more_of_a_long_trial(bench_trial):
    bench, trial = bench_trial
    bench.record_reading(trial, "A01", 1.78)
    counts = []
    for coupon in ("A02", "A03"):
        with statements(bench) as sent:
            bench.record_reading(trial, coupon, 1.78, entry_key=f"key-{coupon}")
        counts.append(len(sent))
        assert not any("readings.trial_id" in one for one in sent)
    assert counts[0] == counts[1] <= 9
