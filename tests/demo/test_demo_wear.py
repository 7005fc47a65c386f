"""The demo's months: invented, marked so, possible, and telling what its truth says."""

from datetime import date

from beadworth.demo import LONG_ZONE
from beadworth.demo.wear import CLEANED, DRIFT_FROM, SETTING, demo_wear, seed_wear
from beadworth.store import open_bench
from beadworth.wear.entry import clashes, wear_entry
from beadworth.wear.summary import change_at
from beadworth.workflow.journal import journal_entries, published_pages
from beadworth.workflow.wear import rig_wear

RIG = LONG_ZONE.name


def test_every_entry_could_have_been_typed():
    log = []
    for data in demo_wear():
        entry = wear_entry(data, "demo")
        assert clashes(entry, log, date(2026, 11, 25), "demo") == []
        log.append(entry)
    assert all(entry.simulated for entry in log)


def test_it_is_put_on_a_bench_once_and_tells_its_story(tmp_path):
    with open_bench(tmp_path / "d.bench") as bench:
        bench.save_rig(LONG_ZONE)
        seed_wear(bench, RIG)
        before = len(bench.notes("wear", RIG))
        seed_wear(bench, RIG)
        assert len(bench.notes("wear", RIG)) == before
        pages = journal_entries(bench, RIG)
        assert len(pages) == 7
        assert all(kept.record.simulated for kept in pages)
        assert len(published_pages(bench.notes("journal", [RIG]))) == 6
        found = rig_wear(bench, RIG, today=date(2026, 11, 25))
        entries = [wear_entry(data, "demo") for data in demo_wear()]
        assert bench.check().sound
    assert found.simulated
    coupons = next(r for r in found.series if r.series.place == SETTING)
    assert coupons.course.kind == "step"
    assert coupons.course.size < 0
    assert DRIFT_FROM <= coupons.course.at <= CLEANED  # the week it falls in
    nozzle = next(p for p in found.parts if p.lives.part == "nozzle")
    assert nozzle.life.failures >= 5
    assert nozzle.life.shape.low <= 4.0 <= nozzle.life.shape.high
    assert nozzle.life.scale_h.low <= 170.0 <= nozzle.life.scale_h.high
    wheels = next(entry for entry in entries if entry.what == "bed wheels")
    _, change = change_at(entries, "play at the bed", wheels)
    assert change.kind == "paired"
    assert change.high < 0
    assert found.due
