"""How often the frequent uses ask the database: a bound that does not grow with the bench."""

import io
from dataclasses import replace

import numpy as np
import pytest
from bench_support import stocked
from PIL import Image
from statements import statements

from beadworth.demo import FINISHED, LONG_ZONE, PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import Reading, TrialSpec, plan, write_readings_csv
from beadworth.workflow import (
    add_coupons,
    add_journal_page,
    add_wear,
    bench_view,
    import_readings,
    newest_upgrade,
    record_weighing,
    report_data,
    trial_comparison,
    trial_fit,
    trial_next_coupons,
    trial_programs,
    trial_speeds,
    void_reading,
)

IMPORT = 40
"""Statements an import of a table may take."""
PAGE = 15
"""Statements the data of a trial page may take."""


def ladder(question="How far do both zones go?"):
    return TrialSpec(
        question=question, baseline=STOCK.name, candidate=LONG_ZONE.name, material=PLA.name,
        temperatures_c=(210.0, 230.0), flows_mm3_s=(8.0, 10.0, 12.0, 15.0, 18.0, 22.0),
        replicates=1, references_per_block=2, filament_mm=600.0, collect="catch",
    )  # fmt: skip


def weighed(bench, trial):
    """A coupon each, 2 % short at 12 mm³/s (at 18 on the long zone), with some scatter."""
    rng = np.random.default_rng(7)
    rows = []
    for c in bench.coupons(trial):
        knee = 12.0 if c.rig == STOCK.name else 18.0
        loss = min(0.02 * (c.flow_mm3_s / knee) ** 4, 0.6)
        mass = round(c.filament_mm * 2.98e-3 * (1 - loss) * rng.normal(1, 0.003), 3)
        rows.append(
            Reading(
                c.rig, PLA.name, c.temperature_c, c.flow_mm3_s, c.filament_mm, mass,
                coupon=c.coupon, reference=c.reference, replicate=c.replicate,
            )
        )  # fmt: skip
    return rows


def jpeg():
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(out, "JPEG")
    return out.getvalue()


def with_records(where):
    bench = open_bench(where)
    bench.save_rig(STOCK)
    bench.save_rig(LONG_ZONE)
    bench.save_material(PLA)
    return bench


@pytest.mark.parametrize("planned", [True, False])
def test_a_table_of_six_hundred_rows_is_imported_in_few_statements(where, planned):
    with with_records(where) as bench:
        spec = TrialSpec(
            question="What do 600 rows take?", baseline=STOCK.name, material=PLA.name,
            temperatures_c=(200.0, 205.0, 210.0, 215.0, 220.0),
            flows_mm3_s=tuple(6.0 + 0.25 * step for step in range(59)), replicates=2,
            references_per_block=2, filament_mm=600.0, collect="catch",
        )  # fmt: skip
        made = plan(spec, {STOCK.name: STOCK}, PLA)
        trial = bench.create_trial(spec, made).id
        rows = weighed(bench, trial)
        rows = [replace(row, void=number % 50 == 7) for number, row in enumerate(rows)]
        assert len(rows) >= 600
        table = write_readings_csv(rows).encode()
        with statements(bench) as sent:
            into, count = import_readings(
                bench, table, "t.csv", trial=trial if planned else None, question="What?"
            )
        assert count == len(rows)
        assert len(sent) <= IMPORT, len(sent)
        assert len(bench.current_readings(into)) == sum(not row.void for row in rows)
        assert bench.check().findings == ()


@pytest.fixture(scope="module")
def crowded(tmp_path_factory, demo_copy):
    """Benches with one weighed trial: alone, among much else, and among all that a bench holds."""
    folder = tmp_path_factory.mktemp("crowd")
    found = {}
    for name, others in (("alone", 0), ("crowded", 6)):
        bench = with_records(folder / f"{name}.bench")
        trial = bench.create_trial(ladder(), plan(ladder(), RIGS, PLA)).id
        import_readings(bench, weighed(bench, trial), "simulated", trial=trial)
        add_coupons(bench, trial, [(STOCK.name, 210.0, 11.0)], "to see the knee")
        for number in range(others):
            other = f"Rig {number}"
            bench.save_rig(STOCK.model_copy(update={"name": other}))
            for rig in (other, STOCK.name, LONG_ZONE.name):
                day = f"2026-03-{number + 1:02d}"
                add_wear(bench, rig, {"on": day, "kind": "hours", "hours_h": 10.0})
                page = {"on": day, "stage": "fit", "title": f"Page {number}", "shown": True}
                add_journal_page(bench, rig, page, [("a.jpg", jpeg(), "a red square")])
            bench.add_note(
                "print-replay", f"{number:064d}",
                {"rig": STOCK.name, "time_s": 60.0, "verdict": "Nothing over the ceiling."},
            )  # fmt: skip
            spec = ladder(f"What does trial {number} say?")
            again = bench.create_trial(spec, plan(spec, RIGS, PLA)).id
            import_readings(bench, weighed(bench, again), "simulated", trial=again)
        found[name] = (bench, trial)
    bench = open_bench(demo_copy(folder, packages=True))
    found["demo"] = bench, next(t.id for t in bench.trials() if t.question == FINISHED.question)
    for bench, _ in found.values():
        bench.outlines()  # as a server does when it opens
    yield found
    for bench, _ in found.values():
        bench.close()


RIGS = {STOCK.name: STOCK, LONG_ZONE.name: LONG_ZONE}
USES = {
    "the page of a trial": lambda bench, trial: bench.snapshot(trial),
    "its capacity": lambda bench, trial: trial_fit(bench.snapshot(trial)),
    "its speeds": lambda bench, trial: trial_speeds(bench.snapshot(trial)),
    "what the candidate gains": lambda bench, trial: trial_comparison(bench.snapshot(trial)),
    "next coupons": lambda bench, trial: trial_next_coupons(bench.snapshot(trial), 2),
    "its programs": lambda bench, trial: trial_programs(bench.snapshot(trial)),
    "the report without the rest of the bench": (
        lambda bench, trial: report_data(bench, trial, sections=())
    ),
    "all data of the report": report_data,
}


@pytest.mark.parametrize("use", USES)
def test_what_a_trial_page_shows_takes_few_statements_whatever_else_is_there(crowded, use):
    sent = {}
    for name, (bench, trial) in crowded.items():
        with statements(bench) as sent[name]:
            USES[use](bench, trial)
    for name, each in sent.items():
        assert len(each) <= PAGE, (name, "\n".join(each))
    # the crowd has photos in its journal, which are fetched together
    assert len(sent["crowded"]) - len(sent["alone"]) in (0, 1)


def test_the_lists_of_the_first_page_do_not_grow_with_what_they_list(crowded):
    sent = {}
    for name, (bench, _) in crowded.items():
        with statements(bench) as sent[name]:
            newest_upgrade(bench_view(bench))
    assert len(sent["crowded"]) == len(sent["alone"]) == len(sent["demo"]) <= PAGE


def test_a_weighing_and_its_answer_take_few_statements_late_as_early(where):
    bench, trial = stocked(where)
    with bench:
        coupons = bench.coupons(trial)
        counts = []
        for coupon in coupons:
            with statements(bench) as sent:
                record_weighing(bench, trial, coupon.coupon, "1.78")
            counts.append(len(sent))
        assert max(counts) <= 20, counts
        assert counts[1] == counts[-1]
        number = bench.readings(trial)[0].reading_id
        with statements(bench) as sent:
            void_reading(bench, trial, number, "snipped short")
        assert len(sent) <= 20
