"""What is set apart from a print: lines before and after it, pushes without a bead."""

from functools import cache

import numpy as np
import pytest
from replay_support import RIG, SECTION_MM2, make_fit

from beadworth.gcode import columns as gcode_columns
from beadworth.gcode import read
from beadworth.replay import columns, replay
from beadworth.replay.apart import set_apart

HEAD = ["G21", "G90", "M83", "M104 S220", "G1 Z0.2 F600"]


def bead(length, section=0.09):
    """Filament for a bead of a section."""
    return f"E{length * section / SECTION_MM2:.5f}"


def part(layers=3, loops=5, thin=0.09):
    """Squares inside each other, five loops a layer."""
    lines = []
    for layer in range(layers):
        lines.append(f"G1 Z{0.2 + 0.2 * layer:.2f} F600")
        for loop in range(loops):
            a, b = 80 + loop, 120 - loop
            lines.append(f"G0 X{a} Y{a} F9000")
            lines += [f"G1 X{x} Y{y} {bead(b - a, thin)} F2400"
                      for x, y in ((b, a), (b, b), (a, b), (a, a))]  # fmt: skip
    return lines


def told(*lines):
    return replay("\n".join([*HEAD, *lines]).encode(), RIG, make_fit())


def line_at(y, section, feed=3600):
    return [f"G0 X20 Y{y} F9000", f"G1 X100 {bead(80, section)} F{feed}"]


@cache
def plain():
    return told(*part())


@pytest.mark.parametrize(
    "before",
    [
        line_at(20, 0.4),
        [*line_at(20, 0.4), f"G1 Y20.4 {bead(0.4, 0.4)}", f"G1 X20 {bead(80, 0.4)}"],
        line_at(100, 0.4),  # across the part: thick enough
        line_at(20, 0.09),  # thin, but far away
        ["G1 Z10 F600", *line_at(100, 0.09), "G1 Z0.2"],
    ],
)
def test_a_line_before_the_first_layer_is_set_apart(before):
    found = told(*before, *part())
    assert found.priming.moves >= 1
    assert found.priming.line == len(HEAD) + next(
        k for k, line in enumerate(before, 1) if "E" in line
    )
    assert found.flow.max_mm3_s == pytest.approx(plain().flow.max_mm3_s)
    assert not found.stretches
    assert "always under the ceiling" in found.verdict
    assert found.uniform_speed_share == 1.0
    assert sum(x.max_mm3_s > 4 for x in found.layers) == 0
    pushed = found.summary.filament_net_mm - plain().summary.filament_net_mm
    assert found.priming.filament_mm == pytest.approx(pushed)


@pytest.mark.parametrize(
    "before",
    [
        line_at(75, 0.4 * 0.28),  # 1.24 times as thick, 5 mm away
        line_at(71, 0.09),  # 9 mm away
        part(1, 1, 0.4),  # a thick square: four beads round, no line
    ],
)
def test_a_skirt_and_a_first_bead_are_of_the_print(before):
    assert told(*before, *part()).priming.moves == 0


def test_what_is_left_must_be_a_print():
    few = [f"G1 X{120 - 100 * (k % 2)} Y{80 + k} {bead(100)} F2400" for k in range(8)]
    assert told(*line_at(20, 0.4), "G0 X20 Y80", *few[:7]).priming.moves == 0
    assert told(*line_at(20, 0.4), "G0 X20 Y80", *few).priming.moves == 1


def test_a_line_after_the_last_layer_is_set_apart():
    found = told(*part(), "G1 Z20 F600", *line_at(20, 0.4))
    assert (found.priming.moves, found.priming.filament_mm > 10) == (1, True)
    assert found.flow.max_mm3_s == pytest.approx(plain().flow.max_mm3_s)
    inside = told(*part(), "G1 Z20 F600", *line_at(100, 0.4))
    assert inside.priming.moves == 0


def test_pushes_without_a_bead_are_set_apart():
    found = told("G1 E20 F600", "G1 E-5 F1800", "G0 X5 F9000", "G1 E5 F1800", *part(),
                 "G1 E-2 F1800", "G1 Z30 E2 F900", "G1 E0.6", "G1 E0.4")  # fmt: skip
    assert (found.priming.moves, found.priming.line) == (3, len(HEAD) + 1)
    assert found.priming.filament_mm == pytest.approx(20 + 2 + 0.6)
    assert found.flow.max_mm3_s == plain().flow.max_mm3_s
    assert found.flow.mean_mm3_s == pytest.approx(plain().flow.mean_mm3_s)
    assert found.priming.sentence.startswith(
        "Priming and purging, first at line 6: 22.6 mm of filament in "
    )
    assert plain().priming.sentence == ""


def test_an_unretract_along_a_path_is_no_bead():
    text = ["G92 E0", "M82", *(f"G1 X{20 + k} E{0.04 * k:.5f} F2400" for k in range(1, 20)),
            "G1 E-4.24 F1800", "G0 X80 Y50", "G1 X80.4 E0.80 F2400", "G1 X90 E1.20"]  # fmt: skip
    (chunk,) = read("\n".join([*HEAD, *text]).encode())
    kinds = dict(zip(chunk.line.tolist(), chunk.kind.tolist(), strict=True))
    assert kinds[len(HEAD) + 24] == gcode_columns.PUSH
    assert kinds[len(HEAD) + 25] == gcode_columns.EXTRUDE
    assert told(*text).flow.max_mm3_s < 5


@pytest.mark.parametrize(("share", "push"), [(0.49, False), (0.51, True)])
def test_half_of_a_move_must_refill_to_make_it_a_push(share, push):
    for slow in ("", "(slow)"):  # a comment takes the line off the scanner's fast path
        lines = [*HEAD, "G1 X10 E1 F600", f"G1 E-{share} F1800{slow}", f"G1 X20 E1 F600{slow}"]
        chunk = next(iter(read("\n".join(lines).encode())))
        assert (chunk.kind[-1] == gcode_columns.PUSH) == push


def test_chunks_come_whole_and_in_order_whatever_their_size():
    text = "\n".join([*HEAD, *line_at(20, 0.4), *part(8)]).encode()
    whole = np.concatenate([c.kind for c in set_apart(iter(read(text)))])
    assert np.count_nonzero(whole == columns.APART) == 1
    for size in (100, 1000):
        cut = np.concatenate([c.kind for c in set_apart(iter(read(text, chunk_bytes=size)))])
        assert cut.tolist() == whole.tolist()
    assert list(set_apart(iter(read(b"")))) == list(read(b""))
