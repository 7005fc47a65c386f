"""Ceilings of rigs that nobody weighed: predicted, and what two predictions have in common."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from beadworth.core import InputError
from beadworth.material import generic
from beadworth.melt import MeasuredCeiling, calibrate, in_common, predict
from beadworth.rig import Extruder, HotEnd, Motion, Rig
from beadworth.worth import (
    Sources,
    ask,
    case_from_mapping,
    option_effect,
    with_interval,
    work_out,
)
from beadworth.worth.predicted import PredictedCeilings, common_share

PLA = generic("PLA")
HEAD = HotEnd(melt_zone_mm=12.5, bore_mm=2.0, nozzle_mm=0.4)
STOCK = Rig(
    name="stock", hot_end=HEAD, extruder=Extruder(drive="direct"),
    motion=Motion(
        max_speed_mm_s={"x": 500.0, "y": 500.0, "z": 20.0},
        max_acceleration_mm_s2={"x": 5000.0, "y": 5000.0, "z": 500.0},
    ),
)  # fmt: skip
LONG = STOCK.model_copy(
    update={"name": "long", "hot_end": HEAD.model_copy(update={"melt_zone_mm": 20.0}),
            "price": 50.0, "currency": "EUR"}
)  # fmt: skip


def taught_scales():
    return calibrate(STOCK, PLA, [MeasuredCeiling(c, f, 0.2) for c, f in ((200, 9), (220, 12))])


def known_rig(name):
    return {"stock": STOCK, "long": LONG}[name]


def predicted(asked):
    return PredictedCeilings(asked.rig, generic(asked.material), asked.loss)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A print of long lines at 30 mm³/s, more than either hot end gives."""
    made = tmp_path_factory.mktemp("prints")
    feed, area = 30.0 / 0.1, 0.1
    lines = ["G21", "G90", "M83", "M104 S220", "G1 X0 Y0 Z0.2 F6000"]
    for n in range(60):
        x = 100.0 * ((n + 1) % 2)
        lines.append(f"G1 X{x:.3f} E{100.0 * area / 2.405:.5f} F{feed * 60:.0f}")
    (made / "a.gcode").write_text("\n".join(lines) + "\n")
    return made


def worked_out(folder, predicts=predicted, material="PLA"):
    one = {"file": "a.gcode", "per_year": 500.0} | ({"material": material} if material else {})
    case = case_from_mapping(
        {"name": "c", "baseline": "stock", "candidate": "long", "prints": [one]}, "case"
    )
    sources = Sources(known_rig, None, lambda use: folder / use.file, lambda _: None, predicts)
    asked = ask(case, sources)
    return asked, work_out(asked)


def test_what_a_predicted_upgrade_saves_reads_the_same_among_the_options(folder):
    """Skewed: a prediction's ceiling is known by its logarithm, and time goes with 1 ÷ ceiling."""
    _, found = worked_out(folder)
    hours, cost = found.worth.hours_saved_per_year, found.worth.cost
    above, below = hours.high - hours.value, hours.value - hours.low
    assert abs(above - below) > 0.1 * (above + below)
    (row,) = (r for r in found.table.rows if r.name == "long")
    assert row.intervals["hours saved"] == hours
    assert row.intervals["cost"] == cost
    assert option_effect(row.effects["hours saved"]) == with_interval(hours)


def test_without_a_trial_ceilings_are_predicted_and_said_to_be(folder):
    asked, found = worked_out(folder)
    (times,) = asked.prints
    for side, rig in ((times.baseline, STOCK), (times.candidate, LONG)):
        own = predict(rig, PLA, 220.0)
        assert side.predicted
        assert side.group == f"{rig.name} / PLA"
        assert 1.0 / np.array(side.slowness) == pytest.approx(
            [own.at_loss_low, own.at_loss_mm3_s, own.at_loss_high], rel=1e-6
        )
        assert f"{own.at_loss_mm3_s:.1f} mm³/s ({own.at_loss_low:.1f} to " in side.notes[0]
        assert side.notes[0].startswith("nobody weighed it; its ceiling with PLA is predicted")
    # flow is the wall; two drawings do not say for certain that the longer zone gives more
    hours = found.worth.hours_saved_per_year
    assert hours.low < 0 < hours.value < hours.high
    own = next(row for row in found.table.rows if row.name == "long")
    assert own.effects["hours saved"].evidence == "predicted"
    assert own.effects["hours saved"].source == "replayed under predicted ceilings"


def test_what_both_predictions_may_be_off_by_leaves_the_gain(folder):
    """Drawn apart, the saving would hang on two drawings that might each be off by half."""
    asked, _ = worked_out(folder)
    (times,) = asked.prints
    assert times.baseline.common == times.candidate.common > 0.5

    def share(of):
        hours = work_out(of).worth.hours_saved_per_year
        return (hours.high - hours.low) / hours.value

    apart = replace(
        asked,
        prints=(
            replace(
                times,
                baseline=replace(times.baseline, common=0.0),
                candidate=replace(times.candidate, common=0.0),
            ),
        ),
    )
    assert share(asked) < 0.8 * share(apart)


def test_the_common_part_is_what_drawing_both_from_the_same_inputs_gives():
    """The correlation by shares of variance, against paired draws of all inputs."""
    from beadworth.melt.ceilings import ceiling_mm3_s
    from beadworth.melt.channel import channel_of
    from beadworth.melt.prediction import INPUTS, _ceilings, _unknowns
    from beadworth.melt.scales import Scales, grip_of
    from beadworth.melt.terms import ALL

    sides = [PredictedCeilings(rig, PLA, 0.02) for rig in (STOCK, LONG)]
    for side in sides:
        side(220.0)
    part = in_common(STOCK, LONG, same_material=True)
    rng = np.random.default_rng(3)
    normals = [rng.standard_normal((len(INPUTS), 1500)) for _ in range(3)]
    from beadworth.melt.narrowing import NAMES

    weights = np.array([part[name] for name in NAMES])[:, None]
    logs = []
    for rig, own in ((STOCK, normals[1]), (LONG, normals[2])):
        _, values = _unknowns(rig, PLA, 1500, rng)
        scale = {name: values[name].std() for name in INPUTS}
        mixed = np.sqrt(weights) * normals[0] + np.sqrt(1.0 - weights) * own
        drawn = {name: scale[name] * row for name, row in zip(INPUTS, mixed, strict=True)}
        channel, _ = channel_of(rig)
        grip, _ = grip_of(rig)
        guess = ceiling_mm3_s(channel, PLA, 220.0, grip, Scales(), ALL)
        logs.append(np.log(_ceilings(channel, PLA, 220.0, grip, drawn, guess, ALL)))
    assert common_share(*sides) == pytest.approx(float(np.corrcoef(logs)[0, 1]), abs=0.1)


def test_parts_of_their_own_have_nothing_in_common():
    other = LONG.model_copy(
        update={"extruder": Extruder(drive="bowden"),
                "hot_end": LONG.hot_end.model_copy(update={"nozzle_mm": 0.8})}
    )  # fmt: skip
    same = in_common(STOCK, STOCK, same_material=True)
    assert set(same.values()) == {1.0}
    apart = in_common(STOCK, other, same_material=False)
    assert set(apart.values()) == {0.0}
    half = in_common(STOCK, LONG, same_material=True)
    assert half["grip of the drive"] == 1.0
    assert half["heat-up of the hot end"] == 0.0
    # 0.15 between two hot ends beside 0.22 in all: half of its square is each one's own
    assert half["the model itself"] == pytest.approx(1 - 0.15**2 / 2 / 0.22**2)


def test_a_trial_of_the_other_rig_narrows_the_prediction():
    scales = taught_scales()
    alone, taught = PredictedCeilings(LONG, PLA, 0.02), PredictedCeilings(LONG, PLA, 0.02, scales)
    wide, narrow = alone(220.0), taught(220.0)
    assert narrow.high / narrow.low < 0.8 * wide.high / wide.low


def test_what_is_missing_for_a_prediction_is_said(folder):
    asked, _ = worked_out(folder, material=None)
    (times,) = asked.prints
    assert times.baseline.bound == "none"
    assert "name the material of the print" in times.baseline.notes[0]

    def lacking(asked):
        raise InputError("the bore is not recorded.", "hot_end.bore_mm", None, "Measure it.")

    asked, _ = worked_out(folder, lacking)
    (times,) = asked.prints
    assert times.candidate.notes[0] == (
        "nobody weighed it, and it cannot be predicted: the bore is not recorded"
    )
    assert math.isfinite(times.candidate.time_s)


def test_one_rig_under_its_ceiling_is_not_held_against_one_without(folder):
    def one_only(asked):
        if asked.rig is LONG:
            raise InputError("the bore is not recorded.", "hot_end.bore_mm", None, "Measure it.")
        return predicted(asked)

    with pytest.raises(InputError) as refused:
        worked_out(folder, one_only)
    assert "the ceiling of stock is known and that of long is not" in str(refused.value)
    assert "cannot be predicted: the bore is not recorded" in str(refused.value)


def test_a_hot_end_too_cold_for_the_polymer_gives_no_ceiling():
    for scales in (None, taught_scales()):
        assert PredictedCeilings(STOCK, PLA, 0.02, scales)(60.0) is None
