"""What is typical, gathered from a whole bench: own trials, packages, each fitted the same way."""

import pytest

from beadworth.demo import FINISHED, LONG_ZONE, STOCK
from beadworth.demo.packages import WORKSHOPS, seed_packages
from beadworth.store import open_bench
from beadworth.trial import Reading
from beadworth.workflow import export_package
from beadworth.workflow import typical as typical_module
from beadworth.workflow.capacity import trial_fit
from beadworth.workflow.packages import import_package, imported_packages
from beadworth.workflow.report import report_data
from beadworth.workflow.sections import SectionInputs
from beadworth.workflow.typical import gather_typical


@pytest.fixture(scope="module")
def demo(demo_copy, tmp_path_factory):
    with open_bench(demo_copy(tmp_path_factory.mktemp("typical"), packages=True)) as bench:
        record = next(t for t in bench.trials() if t.question == FINISHED.question)
        yield bench, record


def gathered(bench, record):
    snapshot = bench.snapshot(record.id)
    inputs = SectionInputs(bench, snapshot, (STOCK, LONG_ZONE), trial_fit(snapshot))
    return gather_typical(inputs)


def test_demo_packages_are_seeded_once(demo):
    bench, _ = demo
    seed_packages(bench)
    assert [p.source for p in imported_packages(bench)] == [w.name for w in WORKSHOPS]
    assert all(p.contents.simulated for p in imported_packages(bench))


def test_packages_of_a_class_are_pooled_beside_the_trial(demo):
    found = gathered(*demo)
    assert {str(p.hot_end) for p in found.pools} == {
        "standard melt zone, usual bore", "long melt zone, usual bore",
    }  # fmt: skip
    assert len(found.pools) == 6
    assert sum(len(pool.trials) for pool in found.pools) >= 6 * len(WORKSHOPS) - 2
    for pool in found.pools:
        assert {c.source for c in pool.trials} == {"package"}
        # a short ladder may bound a ceiling from one side only, which is not pooled
        assert len(WORKSHOPS) - 1 <= len(pool.trials) <= len(WORKSHOPS)
        # the demo's own truth lies where a further trial of its class is expected
        rig = STOCK if pool.hot_end.zone == "standard" else LONG_ZONE
        truth = next(c for c in found.own
                     if c.rig == rig.name and c.temperature_c == pool.temperature_c)  # fmt: skip
        assert pool.pooled.prediction_low < truth.flow_mm3_s < pool.pooled.prediction_high


def test_packages_are_credited_as_their_licence_asks(demo):
    found = gathered(*demo)
    assert len(found.credits) == len(WORKSHOPS)
    assert "(The lime kiln, CC-BY-4.0, package " in "".join(found.credits)


def test_a_trial_imported_again_is_not_held_against_itself(demo):
    bench, record = demo
    before = gathered(bench, record)
    import_package(bench, export_package(bench, record.id), "own again")
    assert gathered(bench, record) == before


def test_the_dossier_gets_it_and_a_trial_without_ceilings_does_not(demo):
    bench, record = demo
    assert report_data(bench, record.id).section_data["typical"].own
    assert gather_typical(SectionInputs(bench, bench.snapshot(record.id), (), None)) is None


@pytest.mark.parametrize(("most", "cut"), [(2, True), (3, False)])
def test_of_many_trials_the_newest_are_looked_at_and_that_is_said(
    demo, tmp_path, empty_bench, monkeypatch, most, cut
):
    monkeypatch.setattr(typical_module, "MOST_POOLED", most)
    other, record = demo
    snapshot = other.snapshot(record.id)
    with open_bench(empty_bench(tmp_path / "many.bench")) as bench:
        for number, material in enumerate(("PLA", "PLA, grey", "PETG", "PLA")):
            row = Reading(STOCK.name, material, 210.0, 8.0, 600.0, 1.78)
            bench.create_trial_from_readings(f"Evening {number}?", [row], "t.csv")
        newest = [t.id for t in bench.outlines() if t.groups[0].material != "PETG"]
        asked = []
        monkeypatch.setattr(bench, "snapshots", lambda ids: asked.extend(ids) or [])
        rigs = (STOCK, LONG_ZONE)
        found = gather_typical(SectionInputs(bench, snapshot, rigs, trial_fit(snapshot)))
    assert asked == newest[:most]
    said = "Of 3 other trials of this polymer here, the newest 2 were looked at."
    assert (said in found.notes) == cut
