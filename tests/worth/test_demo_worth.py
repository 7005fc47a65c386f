"""The demo's two cases: a dear upgrade that pays for one profile and not for another."""

import pytest

from beadworth.core import to_json
from beadworth.demo import seed
from beadworth.demo.worth import HOT_END, RAILS, demo_prints
from beadworth.replay import replay
from beadworth.store import open_bench
from beadworth.workflow.sections import SectionInputs
from beadworth.workflow.worth import gather_worth, stored_worth, stored_worths
from beadworth.worth.answer import work_out


@pytest.fixture(scope="module")
def bench(demo_copy, tmp_path_factory):
    with open_bench(demo_copy(tmp_path_factory.mktemp("demo"))) as made:
        yield made


def test_rails_pay_for_the_business_and_not_for_the_weekend(bench):
    kept = stored_worth(bench, RAILS)
    found = work_out(kept.asked)
    verdicts = {item.profile.name: item.worth.verdict for item in found.profiles}
    assert verdicts["small business"] == "worth it"
    assert verdicts["occasional"] == "not worth it"
    assert found.worth.cost.value > bench.rig(kept.case.candidate).price > 400
    # hours come first in what is said, never the price against the printer's
    assert found.worth.sentence.startswith("It saves")
    assert found.worth.simulated
    assert any("whose ceilings hold for it" in note for note in found.worth.notes)


@pytest.mark.usefixtures("full_fits")  # as the demo is laid out
def test_kept_answers_come_out_the_same_again(bench):
    assert {k.case.name for k in stored_worths(bench)} == {HOT_END, RAILS}
    kept = stored_worth(bench, HOT_END)
    assert to_json(work_out(kept.asked)) == kept.result


def test_seeding_again_keeps_nothing_twice(bench):
    before = len(bench.notes("worth"))
    seed(bench)
    assert len(bench.notes("worth")) == before == 2


def test_a_trial_finds_the_case_of_its_own_rigs(bench):
    (trial,) = [t for t in bench.trials() if t.spec and t.spec.candidate]
    rigs = tuple(bench.rig(n) for n in (trial.spec.baseline, trial.spec.candidate))
    snapshot = bench.snapshot(trial.id)
    assert gather_worth(SectionInputs(bench, snapshot, rigs, None)).worth.name == HOT_END
    assert gather_worth(SectionInputs(bench, snapshot, rigs[:1], None)) is None


def test_each_print_shows_another_wall(bench):
    rig = bench.rig(stored_worth(bench, HOT_END).case.baseline)
    found = {name: replay(text.encode(), rig) for name, text in demo_prints().items()}
    assert found["solid bracket"].flow.p99_mm3_s > 18
    assert found["small clips"].held_back_s["corner"] > 0.2 * found["small clips"].time_s
    assert all(not replayed.summary.problems for replayed in found.values())
