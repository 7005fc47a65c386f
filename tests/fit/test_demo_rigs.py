"""The demo's rigs are whole enough to show a fit check, and a bring-up is kept with one."""

from beadworth import demo
from beadworth.demo.rigs import seed_bring_up
from beadworth.fit import fit_check
from beadworth.material.library import generic
from beadworth.store import open_bench
from beadworth.workflow.bringup import stored_bring_ups


def test_every_check_of_the_demo_upgrade_has_an_answer_but_the_one_its_bring_up_gives():
    made = {c.name: c for c in fit_check(demo.STOCK, demo.LONG_ZONE, generic("PLA"), 220.0, 12.0)}
    open_ones = [name for name, check in made.items() if check.verdict == "measure this"]
    assert open_ones == ["heater power", "left unchecked"], "the standing loss of the new hot end"
    assert "values in question" not in made
    assert not any(check.verdict == "does not fit" for check in made.values())
    assert made["added mass"].value == 11
    assert demo.STOCK.simulated
    assert demo.LONG_ZONE.simulated


def test_a_bring_up_is_kept_once_and_answers_it(tmp_path):
    with open_bench(tmp_path / "demo.bench") as bench:
        bench.save_rig(demo.LONG_ZONE)
        for _ in range(2):
            seed_bring_up(bench)
        moves, heater = (one.result for one in stored_bring_ups(bench, demo.LONG_ZONE.name))
    assert not moves.axes[0].scale_significant
    assert abs(heater.loss.loss_w_k - 0.071) < 3 * heater.loss.u_loss_w_k
    assert heater.heat_up.verdict == "fits"
