"""Write the fixture bench of a set of tables: run once per migration, keep the file for ever.

Usage: python tests/store/data/make_fixture_bench.py tests/store/data/tables-0002.bench
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "support"))
from bench_support import PLAN, stocked

from beadworth.demo import LONG_ZONE, STOCK
from beadworth.store import NewGrant, entries_by, open_bench
from beadworth.trial import add_to_plan

target = Path(sys.argv[1])
work = target.with_suffix(".work")
bench, trial = stocked(work)
bench.save_rig(LONG_ZONE)
bench.void_reading(bench.record_reading(trial, "A01", 1.78).reading_id, "snipped short")
second = bench.record_reading(trial, "A01", 1.79, tare_g=0.1, diameter_mm=1.751, note="second")
bench.supersede_reading(second.reading_id, 1.77)
added = add_to_plan(PLAN, bench.coupons(trial), [(STOCK.name, 210.0, 11.0)], {STOCK.name: STOCK})
bench.amend(trial, "the knee is near", added, "one coupon at 11")
bench.record_reading(trial, added[0].coupon, 1.76)
with entries_by("A. Measurer"):
    bench.add_note("wear", STOCK.name, {"hours": 12.5}, "key-of-a-note")
code = bench.give(NewGrant("code", "phone 1", "weigh-in", "0" * 64, None, trial))
bench.exchange(code.id, lambda _: NewGrant("phone", "phone 1", "weigh-in", "1" * 64))
bench.backup(target)
bench.close()
for leftover in target.parent.glob(work.name + "*"):
    leftover.unlink()
with open_bench(target) as made:
    assert made.check().sound
for leftover in (target.with_name(target.name + "-wal"), target.with_name(target.name + "-shm")):
    leftover.unlink(missing_ok=True)
