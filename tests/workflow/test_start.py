"""A first trial from seven answers: sound plans for every polymer, nothing stored when refused."""

import pytest

from beadworth.core import BeadworthError, ConflictError, InputError
from beadworth.store import open_bench
from beadworth.workflow import StartInputs, start_polymers, start_trial

ANSWERS = {
    "rig": "Own printer",
    "reach_mm": (220, 220, 250),
    "temperature_limit_c": 285,
    "ptfe_in_melt_zone": False,
}


@pytest.fixture
def bench(tmp_path, empty_bench):
    with open_bench(empty_bench(tmp_path / "own.bench")) as made:
        yield made


@pytest.mark.parametrize("polymer", start_polymers())
def test_every_polymer_gives_a_first_look_of_an_evening(bench, polymer):
    trial = start_trial(bench, StartInputs(**ANSWERS, polymer=polymer, melt_zone_mm=14.0))
    plan, spec = trial.plan, trial.spec
    material = bench.material(spec.material)
    assert 12 <= len(plan.coupons) <= 45
    assert plan.duration_s <= 3 * 3600
    assert 1 <= len(spec.temperatures_c) <= 3
    for celsius in spec.temperatures_c:
        assert material.min_temperature_c <= celsius <= min(material.max_temperature_c, 285)
    low, high = spec.flows_mm3_s
    assert 0.5 <= low < high / 2


def test_the_default_is_within_two_hours_and_flows_follow_the_melt_zone(bench):
    short = start_trial(bench, StartInputs(**ANSWERS, melt_zone_mm=10.0))
    long = start_trial(bench, StartInputs(**ANSWERS | {"rig": "Long"}, melt_zone_mm=25.0))
    assert short.plan.duration_s <= 2.2 * 3600
    assert long.spec.flows_mm3_s[1] > 1.8 * short.spec.flows_mm3_s[1]
    assert [m.name for m in bench.materials()] == ["PLA, generic"]
    assert bench.rig("Long").hot_end.melt_zone_mm == 25.0


def test_a_melt_zone_that_is_not_known_stays_unknown(bench):
    trial = start_trial(bench, StartInputs(**ANSWERS))
    assert bench.rig("Own printer").hot_end.melt_zone_mm is None
    assert trial.spec.question == "How much PLA can Own printer melt?"


def test_a_limit_below_the_polymer_and_a_name_taken_are_refused_and_nothing_stored(bench):
    cold = ANSWERS | {"temperature_limit_c": 150}
    with pytest.raises(InputError, match=r"the limit of 150 °C lies below what PLA, generic needs"):
        start_trial(bench, StartInputs(**cold))
    tiny = ANSWERS | {"reach_mm": (5, 5, 250)}
    with pytest.raises(BeadworthError):
        start_trial(bench, StartInputs(**tiny))
    assert (bench.rigs(), bench.materials(), bench.trials()) == ([], [], [])
    start_trial(bench, StartInputs(**ANSWERS))
    with pytest.raises(ConflictError, match="a rig called 'Own printer' is on the bench already"):
        start_trial(bench, StartInputs(**ANSWERS))
    assert len(bench.trials()) == 1
