"""Looking up a case and replaying it: what holds for whom, and what is refused before a replay."""

import numpy as np
import pytest
from ask_support import RIGS, named_fit

from beadworth.core.errors import BeadworthError, InputError, NotFoundError, Problem
from beadworth.worth.case import case_from_mapping
from beadworth.worth.replayed import REPLAYS, Sources, ask
from beadworth.worth.stored import from_plain, reused, to_plain

SECTION = np.pi / 4 * 1.75**2


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("prints")
    section = (0.45 - 0.2) * 0.2 + np.pi / 4 * 0.2**2
    lines = ["G21", "G90", "M83", "M104 S220", "G1 X20 Y20 Z0.2 F6000"]
    for n in range(200):
        x = 20.0 + 60.0 * ((n + 1) % 2)
        lines.append(f"G1 X{x:.3f} E{60.0 * section / SECTION:.5f} F{17 / section * 60:.1f}")
    (made / "a.gcode").write_text("\n".join(lines) + "\n")
    return made


def rig(name):
    if name not in RIGS:
        raise NotFoundError(Problem("no such rig.", "rig", name, "Name another."))
    return RIGS[name]


def run(folder, *, steps=None, density=None, **changes):
    case = case_from_mapping(
        {"name": "c", "baseline": "stock", "candidate": "long", "trial": "both",
         "prints": [{"file": "a.gcode", "per_year": 100}], **changes}, "case",
    )  # fmt: skip
    sources = Sources(rig, named_fit, lambda use: folder / use.file, lambda _: density)
    return ask(case, sources, None if steps is None else lambda: steps.append(1))


def test_what_the_records_know_is_taken_from_them(folder):
    steps = []
    found = run(folder, steps=steps)
    assert len(steps) == REPLAYS
    assert found.parts.value == 54.0
    assert found.currency == "EUR"
    assert found.mass_removed_g.value == pytest.approx(10.0)
    assert [d.temperature_c for d in found.differences] == [200.0, 220.0]
    assert found.differences[1].difference_mm3_s == pytest.approx(6.0, abs=0.6)
    (times,) = found.prints
    assert times.baseline.time_s > times.candidate.time_s


def test_two_trials_of_one_rig_each_are_held_against_each_other(folder):
    found = run(folder, trial="stock alone", candidate_trial="long alone")
    assert found.prints[0].candidate.group == "long / PLA"
    assert found.differences[1].difference_mm3_s == pytest.approx(6.0, abs=0.6)


def test_whoever_changes_only_the_motion_need_not_weigh_again(folder):
    found = run(folder, baseline="long", candidate="rails")
    (times,) = found.prints
    assert times.candidate.group == times.baseline.group == "long / PLA"
    assert "those of long" in times.candidate.notes[0]
    assert times.candidate.time_s < times.baseline.time_s


def test_kept_times_answer_again_and_prices_move_without_a_replay(folder):
    found = run(folder)
    again = from_plain(found.case, to_plain(found))
    assert again == found
    dearer = found.case.model_copy(update={"months": 12.0})
    assert reused(dearer, found).prints == found.prints
    for change in ({"feeds": "raised"}, {"baseline": "rails"}, {"trial": None}):
        assert reused(found.case.model_copy(update=change), found) is None
    typed = run(folder, cost={"parts": 10.0}, currency="EUR")
    assert reused(found.case, typed) is None  # the price stands in the rig record then


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"candidate": "stock"}, "both rigs are stock"),
        ({"currency": "USD"}, "priced in EUR"),
        ({"baseline": "long", "candidate": "stock"}, "not recorded"),
        ({"prints": [{"file": "gone.gcode", "per_year": 1}]}, "no such print file"),
        ({"trial": "stock alone", "candidate_trial": "deeper"}, "2.00 % loss"),
        ({"candidate_trial": "stock alone"}, "not long"),
        ({"running": {"filament_kg": 20.0, "failed": 0.1, "candidate_failed": 0.1}}, "density"),
    ],
)
def test_what_can_be_told_without_a_replay_is_told_before_one(folder, changes, said):
    steps = []
    with pytest.raises(BeadworthError) as caught:
        run(folder, steps=steps, **changes)
    assert said in str(caught.value)
    assert all(problem.remedy for problem in caught.value.problems)
    assert steps == []


def test_every_print_and_price_that_is_wrong_is_told_at_once(folder):
    prints = [{"file": f"gone-{n}.gcode", "per_year": 1} for n in range(2)]
    with pytest.raises(InputError) as caught:
        run(folder, currency="USD", prints=prints)
    assert len(caught.value.problems) == 3


def test_a_rig_that_is_not_there_is_a_matter_of_its_own(folder):
    with pytest.raises(NotFoundError):
        run(folder, candidate="none")


def test_a_density_of_the_material_weighs_the_failed_prints(folder):
    run_ = {"filament_kg": 20.0, "failed": 0.1, "candidate_failed": 0.1}
    assert run(folder, density=1.24, running=run_).prints[0].density_g_cm3 == 1.24
    own = run(folder, running={**run_, "density_g_cm3": 1.1})
    assert own.prints[0].density_g_cm3 == 1.1
