"""The compiled account against a plain one that takes move after move."""

import math

import numpy as np
import pytest
from motion_support import lost_time_s
from replay_support import RIG, make_fit

from beadworth.core.quantity import filament_section_mm2
from beadworth.gcode import read
from beadworth.motion import Cause, Limits
from beadworth.replay import columns as at
from beadworth.replay import replay
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.pressure import flow_out
from beadworth.replay.result import CAUSE_WORDS
from beadworth.replay.timeline import blocks

SECTION = filament_section_mm2(RIG.filament_diameter_mm)
LAG_S = RIG.extruder.pressure_lag_s


def some_print(seed, moves):
    """Short beads of changing width and speed over several layers, with dwells and retracts."""
    rng = np.random.default_rng(seed)
    lines = ["G21", "G90", "M83", "M104 S200"]
    x = y = 100.0
    for k in range(moves):
        if k % 97 == 0:
            lines.append(f"G1 Z{0.2 + 0.2 * ((k // 97) % 7):.2f} F600")
        if k % 211 == 0:
            lines += ["G1 E-0.8 F1800", f"G4 P{rng.integers(1, 900)}", "G1 E0.8 F1800"]
        if k % 500 == 250:
            lines.append(f"M104 S{rng.choice([200, 210, 220])}")
        if k % 12 == 0:
            x, y = (float(v) for v in rng.uniform(20, 180, 2))
            lines.append(f"G0 X{x:.3f} Y{y:.3f} F9000")
        length, angle = rng.uniform(0.2, 4.0), rng.uniform(0, 6.28)
        x, y = x + length * math.cos(angle), y + length * math.sin(angle)
        feed = f" F{rng.integers(900, 9000)}" if k % 5 == 0 else ""
        lines.append(f"G1 X{x:.3f} Y{y:.3f} E{length * rng.uniform(0.02, 0.09):.5f}{feed}")
    return "\n".join(lines).encode()


def rows(program, fit):
    """Every move: what it is, when it starts, what it asks for, what comes out."""
    limits = Limits.from_rig(RIG)
    now = before = waited = 0.0
    lost = dict.fromkeys(Cause, 0.0)
    found = []
    for block in blocks(read(program, rig=RIG), limits, Ceilings(fit, SECTION)):
        moves, timing = block.moves, block.timing
        lagged = flow_out(block, SECTION, LAG_S, before)
        pauses = dict.fromkeys(range(len(moves)), 0.0)
        for k, seconds in zip(block.wait_before.tolist(), block.wait_s.tolist(), strict=True):
            if k in pauses:
                pauses[k] += seconds
        before = lagged.after_mm3_s
        for cause, seconds in lost_time_s(moves, timing).items():
            lost[cause] += seconds
        for k in range(len(moves)):
            waited += pauses[k]
            lays = block.kind[k] == at.EXTRUDE and moves.length_mm[k] > 0
            rate = SECTION * moves.filament_mm[k] / moves.length_mm[k] if lays else 0.0
            found.append(
                {
                    "lays": lays,
                    "start": now,
                    "clock": now + waited,
                    "time": float(timing.time_s[k]),
                    "layer": int(block.layer[k]) + 1,
                    "line": int(block.line[k]),
                    "flow": rate * float(timing.peak_mm_s[k]),
                    "volume": SECTION * float(moves.filament_mm[k]),
                    "ceiling": float(block.ceiling_mm3_s[k]),
                    "out": float(lagged.max_mm3_s[k]),
                    "over": float(lagged.over_s[k]),
                    "length": float(moves.length_mm[k]),
                }
            )
            now += float(timing.time_s[k])
    return found, lost


def stretches(found):
    """Stretches over the ceiling, one move after the other."""
    made = []
    stretch = None
    for m in found:
        if not m["lays"]:
            continue
        if m["flow"] > m["ceiling"] * (1 + at.SLACK):
            if stretch and m["clock"] - stretch["end"] > at.GAP_LAGS * LAG_S:
                made.append(stretch)
                stretch = None
            if stretch is None:
                stretch = {
                    "line": m["line"],
                    "beyond": 0.0,
                    "asked": 0.0,
                    "over": 0.0,
                    "out": 0.0,
                    "length": 0.0,
                }
            stretch["end"] = m["clock"] + m["time"]
            stretch["asked"] += m["time"]
            stretch["beyond"] += max(0.0, m["volume"] - m["ceiling"] * m["time"])
            stretch["length"] += m["length"]
        elif not (stretch and m["over"] > 0 and m["clock"] - stretch["end"] <= at.GAP_LAGS * LAG_S):
            continue
        stretch["over"] += m["over"]
        stretch["out"] = max(stretch["out"], m["out"])
    return [*made, stretch] if stretch else made


def stock_drawn(found):
    """Highest draw on the molten stock during each stretch, by its last line; every move told."""
    low = most = clock = 0.0
    last, made = None, {}
    for m in found:
        pause = m["clock"] - clock
        clock = m["clock"] + m["time"]
        low = max(0.0, low - pause * m["ceiling"])
        low = max(0.0, low + (m["volume"] if m["lays"] else 0.0) - m["ceiling"] * m["time"])
        if m["lays"] and m["flow"] > m["ceiling"] * (1 + at.SLACK):
            start = last is None or m["clock"] - last > at.GAP_LAGS * LAG_S
            most = low if start else max(most, low)
            last, made[m["line"]] = clock, most
    return made


@pytest.mark.parametrize(
    ("seed", "moves", "ceiling"), [(1, 300, 9.0), (2, 9000, 7.0), (3, 2500, 30.0)]
)
def test_the_account_is_that_of_a_plain_walk_over_the_moves(seed, moves, ceiling):
    fit = make_fit(((200.0, ceiling), (220.0, 1.4 * ceiling)))
    program = some_print(seed, moves)
    told = replay(program, RIG, fit)
    found, lost = rows(program, fit)
    laying = [m for m in found if m["lays"]]
    total = sum(m["time"] for m in found)
    assert told.time_s - told.dwell_s == pytest.approx(total, rel=1e-12)
    assert told.flow.max_mm3_s == pytest.approx(max(m["flow"] for m in laying), rel=1e-12)
    mean = sum(m["volume"] for m in laying) / sum(m["time"] for m in laying)
    assert told.flow.mean_mm3_s == pytest.approx(mean, rel=1e-12)
    assert told.over_ceiling_s == pytest.approx(sum(m["over"] for m in laying), rel=1e-7, abs=1e-7)
    assert told.commanded_s == pytest.approx(lost[Cause.COMMANDED], rel=1e-9)
    for cause, seconds in lost.items():
        if cause is not Cause.COMMANDED:
            assert told.held_back_s[CAUSE_WORDS[cause]] == pytest.approx(seconds, abs=1e-9 * total)
    means = sorted((m["volume"] / m["time"], m["time"]) for m in laying)
    reached = np.cumsum([time for _, time in means]) / sum(m["time"] for m in laying)
    p99 = means[int(np.searchsorted(reached, 0.99))][0]
    assert told.flow.p99_mm3_s == pytest.approx(p99, abs=2 * at.BIN_MM3_S)


@pytest.mark.parametrize(("seed", "moves"), [(4, 700), (5, 3000)])
def test_layers_and_time_line_are_those_of_a_plain_walk(seed, moves):
    fit = make_fit(((200.0, 8.0), (220.0, 11.0)))
    program = some_print(seed, moves)
    told = replay(program, RIG, fit)
    found, _ = rows(program, fit)
    for layer in told.layers:
        own = [m for m in found if m["layer"] == layer.layer]
        laying = [m for m in own if m["lays"]]
        assert layer.time_s == pytest.approx(sum(m["time"] for m in own), rel=1e-12)
        assert layer.max_mm3_s == pytest.approx(max(m["flow"] for m in laying), rel=1e-12)
        least = min(m["ceiling"] / m["flow"] for m in laying)
        assert layer.headroom == pytest.approx(least - 1, abs=1e-9)
        assert layer.over_s == pytest.approx(sum(m["over"] for m in laying), rel=1e-7, abs=1e-7)
        mean = sum(m["volume"] for m in laying) / sum(m["time"] for m in laying)
        assert layer.flow_mm3_s == pytest.approx(mean, rel=1e-12)
    width = told.series_s[1]
    flow, ceiling = np.zeros(len(told.series_s)), np.full(len(told.series_s), np.inf)
    for m in found:
        if not m["lays"]:
            continue
        # a move that ends on the edge of a bin may or may not count to the next
        for b in range(int(m["start"] / width + 1e-9), int((m["start"] + m["time"]) / width) + 1):
            if b < len(flow):
                flow[b] = max(flow[b], m["flow"])
                ceiling[b] = min(ceiling[b], m["ceiling"])
    np.testing.assert_allclose(told.series_mm3_s, flow, rtol=1e-9)
    np.testing.assert_allclose(told.series_ceiling_mm3_s, ceiling, rtol=1e-8)


@pytest.mark.parametrize(("seed", "moves", "ceiling"), [(6, 300, 9.0), (7, 12000, 5.0)])
def test_the_worst_stretches_are_kept_and_the_rest_counted(seed, moves, ceiling):
    fit = make_fit(((200.0, ceiling), (220.0, 1.2 * ceiling)))
    program = some_print(seed, moves)
    told = replay(program, RIG, fit)
    found, _ = rows(program, fit)
    made = stretches(found)
    assert told.bursts + told.sustained == len(made)
    assert told.sustained == sum(s["over"] > LAG_S for s in made)
    kept = sorted(made, key=lambda s: s["beyond"])[-at.WORST_ROWS :]
    assert len(told.stretches) == len(kept)
    assert sum(s.over_s for s in told.stretches) == pytest.approx(sum(s["over"] for s in kept))
    by_line = {s["line"]: s for s in made}
    drawn = stock_drawn(found)
    starts = [s.start_s for s in told.stretches]
    assert starts == sorted(starts)
    for s in told.stretches:
        same = by_line[s.line]
        assert s.over_s == pytest.approx(same["over"], rel=1e-7, abs=1e-7)
        assert s.asked_s == pytest.approx(same["asked"], rel=1e-9)
        assert s.missing_mm3 == pytest.approx(same["beyond"], rel=1e-7, abs=1e-9)
        assert s.drawn_mm3 == pytest.approx(drawn[s.last_line], rel=1e-6, abs=1e-7)
        assert s.length_mm == pytest.approx(same["length"], rel=1e-9)
        assert s.flow_mm3_s == pytest.approx(same["out"], rel=1e-6)
    if len(made) > at.WORST_ROWS:
        left = sorted(s["beyond"] for s in made)[len(made) - at.WORST_ROWS - 1]
        assert min(s.missing_mm3 for s in told.stretches) >= left - 1e-6


def test_a_print_kept_at_its_ceiling_is_not_over_it():
    program = some_print(8, 2000)
    fit = make_fit(((200.0, 5.0), (220.0, 6.0)))
    assert replay(program, RIG, fit).over_ceiling_s > 1.0
    kept = replay(program, RIG, fit, cap=True)
    assert (kept.over_ceiling_s, kept.bursts, kept.sustained) == (0.0, 0, 0)
    highest = max(ceiling.flow_mm3_s for ceiling in kept.ceilings)
    assert kept.flow.max_mm3_s == pytest.approx(highest, rel=1e-9)
