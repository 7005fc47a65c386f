"""Predicted ceilings: trade facts, published hot ends in direction, calibration, refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import fewest, some

from beadworth.core.errors import InputError
from beadworth.material import Rheology
from beadworth.material.library import GENERIC, generic
from beadworth.melt import MeasuredCeiling, Scales, calibrate, predict, state_at
from beadworth.melt.channel import channel_of
from beadworth.melt.scales import carried
from beadworth.melt.state import heat_ceiling_mm3_s, push_of
from beadworth.rig import Extruder, HotEnd, Known, Rig

PLA = generic("pla")


def rig(zone=20.0, bore=2.0, nozzle=0.4, grip=None):
    return Rig(
        name="r",
        hot_end=HotEnd(melt_zone_mm=zone, bore_mm=bore, nozzle_mm=nozzle),
        extruder=Extruder(grip_force_n=grip),
    )


# Common practice, no source: a 20 mm melt zone with PLA. The generic PLA's softening was set to
# these three, so this guards the model and its library together, not the model alone.
@pytest.mark.parametrize(("temperature", "ceiling"), [(210, 13.0), (220, 14.5), (230, 16.0)])
def test_common_practice_ceilings_of_a_20_mm_zone(temperature, ceiling):
    got = predict(rig(), PLA, temperature, draws=50).ceiling_mm3_s
    assert got == pytest.approx(ceiling, abs=0.5)


def test_constant_properties_give_the_plug_flow_closed_form():
    # Check values, section 3: α = 0.13/(1240·1800) m²/s, L 12.5 mm, 220 °C wall, 25 °C in,
    # softening 150 °C: F* 0.258441, Q 8.850 mm³/s (CALC)
    material = PLA.model_copy(
        update={
            "conductivity_w_mk": 0.13,
            "specific_heat_j_gk": 1.8,
            "specific_heat_slope": None,
            "softening_c": 150.0,
        }
    )
    bare = rig(zone=12.5)
    from beadworth.melt.heat import march, properties_of

    run = march(properties_of(material), wall_c=220, inlet_c=25, cells=160, rows=640)
    xi = float(np.interp(150.0, run.core, run.xi))
    assert xi * 0.13 / (1240 * 1800) == pytest.approx(0.258441, rel=1e-4)
    assert np.pi * 12.5e-3 / xi * 1e9 == pytest.approx(8.850, rel=0, abs=2e-3)
    assert channel_of(bare)[0].melt_zone_mm == 12.5
    # with the default contact resistance and grid the answer stays within 4 % below
    assert heat_ceiling_mm3_s(bare, material, 220, Scales()) == pytest.approx(8.85, rel=0.04)


def test_interval_holds_the_estimate_and_narrows_with_calibration():
    before = predict(rig(), PLA, 220)
    measured = [MeasuredCeiling(t, q, 0.2) for t, q in ((210, 12.4), (220, 13.9), (230, 15.2))]
    scales = calibrate(rig(), PLA, measured)
    after = predict(rig(), PLA, 220, scales=scales)
    assert before.low < before.ceiling_mm3_s < before.high
    assert after.high - after.low < 0.6 * (before.high - before.low)
    assert after.ceiling_mm3_s == pytest.approx(13.9, abs=0.3)


def test_calibration_recovers_a_known_truth():
    truth = Scales(diffusivity=1.13, softening_shift_c=-7.0)
    measured = [
        MeasuredCeiling(t, heat_ceiling_mm3_s(rig(), PLA, t, truth), 1e-3)
        for t in (205, 215, 225, 235)
    ]
    got = calibrate(rig(), PLA, measured)
    assert got.diffusivity == pytest.approx(1.13, rel=1e-3)
    assert got.softening_shift_c == pytest.approx(-7.0, abs=0.05)
    other = rig(zone=30.0)
    assert heat_ceiling_mm3_s(other, PLA, 220, got) == pytest.approx(
        heat_ceiling_mm3_s(other, PLA, 220, truth), rel=1e-3
    )


def width(scales, temperature=220, polymer="PLA", **changed):
    """Relative width of the 95 % interval."""
    got = predict(rig(**changed), generic(polymer), temperature, scales=scales)
    return (got.high - got.low) / got.ceiling_mm3_s


def test_calibrated_intervals_widen_with_every_step_away_from_the_trial():
    measured = [MeasuredCeiling(t, q, 0.2) for t, q in ((210, 12.4), (220, 13.9), (230, 15.2))]
    scales = calibrate(rig(), PLA, measured)
    here = width(scales)
    assert here < 3.92 * 0.2 / 13.9, "at its own temperature no wider than the trial itself"
    assert here < width(scales, 240) < width(scales, 195) < width(None, 195)
    assert here == pytest.approx(width(scales, nozzle=0.6)), "heat limits: a nozzle changes nothing"
    longer = width(scales, zone=30.0)
    assert 2 * here < longer < 0.7 * width(None, zone=30.0)
    other = width(scales, 240, "PETG")
    assert longer < other < 1.05 * width(None, 240, "PETG")
    assert width(scales, 240, "PETG", zone=30.0) == width(None, 240, "PETG", zone=30.0), (
        "another polymer in another hot end: nothing was learned of either"
    )


def test_one_temperature_fixes_the_ceiling_there_and_leaves_the_rest_open():
    scales = calibrate(rig(), PLA, [MeasuredCeiling(220, 12.0, 0.1)])
    got = predict(rig(), PLA, 220, scales=scales)
    assert got.ceiling_mm3_s == pytest.approx(12.0, abs=0.1)
    assert got.high - got.low < 3.92 * 0.1 * 1.25
    assert 0.03 < width(scales) < 0.6 * width(scales, 200)


def test_what_is_carried_splits_what_was_learned_between_polymer_and_hot_end():
    scales = calibrate(rig(), PLA, [MeasuredCeiling(220, 12.0, 0.1)])
    assert scales.diffusivity < 1
    polymer, hot_end = (
        carried(scales, *pair) for pair in ((rig(zone=30.0), PLA), (rig(), generic("PETG")))
    )
    together = np.log(polymer.diffusivity) + np.log(hot_end.diffusivity)
    assert together == pytest.approx(np.log(scales.diffusivity))
    assert abs(np.log(polymer.diffusivity)) > abs(np.log(hot_end.diffusivity)), "of the less sure"
    assert polymer.softening_shift_c + hot_end.softening_shift_c == pytest.approx(
        scales.softening_shift_c
    )
    assert (polymer.hot_end_known, hot_end.hot_end_known) == (False, True)


def test_intervals_carried_to_another_part_hold_the_truth_as_often_as_they_say():
    """Drawn worlds: polymer and hot ends off by what is assumed of them, a trial on one part."""
    rng = np.random.default_rng(5)
    temperatures, inside = (205.0, 220.0, 235.0), 0

    def truth(zone, celsius, polymer, hot_end):
        """A part whose length, contact and wall are not what its record says."""
        length, contact, wall = hot_end
        return heat_ceiling_mm3_s(
            rig(zone=zone * length), PLA, celsius + wall, polymer, contact_factor=contact
        )

    worlds = some(40, long=120)
    for _ in range(worlds):
        polymer = Scales(np.exp(0.12 * rng.standard_normal()), 5.0 * rng.standard_normal())
        first, second = (
            (1 + 0.05 * a, np.exp(0.6 * b), 2.0 * c) for a, b, c in rng.standard_normal((2, 3))
        )
        measured = [
            MeasuredCeiling(t, truth(20.0, t, polymer, first) + 0.15 * rng.standard_normal(), 0.15)
            for t in temperatures
        ]
        got = predict(rig(zone=30.0), PLA, 215.0, scales=calibrate(rig(), PLA, measured), draws=400)
        inside += got.low <= truth(30.0, 215.0, polymer, second) <= got.high
    assert inside >= fewest(worlds)


def test_uncertainties_of_the_record_make_the_interval():
    def known(path, u):
        return rig(nozzle=0.25, grip=8.0).model_copy(
            update={"known": {path: Known(u=u, origin="measured")}}
        )

    def wide(one, celsius=220):
        got = predict(one, PLA, celsius, draws=400)  # a weak drive's take a millisecond each
        return got.high - got.low

    strong = rig()
    sure, unsure = (
        strong.model_copy(update={"known": {"hot_end.melt_zone_mm": Known(u=u, origin="measured")}})
        for u in (0.02, 4.0)
    )
    assert wide(sure) < wide(strong) < wide(unsure)
    assert wide(known("extruder.grip_force_n", 0.2)) < wide(known("extruder.grip_force_n", 4.0))
    assert wide(known("hot_end.bore_mm", 0.4)) != wide(known("hot_end.bore_mm", 0.001))


def test_a_weak_drive_is_named_as_the_limit():
    strong = predict(rig(nozzle=0.25, grip=400.0), PLA, 220)
    weak = predict(rig(nozzle=0.25, grip=8.0), PLA, 220, draws=100)
    assert strong.limited_by == "heat"
    assert weak.limited_by == "force"
    assert weak.ceiling_mm3_s < strong.ceiling_mm3_s
    assert weak.force_n == pytest.approx(8.0, rel=0.02)


def test_too_cold_a_wall_is_said():
    got = predict(rig(), PLA, 170, draws=50)
    assert got.ceiling_mm3_s == 0
    assert got.limited_by == "temperature"


def test_unknown_grip_is_asked_for():
    assert any("measure it" in note for note in predict(rig(), PLA, 220, draws=10).notes)


def test_a_temperature_nothing_there_is_made_for_is_said():
    hot_end = HotEnd(melt_zone_mm=20.0, bore_mm=2.0, temperature_limit_c=235.0,
                     ptfe_in_melt_zone=True)  # fmt: skip
    one = Rig(name="r", hot_end=hot_end)
    assert not any("never one to set" in note for note in predict(one, PLA, 230, draws=2).notes)
    said = [n for n in predict(one, PLA, 245, draws=2).notes if "never one to set" in n]
    assert len(said) == 3
    assert "245 °C is above the 235 °C that r is made for" in said[0]
    assert "PTFE" in said[1]
    assert "240 °C that PLA may see" in said[2]


def wide_nozzle():
    """Copied past the record's own refusal, as a caller could."""
    hot_end = rig().hot_end.model_copy(update={"nozzle_mm": 2.0})
    return rig().model_copy(update={"hot_end": hot_end})


def test_refusals_name_every_field():
    with pytest.raises(InputError) as caught:
        predict(Rig(name="r"), PLA, 220)
    assert [p.where for p in caught.value.problems] == [
        "rig r, field hot_end.melt_zone_mm",
        "rig r, field hot_end.bore_mm",
    ]
    with pytest.raises(InputError, match=r"not narrower than the bore \(2 mm\)"):
        predict(wide_nozzle(), PLA, 220)


@settings(max_examples=25, deadline=None)
@given(st.floats(8, 60), st.floats(1.6, 3.0), st.floats(200, 290), st.sampled_from(sorted(GENERIC)))
def test_longer_and_hotter_melt_zones_deliver_more(zone, bore, temperature, name):
    """Direction of Serdeczny et al., Additive Manufacturing 32 (2020) 100997 (abstract read)."""
    material = GENERIC[name]
    here = heat_ceiling_mm3_s(rig(zone, bore), material, temperature, Scales())
    assert heat_ceiling_mm3_s(rig(zone * 1.3, bore), material, temperature, Scales()) >= here
    assert heat_ceiling_mm3_s(rig(zone, bore), material, temperature + 10, Scales()) >= here


@pytest.mark.parametrize("name", sorted(GENERIC))
def test_every_generic_polymer_can_be_predicted(name):
    material = GENERIC[name]
    got = predict(rig(), material, material.max_temperature_c, draws=100)
    assert 3 < got.ceiling_mm3_s < 40
    assert got.outlet_mean_c <= material.max_temperature_c
    assert material.source


def test_more_flow_comes_out_colder_and_takes_more_force():
    slow, fast = (state_at(rig(), PLA, 220, q) for q in (4, 12))
    assert slow.core_c > fast.core_c
    assert slow.force_n < fast.force_n
    assert slow.power_w < fast.power_w


@pytest.mark.parametrize("name", [n for n, m in sorted(GENERIC.items()) if m.rheology])
def test_push_force_without_the_compiler_is_the_same(name):
    material = GENERIC[name]
    for celsius in (material.min_temperature_c, material.max_temperature_c):
        for flow in (0.02, 0.3, 2.0, 15.0, 60.0):  # from longer than the march to hardly warmed
            for nozzle in (0.2, 0.8):
                one = rig(nozzle=nozzle)
                compiled = state_at(one, material, celsius, flow)
                plain = push_of(channel_of(one)[0], material, celsius, flow)
                assert plain.force_n == pytest.approx(compiled.force_n, rel=1e-9)
                assert plain.core_c == pytest.approx(compiled.core_c, abs=1e-9)
                assert plain.core_is_soft == (compiled.core_c >= material.softening_c)


def test_push_force_without_the_compiler_for_every_kind_of_fluid():
    power = Rheology(kind="power-law", n=0.4, consistency_pa_sn=8000.0, reference_c=230.0)
    cross = Rheology(kind="cross-arrhenius", n=0.3, tau_star_pa=9e4, zero_pa_s=2000.0,
                     reference_c=220.0, activation_j_mol=8e4)  # fmt: skip
    for fluid in (power, cross):
        material = PLA.model_copy(update={"rheology": fluid})
        compiled = state_at(rig(), material, 215.0, 9.0).force_n
        plain = push_of(channel_of(rig())[0], material, 215.0, 9.0)
        assert plain.force_n == pytest.approx(compiled, rel=1e-9)
    bare = PLA.model_copy(update={"rheology": None})
    assert push_of(channel_of(rig())[0], bare, 215.0, 9.0) is None
