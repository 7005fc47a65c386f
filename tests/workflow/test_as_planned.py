"""A record that is changed after the plan does not change what was tested."""

import pytest

from beadworth.core.records import from_mapping
from beadworth.datapackage import package_files
from beadworth.demo.rigs import STOCK
from beadworth.demo.trials import PLA, simulated_reading
from beadworth.report import dossier_html
from beadworth.report.sections.method import RIGS
from beadworth.rig import as_planned, upgrade
from beadworth.store import open_bench
from beadworth.trial import TrialSpec
from beadworth.workflow import import_readings, report_data
from beadworth.workflow.trial import make_plan

SPEC = {
    "question": "How far does the stock hot end go?",
    "baseline": STOCK.name,
    "material": PLA.name,
    "temperatures_c": [220.0],
    "flows_mm3_s": [6.0, 9.0, 12.0, 15.0, 18.0],
    "replicates": 2,
    "references_per_block": 2,
    "filament_mm": 600.0,
}


def changed_hot_end(rig, **values):
    return rig.model_copy(update={"hot_end": rig.hot_end.model_copy(update=values)})


@pytest.fixture
def weighed(tmp_path):
    import numpy as np

    with open_bench(tmp_path / "a.bench") as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        spec = from_mapping(TrialSpec, SPEC, "test")
        trial = bench.create_trial(spec, make_plan(bench, spec)).id
        rng = np.random.default_rng(3)
        rows = [simulated_reading(c, PLA.name, rng) for c in bench.coupons(trial)]
        import_readings(bench, rows, "simulated", trial=trial)
        yield bench, trial


def test_page_and_package_keep_the_version_planned_with(weighed):
    bench, trial = weighed
    before = report_data(bench, trial)
    assert before.changed_since == ()
    watts = STOCK.hot_end.heater_w
    newer = changed_hot_end(STOCK, heater_w=watts + 25.0, nozzle_mm=0.8)
    bench.save_rig(newer.model_copy(update={"supplied_by": "bought", "filament_diameter_mm": 2.85}))
    after = report_data(bench, trial)
    (rig,) = after.rigs
    assert rig.hot_end == STOCK.hot_end
    assert rig.supplied_by == "bought"  # who supplied it is said as it is known now
    assert after.changed_since == (STOCK.name,)
    assert after.ceilings == before.ceilings  # nor do the figures move
    page = dossier_html(after, [RIGS])
    assert f"The record of {STOCK.name} was changed after the trial was planned" in page
    rigs = package_files(after)["rigs.json"].decode("utf-8")
    assert '"nozzle_mm": 0.8' not in rigs
    assert "2.85" not in rigs
    assert bench.rig(STOCK.name).hot_end.nozzle_mm == 0.8  # the bench has the newest


def test_a_plan_made_anew_takes_the_record_of_that_moment(tmp_path):
    with open_bench(tmp_path / "a.bench") as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        spec = from_mapping(TrialSpec, SPEC, "test")
        trial = bench.create_trial(spec, make_plan(bench, spec)).id
        newer = changed_hot_end(STOCK, heater_w=65.0)
        bench.save_rig(newer)
        assert bench.snapshot(trial).planned_rigs[STOCK.name].hot_end == STOCK.hot_end
        other = spec.model_copy(update={"replicates": 3})
        bench.replan(trial, other, make_plan(bench, other))
        assert bench.snapshot(trial).planned_rigs == {}


def test_what_was_left_out_is_taken_from_the_newest_record():
    then = changed_hot_end(STOCK, heater_w=None, mass_g=50.0)
    now = changed_hot_end(then, heater_w=65.0, mass_g=60.0)
    found = as_planned(then, now)
    assert (found.hot_end.heater_w, found.hot_end.mass_g) == (65.0, 50.0)
    assert as_planned(now, now) is now


def test_how_well_a_value_is_known_goes_with_the_value():
    known = {"hot_end.mass_g": {"u": 1.0, "origin": "measured"}}
    then = changed_hot_end(STOCK, mass_g=50.0).model_copy(update={"known": {}})
    weighed = upgrade(then, {"name": then.name, "known": known})
    assert as_planned(then, weighed).known.keys() >= known.keys()
    other = changed_hot_end(weighed, mass_g=60.0)
    assert not as_planned(then, other).known.keys() & known.keys()
