"""Every coupon program is replayed by a small interpreter that shares no code with the writer."""

import hashlib
import json
import math
import re
from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadworth.core.errors import LimitError, NotFoundError
from beadworth.material import Material
from beadworth.rig import (
    AxisLimits,
    BuildVolume,
    Extruder,
    HotEnd,
    Motion,
    Rig,
    Toolhead,
)
from beadworth.trial.programs.layout import cells_per_plate
from beadworth.trial.programs.program import coupon_programs, program_summary
from beadworth.trial.record import Budget, Coupon, Plan, TrialSpec

GOLDEN = Path(__file__).parent / "golden" / "coupon_program_header.txt"
# What common desktop printers share; written out here, not taken from the writer.
ACCEPTED = json.loads(
    '["G0","G1","G4","G21","G28","G90","G92","M0","M82","M83","M84",'
    '"M104","M106","M107","M109","M140","M190"]'
)
HEATER_BLOCK_MM = 15.0
ASSUMED_ACCELERATION = 500.0


# --- the interpreter -------------------------------------------------------------------------


@dataclass
class Move:
    start: tuple
    end: tuple
    e: float
    feed: float
    coupon: str | None
    nozzle_c: float
    waited: bool
    dwelled_s: float
    """Dwell since the last change of nozzle temperature."""


@dataclass
class Replay:
    moves: list = field(default_factory=list)
    words: list = field(default_factory=list)
    hottest: float = 0.0
    nozzle: float = 0.0
    bed: float = 0.0
    fan: float = 0.0
    motors: bool = True
    pauses: int = 0
    ended: list = field(default_factory=list)
    """(coupon, number of moves before it was finished)."""


def replay(text):
    """Run plain G-code: relative E, absolute millimetres, feed in mm/min."""
    out, at, feed, coupon, waited, dwelled = Replay(), [None] * 3, None, None, False, 0.0
    for line in text.splitlines():
        code, _, comment = line.partition(";")
        mark = re.fullmatch(r"coupon (\S+) (begins|ends)", comment.strip())
        if mark:
            coupon = mark[1] if mark[2] == "begins" else None
            if coupon is None:
                out.ended.append((mark[1], len(out.moves)))
        if not code.strip():
            continue
        word, *rest = code.split()
        got = {part[0]: float(part[1:]) for part in rest}
        out.words.append(word)
        if word == "G28":
            at = [0.0, 0.0, 0.0]
        elif word in ("G0", "G1"):
            feed = got.get("F", feed)
            end = [got.get(axis, old) for axis, old in zip("XYZ", at, strict=True)]
            out.moves.append(
                Move(
                    tuple(at),
                    tuple(end),
                    got.get("E", 0.0),
                    feed / 60,
                    coupon,
                    out.nozzle,
                    waited,
                    dwelled,
                )
            )
            at = end
        elif word == "G4":
            dwelled += got["P"] / 1000
        elif word in ("M104", "M109"):
            out.nozzle, waited, dwelled = got["S"], word == "M109", 0.0
            out.hottest = max(out.hottest, out.nozzle)
        elif word in ("M140", "M190"):
            out.bed = got["S"]
        elif word == "M106":
            out.fan = got["S"]
        elif word == "M107":
            out.fan = 0
        elif word == "M84":
            out.motors = False
        elif word == "M0":
            out.pauses += 1
        else:
            assert word in ("G21", "G90", "M83"), word
    return out


def coupon_moves(run):
    made = {}
    for move in run.moves:
        if move.coupon:
            made.setdefault(move.coupon, []).append(move)
    return made


# --- plans and rigs --------------------------------------------------------------------------

MATERIAL = Material(
    name="PLA, grey",
    density_g_cm3=1.24,
    min_temperature_c=190,
    max_temperature_c=260,
    bed_c=60,
    fumes_note="gives off little below 240 °C; ventilate all the same.",
)


def make_rig(name="rig A", x=220.0, y=220.0, z=240.0, **parts):
    given = {
        "hot_end": HotEnd(nozzle_mm=0.4, temperature_limit_c=280, ptfe_in_melt_zone=False),
        "extruder": Extruder(max_feed_mm_s=60, max_acceleration_mm_s2=2000),
        "motion": Motion(
            max_speed_mm_s=AxisLimits(x=200, y=200, z=8),
            max_acceleration_mm_s2=AxisLimits(x=1500, y=1000, z=100),
        ),
    }
    volume = BuildVolume(x_mm=x, y_mm=y, z_mm=z)
    return Rig(name=name, build_volume=volume, **(given | parts))


def make_plan(rigs, temperatures, flows, filament, *, cells, collect="plate"):
    spec = TrialSpec(
        question="Does the longer melt zone lift the ceiling?",
        baseline=rigs[0].name,
        candidate=rigs[1].name if len(rigs) > 1 else None,
        material=MATERIAL.name,
        temperatures_c=tuple(temperatures),
        flows_mm3_s=tuple(flows),
        collect=collect,
    )
    coupons, plate = [], 0
    for number, rig in enumerate(rigs):
        own = [(b, t, f) for b, t in enumerate(temperatures, 1) for f in flows]
        for index, (block, temperature, flow) in enumerate(own):
            plate += index % cells == 0
            coupons.append(
                Coupon(
                    coupon=f"{'AB'[number]}{index + 1:02d}",
                    rig=rig.name,
                    temperature_c=temperature,
                    flow_mm3_s=flow,
                    filament_mm=filament,
                    replicate=1,
                    reference=flow == min(flows),
                    order=len(coupons) + 1,
                    block=block,
                    plate=plate,
                )
            )
    digest = hashlib.sha256(repr(coupons).encode()).hexdigest()
    total = filament * len(coupons)
    return Plan(
        spec=spec,
        coupons=tuple(coupons),
        budget=Budget((), 0.005, math.inf, 1.96, 0.0098),
        power=None,
        filament_mm=filament,
        replicates=1,
        references_per_block=1,
        total_filament_mm=total,
        total_mass_g=total * 0.003,
        duration_s=0.0,
        plates=plate,
        notes=(),
        digest=digest,
    )


# --- what every program must keep ------------------------------------------------------------


def check_limits(program, rig, material=MATERIAL):
    run = replay(program.text)
    axes, top = rig.motion.max_speed_mm_s, rig.build_volume
    assert set(run.words) <= set(ACCEPTED)
    assert run.hottest <= min(rig.hot_end.temperature_limit_c, material.max_temperature_c)
    assert run.hottest == program.highest_temperature_c
    for move in run.moves:
        for value, most in zip(move.end, (top.x_mm, top.y_mm, top.z_mm), strict=True):
            assert 0 <= value <= most
        length = math.dist(move.start, move.end)
        if length:
            for a, b, fastest in zip(move.start, move.end, (axes.x, axes.y, axes.z), strict=True):
                assert move.feed * abs(b - a) / length <= fastest * 1.001
            seconds = length / move.feed
        else:
            seconds = abs(move.e) / move.feed if move.e else math.inf
        assert abs(move.e) / seconds <= rig.extruder.max_feed_mm_s * 1.001
        if move.e:
            assert move.nozzle_c >= material.min_temperature_c
            assert move.waited
    # the end: everything off, motors let go, nothing after
    assert (run.nozzle, run.bed, run.fan, run.motors) == (0, 0, 0, False)
    last_e = max(i for i, w in enumerate(run.words) if w in ("G1",))
    assert "M104" in run.words[last_e:], "heaters go off after the last extrusion"
    return run


def check_coupons(run, program, rig):
    """Filament exact, temperature soaked, every piece at the plan's flow."""
    section = math.pi / 4 * rig.filament_diameter_mm**2
    made = coupon_moves(run)
    assert list(made) == [c.coupon for c in program.coupons]
    for coupon in program.coupons:
        moves = made[coupon.coupon]
        assert sum(m.e for m in moves) == pytest.approx(coupon.filament_mm, rel=1e-4, abs=0)
        assert {m.nozzle_c for m in moves} == {coupon.temperature_c}
        assert all(m.dwelled_s >= 120 for m in moves), "soaked after the last change"
        seconds = [(math.dist(m.start, m.end) or m.e) / m.feed for m in moves]
        flows = [m.e * section / s for m, s in zip(moves, seconds, strict=True)]
        np.testing.assert_allclose(flows, coupon.flow_mm3_s, rtol=1e-3)


def check_coils(run, program, rig):
    """Free fall, steady circle, and no finished coupon struck; back to front."""
    section = math.pi / 4 * rig.filament_diameter_mm**2
    motion, head = rig.motion, rig.toolhead
    axes = motion.max_acceleration_mm_s2
    acceleration = min(axes.x, axes.y) if axes else ASSUMED_ACCELERATION
    block = min(HEATER_BLOCK_MM, head.radius_mm)
    ends, of = dict(run.ended), defaultdict(list)
    for move in run.moves:
        of[move.coupon].append(move)
    rows = []
    for coupon in program.coupons:
        moves = of[coupon.coupon]
        points = np.array([moves[0].start] + [m.end for m in moves])
        length = sum(math.dist(m.start, m.end) for m in moves)
        strand = math.sqrt(4 / math.pi * coupon.filament_mm * section / length)
        centre = (points[:73, :2].min(0) + points[:73, :2].max(0)) / 2
        if np.ptp(points[:, 2]) < strand:  # less than a turn: the circle is not closed
            continue
        radius = np.hypot(*(points[:, :2] - centre).T)
        assert np.ptp(radius) < 0.05
        speed = moves[0].feed
        assert speed**2 / radius.mean() <= acceleration * 1.01
        # stand-off and climb: at least one strand diameter to the bed and to the turn below
        assert points[0, 2] >= 2 * strand * 0.999
        turns = np.unwrap(np.arctan2(*(points[:, :2] - centre).T[::-1])) / (2 * math.pi)
        climb = np.ptp(points[:, 2]) / abs(turns[-1] - turns[0])
        assert climb >= strand * 0.998
        rows.append((centre, radius.mean() + strand / 2, points[-1, 2], ends[coupon.coupon]))
    path = np.array([[*m.start] for m in run.moves] + [run.moves[-1].end])
    for centre, outside, height, end in rows:
        a, b = path[end:-1], path[end + 1 :]
        for share in np.linspace(0, 1, 9):  # sampled along every later move
            at = a + share * (b - a)
            away = np.hypot(*(at[:, :2] - centre).T) - outside
            assert not ((away < block - 0.01) & (at[:, 2] < height - 1e-6)).any()
            low_head = at[:, 2] + head.height_mm < height - 1e-6
            assert not ((away < head.radius_mm - 0.01) & low_head).any()
    ys = [row[0][1] for row in rows]
    assert all(b <= a + 0.1 for a, b in pairwise(ys))


def check_all(plan, rigs, material=MATERIAL, collect=None):
    made = coupon_programs(plan, {r.name: r for r in rigs}, material, collect=collect)
    assert len({p.name for p in made}) == len(made)
    assert sorted(c.order for p in made for c in p.coupons) == [c.order for c in plan.coupons]
    for program in made:
        rig = next(r for r in rigs if r.name == program.rig)
        run = check_limits(program, rig, material)
        check_coupons(run, program, rig)
        if program.collect == "plate":
            check_coils(run, program, rig)
            assert run.pauses == 0
        else:
            assert run.pauses == 2 * len(program.coupons) - 1
            waiting = {m.end for m in run.moves if m.coupon}
            ((_, y, z),) = waiting
            assert y == 0, "over the front edge"
            assert z >= 40
    return made


@given(
    st.floats(140, 400),
    st.floats(140, 400),
    st.floats(120, 300),
    st.sampled_from([0.4, 0.6, 0.8]),
    st.sampled_from([1.75, 2.85]),
    st.floats(20, 70),
    st.floats(4, 50),
    st.lists(st.integers(195, 255), min_size=1, max_size=2, unique=True),
    st.lists(st.integers(2, 24), min_size=2, max_size=3, unique=True),
    st.integers(80, 700),
    st.sampled_from(["plate", "catch"]),
)
@settings(deadline=None, max_examples=25)
def test_no_random_rig_or_plan_leaves_its_limits(
    x, y, z, nozzle, diameter, radius, height, temperatures, flows, filament, collect
):
    rig = make_rig(
        x=x,
        y=y,
        z=z,
        filament_diameter_mm=diameter,
        hot_end=HotEnd(nozzle_mm=nozzle, temperature_limit_c=280, ptfe_in_melt_zone=False),
        toolhead=Toolhead(radius_mm=radius, height_mm=height),
    )
    try:
        cells = cells_per_plate(rig, filament_mm=filament, highest_flow_mm3_s=max(flows))
        plan = make_plan([rig], temperatures, flows, filament, cells=cells, collect=collect)
        check_all(plan, [rig])
    except LimitError:  # a refusal is an answer; what is written must hold
        return


def test_two_rigs_and_many_plates():
    one = make_rig("rig A")
    two = make_rig(
        "rig B", hot_end=HotEnd(nozzle_mm=0.6, temperature_limit_c=300, ptfe_in_melt_zone=False)
    )
    plan = make_plan([one, two], [210, 230], [4, 10, 16, 22], 400, cells=5)
    made = check_all(plan, [one, two])
    assert [p.rig for p in made] == ["rig A", "rig A", "rig B", "rig B"]
    assert [len(p.coupons) for p in made] == [5, 3, 5, 3]


def test_tall_coupons_on_a_low_toolhead_are_never_struck():
    rig = make_rig(toolhead=Toolhead(radius_mm=50, height_mm=4))
    cells = cells_per_plate(rig, filament_mm=800, highest_flow_mm3_s=16)
    plan = make_plan([rig], [220], [4, 16], 800, cells=cells)
    (program, *_) = check_all(plan, [rig])
    assert {row.column for row in program.table} == {1}
    assert min(row.height_mm for row in program.table) > 4


def test_collecting_another_way_than_planned_splits_anew():
    rig = make_rig()
    plan = make_plan([rig], [210, 220], list(range(2, 24)), 600, cells=44, collect="catch")
    cells = cells_per_plate(rig, filament_mm=600, highest_flow_mm3_s=23)
    caught = check_all(plan, [rig])
    laid = check_all(plan, [rig], collect="plate")
    assert [len(p.coupons) for p in caught] == [22, 22]
    assert len(laid) == -(-44 // cells)
    assert max(len(p.coupons) for p in laid) == cells


def test_a_fall_in_temperature_gets_time_to_cool():
    rig = make_rig()
    plan = make_plan([rig], [240, 210], [4, 10], 200, cells=4)
    (program,) = check_all(plan, [rig])
    lines = program.text.splitlines()
    at = lines.index("M109 S210")
    waits = [float(w[4:]) / 1000 for w in lines[at : at + 5] if w.startswith("G4 P")]
    assert sum(waits) >= 30 / 0.5 + 120, "half a degree per second, then the soak"


# --- refusals --------------------------------------------------------------------------------


def refused(plan, rigs, **more):
    with pytest.raises(LimitError) as caught:
        coupon_programs(plan, {r.name: r for r in rigs}, MATERIAL, **more)
    return str(caught.value), caught.value.problems


def test_all_refusals_come_at_once():
    rig = make_rig(
        hot_end=HotEnd(temperature_limit_c=250, ptfe_in_melt_zone=True),
        extruder=Extruder(max_feed_mm_s=6, max_acceleration_mm_s2=2000),
    )
    plan = make_plan([rig], [210, 245, 270], [4, 10, 18], 300, cells=60)
    text, problems = refused(plan, [rig])
    for part in (
        "270 °C is above the hot end's limit of 250 °C",
        "270 °C is above what PLA, grey may see, 260 °C",
        "245 °C is above 240 °C and a PTFE liner reaches the melt zone",
        "common practice, no source",
        "18 mm³/s feeds filament at 7.48 mm/s; the extruder turns 6 mm/s at most",
    ):
        assert part in text
    assert len(problems) == 5
    assert all(p.where and p.remedy for p in problems)


def test_an_unrecorded_liner_is_refused_above_240_only():
    rig = make_rig(hot_end=HotEnd(temperature_limit_c=280))
    text, _ = refused(make_plan([rig], [241], [4, 8], 200, cells=9), [rig])
    assert "it is not recorded whether a PTFE liner" in text
    assert coupon_programs(make_plan([rig], [240], [4, 8], 200, cells=9), {rig.name: rig}, MATERIAL)


def test_unknown_volume_and_temperature_limit_name_their_fields():
    rig = Rig(name="bare")
    text, _ = refused(make_plan([rig], [210], [4, 8], 200, cells=9), [rig])
    assert "build_volume.x_mm, build_volume.y_mm and build_volume.z_mm" in text
    assert "hot_end.temperature_limit_c" in text


def test_a_plate_that_holds_too_many_is_refused():
    rig = make_rig(x=130, y=130)
    text, _ = refused(make_plan([rig], [210], list(range(2, 20)), 600, cells=18), [rig])
    assert re.search(r"plate 1 holds 18 coupons, but the bed of rig A has room for \d+\.", text)


def test_a_coupon_too_short_to_be_steady_is_refused():
    rig = make_rig(extruder=Extruder(max_feed_mm_s=60, max_acceleration_mm_s2=20))
    text, _ = refused(make_plan([rig], [210], [4, 20], 100, cells=9), [rig])
    assert "of a coupon of 100 mm to rise and fall; at most 2 % may be unsteady" in text


def test_a_corner_rule_that_brakes_the_circle_is_refused():
    rig = make_rig(
        motion=Motion(
            max_speed_mm_s=AxisLimits(x=200, y=200, z=8),
            max_acceleration_mm_s2=AxisLimits(x=1000, y=1000, z=100),
            corner_step_mm_s=AxisLimits(x=0.05, y=0.05, z=0.05),
        )
    )
    text, _ = refused(make_plan([rig], [210], [4, 20], 300, cells=4), [rig])
    assert "braked at every joint" in text


def test_a_rig_that_was_not_given_is_named():
    rig = make_rig()
    with pytest.raises(NotFoundError, match="'rig A'"):
        coupon_programs(make_plan([rig], [210], [4, 8], 200, cells=9), {}, MATERIAL)


# --- what a person reads ---------------------------------------------------------------------


def small_program():
    rig = make_rig("Workshop rig, stock hot end")
    plan = make_plan([rig], [210, 220], [4, 12], 600, cells=9)
    (program,) = coupon_programs(plan, {rig.name: rig}, MATERIAL)
    return program


def test_the_head_of_a_program_says_what_it_will_do():
    text = small_program().text
    head = text[: text.index("\nG21\n") + 1]
    assert head == GOLDEN.read_text(encoding="utf-8")
    assert text.isascii()
    assert max(len(line) for line in text.splitlines()) <= 96


def test_summary_is_json_with_every_coupon():
    program = small_program()
    summary = json.loads(json.dumps(program_summary(program)))
    assert summary["coupons"] == len(summary["table"]) == 4
    assert summary["highest_temperature_c"] == 220
    assert summary["filament_mm"] == pytest.approx(4 * (600 + 40), abs=0.01)
    assert {"coupon", "flow_mm3_s", "row", "column", "speed_mm_s"} <= set(summary["table"][0])


def test_stated_duration_is_the_sum_of_its_parts():
    # By hand for one flow of 4 mm³/s: 600 mm is 1443.2 mm³ or 360.8 s; two such coupons and two
    # at 12 (120.3 s) make 962.2 s; purges of 40 mm 24.1 s and 8.0 s, 64.1 s; soaks 2 x 180 and
    # settles 2 x 10; nozzle 185/2 + 10/2, bed 35/0.25, homing 30, cooling 300. Travel is extra.
    parts = 962.2 + 64.1 + 380 + 92.5 + 5 + 140 + 30 + 300
    assert parts / 60 < small_program().minutes < parts / 60 + 2
