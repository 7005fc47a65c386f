"""The plan of a layer: every bead, where it lies, its flow and headroom; arcs as chords."""

from __future__ import annotations

import numpy as np
import pytest
from replay_support import RIG, straight

from beadworth.capacity import loss_at
from beadworth.replay import replay
from beadworth.replay.layer_map import (
    COLUMNS,
    SAGITTA_MM,
    SEGMENT,
    loss_curves,
    segment_bytes,
    segments,
    sheet_of_layer,
    sheets,
)

CIRCLE = "G21\nG90\nM83\nM104 S220\nG0 X60 Y50 Z0.2 F6000\nG2 X60 Y50 I-10 J0 E2 F1200\n"


def every(text, fit, **asked):
    parts = list(segments(text.encode(), RIG, fit, **asked))
    return np.concatenate(parts) if parts else np.empty(0, SEGMENT)


def test_segments_agree_with_the_replay(fit):
    text = straight(8.0, count=3) + straight(18.0, count=2).replace("Z0.2", "Z0.4")
    found, made = replay(text.encode(), RIG, fit), every(text, fit)
    assert made["flow"].max() == pytest.approx(found.flow.max_mm3_s, rel=1e-6)
    for layer in found.layers:
        own = made[made["layer"] == layer.layer - 1]
        assert own["flow"].max() == pytest.approx(layer.max_mm3_s, rel=1e-6)
        assert (own["ceiling"] / own["flow"]).min() - 1 == pytest.approx(layer.headroom, rel=1e-5)
    worst = max(found.stretches, key=lambda s: s.asked_mm3_s)
    inside = made[(made["line"] >= worst.line) & (made["line"] <= worst.last_line)]
    assert inside["out"].max() == pytest.approx(worst.flow_mm3_s, rel=1e-6)
    length = np.hypot(made["x1"] - made["x0"], made["y1"] - made["y0"]).sum()
    assert length == pytest.approx(500.0, rel=1e-5)


def test_a_full_circle_becomes_chords_that_hug_it(fit):
    made = every(CIRCLE, fit)
    assert set(made["line"]) == {6}
    assert np.hypot(made["x0"] - 50, made["y0"] - 50) == pytest.approx(10.0, abs=1e-5)
    middle = np.hypot((made["x0"] + made["x1"]) / 2 - 50, (made["y0"] + made["y1"]) / 2 - 50)
    assert (10.0 - middle).max() <= SAGITTA_MM * 1.001
    assert (made["x1"][:-1] == made["x0"][1:]).all()
    assert (made["x0"][0], made["y0"][0]) == (60.0, 50.0)
    assert (made["x1"][-1], made["y1"][-1]) == (60.0, 50.0)
    # clockwise, as G2 goes
    cross = (made["x0"] - 50) * (made["y1"] - 50) - (made["x1"] - 50) * (made["y0"] - 50)
    assert (cross < 0).all()


def test_an_upright_arc_is_a_line_in_plan(fit):
    made = every(
        "G21\nG90\nM83\nG18\nM104 S220\nG0 X0 Y5 Z0.2 F6000\nG3 X20 Z0.2 I10 K0 E1 F1200\n", fit
    )
    assert (made["y0"] == 5).all()
    assert made["x0"].min() >= -1e-4
    assert made["x1"].max() == pytest.approx(20.0, abs=1e-4)


def test_travel_retraction_and_priming_are_no_beads(fit):
    text = straight(8.0, count=1) + "G1 E-1 F1800\nG0 X90 Y90 F9000\nG1 E1 F1800\n"
    assert len(every(text, fit)) == 1


def test_columns_are_whole_little_endian_and_know_what_is_unknown(fit):
    records = every(straight(18.0, count=2), fit)
    n = len(records)
    data = segment_bytes(records, loss_curves(fit, None, None, [220.0]))
    assert len(data) == 4 * n * len(COLUMNS)
    rows = np.frombuffer(data, "<f4").reshape(len(COLUMNS), n)
    at = dict(zip(COLUMNS, rows, strict=True))
    assert at["headroom"] == pytest.approx(records["ceiling"] / records["flow"] - 1, rel=1e-6)
    assert np.frombuffer(data[-4 * n :], "<i4").tolist() == records["line"].tolist()
    told = loss_at(fit, None, None, 220.0, records["out"].astype(float))
    for name, value in zip(("loss", "loss_low", "loss_high"), told, strict=True):
        assert at[name] == pytest.approx(value, abs=2e-3)
    bare = every(straight(18.0), None)
    rows = np.frombuffer(segment_bytes(bare), "<f4").reshape(len(COLUMNS), len(bare))
    assert np.isnan(rows[COLUMNS.index("headroom")]).all()
    assert np.isnan(rows[COLUMNS.index("loss")]).all()


def rising(turns=40, per_turn=60):
    lines, e = ["G21", "G90", "M83", "M104 S220", "G0 X60 Y50 Z0.2 F6000"], 0.02
    for k in range(1, turns * per_turn):
        a = 2 * np.pi * k / per_turn
        z = 0.2 + 0.2 * k / per_turn
        x, y = 50 + 10 * np.cos(a), 50 + 10 * np.sin(a)
        lines.append(f"G1 X{x:.3f} Y{y:.3f} Z{z:.4f} E{e} F1500")
    return "\n".join(lines) + "\n"


def test_a_print_that_rises_all_the_time_is_leafed_through_in_bands(fit):
    text = rising()
    found = replay(text.encode(), RIG, fit)
    assert found.summary.layers is None
    made = sheets(found)
    assert 30 <= len(made) <= 45
    assert [s.z_mm for s in made] == sorted(s.z_mm for s in made)
    of = sheet_of_layer(found)
    records = every(text, fit)
    numbers = of[records["layer"]]
    assert set(numbers) == set(range(len(made)))
    assert sum(s.time_s for s in made) == pytest.approx(sum(x.time_s for x in found.layers))


def test_layers_are_sheets_from_the_bed_up_whatever_their_order_in_the_file(fit):
    text = straight(8.0).replace("Z0.2", "Z0.6") + straight(8.0) + straight(8.0, count=2)
    found = replay(text.encode(), RIG, fit)
    assert [s.z_mm for s in sheets(found)] == [0.2, 0.6]
    assert sheet_of_layer(found).tolist()[:2] == [1, 0]
