"""An upgrade's stages say what the bench knows of its two rigs."""

import pytest
from ramp_case import short_ramp

from beadworth import demo
from beadworth.core import NotFoundError
from beadworth.rig import HotEnd, Rig
from beadworth.store import open_bench
from beadworth.workflow import Ramp, begin_live, bench_view, newest_upgrade, upgrade, upgrades


@pytest.fixture(scope="module")
def shown(demo_copy, tmp_path_factory):
    with open_bench(demo_copy(tmp_path_factory.mktemp("upgrade"))) as bench:
        yield bench


def stages(bench, rig):
    found = upgrade(bench_view(bench), rig)
    return found, {stage.name: stage for stage in found.stages}


def test_the_demos_upgrade_knows_what_was_done(shown):
    found, of = stages(shown, demo.LONG_ZONE.name)
    assert found.before.name == demo.STOCK.name
    assert list(of) == ["fit", "bring-up", "trial", "speed", "prints", "worth", "wear", "publish"]
    assert of["trial"].state == "done"
    assert of["trial"].fact == "66 of 66 coupons weighed."
    assert shown.trial(of["trial"].subject).spec.candidate == demo.LONG_ZONE.name
    assert of["speed"].subject == of["publish"].subject == of["trial"].subject
    assert of["worth"].state == "done"
    assert of["worth"].fact.lower().startswith("probably worth it: ")
    assert of["wear"].fact == "978 h, 92 entries."
    assert of["fit"].state == "begun"
    assert of["fit"].fact.startswith("36 checks: 3 to look at, 9 to measure and 24 fit")
    assert found.next.name == "fit"
    assert found.trials[0].question == demo.FINISHED.question


def test_an_upgrade_nothing_is_known_of_begins_at_its_fit(shown):
    name = next(rig.name for rig in shown.rigs() if rig.parent == demo.LONG_ZONE.name)
    found, of = stages(shown, name)
    assert {of[stage].state for stage in ("bring-up", "prints", "wear")} == {"open"}
    assert of["worth"].state == "done"  # the demo's second case is about it
    assert found.next.name == "fit"


def test_a_rig_alone_is_shown_as_it_is_and_an_unknown_one_refused(tmp_path):
    with open_bench(tmp_path / "own.bench") as bench:
        assert upgrades(bench_view(bench)) == []
        bench.save_rig(Rig(name="Alone", hot_end=HotEnd(nozzle_mm=0.4)))
        assert [(after.name, before) for after, before in upgrades(bench_view(bench))] == [
            ("Alone", None)
        ]
        found, of = stages(bench, "Alone")
        assert found.before is None
        assert {stage.state for stage in of.values()} == {"open"}
        assert of["fit"].fact == "No rig before it is recorded, so nothing to compare."
        bench.save_rig(Rig(name="After", parent="Alone", hot_end=HotEnd(nozzle_mm=0.6)))
        assert [(a.name, b.name) for a, b in upgrades(bench_view(bench))] == [("After", "Alone")]
        with pytest.raises(NotFoundError, match="no rig is called 'Other'"):
            upgrade(bench_view(bench), "Other")


def test_a_rig_that_was_only_weighed_live_has_a_trial(tmp_path):
    with open_bench(tmp_path / "own.bench") as bench:
        for rig in (Rig(name="Alone", hot_end=HotEnd(nozzle_mm=0.4)), demo.STOCK):
            bench.save_rig(rig)
        assert newest_upgrade(bench_view(bench)).after.name == "Alone"
        ramp = Ramp(short_ramp(demo.STOCK.name, demo.PLA.name), demo.STOCK, demo.PLA)
        one = begin_live(bench, ramp)
        found, of = stages(bench, demo.STOCK.name)
        assert (of["trial"].state, of["trial"].fact, of["trial"].subject) == (
            "begun", "Weighed live; no live weighing counts yet.", one.trial
        )  # fmt: skip
        assert of["speed"].state == of["publish"].state == "open"
        assert newest_upgrade(bench_view(bench)).after.name == demo.STOCK.name
        assert stages(bench, "Alone")[1]["trial"].fact == "No trial of it yet."
        assert [trial.id for trial in found.trials] == [one.trial]
