"""Compare what the scanner read with what the plain reader read, move by move."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
from gcode_reference import Reference

from beadworth.gcode import columns as at
from beadworth.gcode.reader import Reader
from beadworth.rig import Rig
from beadworth.rig.record import Motion

EVENTS = {at.DWELL: "dwell", at.HOME: "home", at.TOOL_CHANGE: "tool", at.PAUSE: "stop",
          at.PROGRAM_END: "stop", at.SYNC: "sync", at.LEVEL: "level",
          at.REMAINING: "remaining"}  # fmt: skip


def scan(data, follow=False, plain=True, chunk_bytes=1 << 20):
    """All chunks and the summary."""
    rig = Rig(name="test", motion=Motion(e_follows_g90=follow))
    reader = Reader(data, rig, chunk_bytes, False, "test", plain)
    return list(reader), reader.summary()


def columns(chunks):
    """The move columns of all chunks, end to end; all empty where there is no chunk."""
    names = ["line", "offset", "f_at", "f_len", "x0", "y0", "z0", "x", "y", "z",
             "e_mm", "feed_mm_s", "length_mm", "kind", "flags", "layer"]  # fmt: skip
    if not chunks:
        return {name: np.empty(0) for name in names}
    return {name: np.concatenate([getattr(c, name) for c in chunks]) for name in names}


def assert_same(data: bytes, follow: bool = False, plain: bool = True, chunk_bytes: int = 1 << 20):
    """Scanner and plain reader agree on the file in everything both report."""
    wanted = Reference(follow=follow).run(data)
    chunks, summary = scan(data, follow, plain, chunk_bytes)
    moves = columns(chunks)
    assert moves["line"].tolist() == [m.line for m in wanted.moves]
    assert summary.lines == wanted.lines
    if wanted.moves:
        start = np.stack([moves["x0"], moves["y0"], moves["z0"]], 1)
        end = np.stack([moves["x"], moves["y"], moves["z"]], 1)
        # Positions come from the same digits by the same sums: they must be equal to an ulp.
        np.testing.assert_allclose(start, [m.start for m in wanted.moves], rtol=1e-14, atol=1e-300)
        np.testing.assert_allclose(end, [m.end for m in wanted.moves], rtol=1e-14, atol=1e-300)
        np.testing.assert_allclose(
            moves["e_mm"], [m.e for m in wanted.moves], rtol=1e-12, atol=1e-12
        )
        np.testing.assert_allclose(
            moves["feed_mm_s"], [m.feed for m in wanted.moves], rtol=1e-9, atol=1e-300
        )
        lengths = np.array([m.length for m in wanted.moves])
        radii = np.array([m.arc[2] if m.arc else 0.0 for m in wanted.moves])
        # An arc of a huge radius loses digits in the plain reader: allow for a few of its ulps.
        slack = 1e-7 * lengths + 1e-12 + 1e-15 * radii
        assert (np.abs(moves["length_mm"] - lengths) <= slack).all()
        spans = [(m.line_offset + m.text[0], m.text[1]) for m in wanted.moves if not m.firmware]
        own = (moves["flags"] & at.FIRMWARE) == 0
        assert moves["f_at"][own].tolist() == [s[0] for s in spans]
        assert moves["f_len"][own].tolist() == [s[1] for s in spans]
        assert ((moves["flags"] & at.BAD_ARC) != 0).tolist() == [m.bad for m in wanted.moves]
    arcs = [m.arc for m in wanted.moves if m.arc]
    for k, name in enumerate(["centre_u_mm", "centre_v_mm", "radius_mm", "sweep_rad"]):
        seen = np.concatenate([getattr(c.arcs, name) for c in chunks]) if chunks else []
        np.testing.assert_allclose(seen, [a[k] for a in arcs], rtol=1e-7, atol=1e-6)
    assert summary.problem_counts == Counter(kind for kind, _ in wanted.problems)
    if len(wanted.problems) <= 100:
        assert Counter((p.kind, p.line) for p in summary.problems) == Counter(wanted.problems)
    if len(wanted.unknown) < 100:
        assert {w.word.upper(): w.count for w in summary.unknown_words} == fold(wanted.unknown)
    assert summary.repeated_motions == wanted.repeated
    assert_totals(summary, wanted)
    events = [
        (EVENTS[code], 0.0 if EVENTS[code] in ("home", "stop") else value)
        for c in chunks
        for code, value in zip(c.events.code.tolist(), c.events.value.tolist(), strict=True)
        if code in EVENTS
    ]
    assert [name for name, _ in events] == [name for name, _ in wanted.events]
    np.testing.assert_allclose([v for _, v in events], [v for _, v in wanted.events])
    return summary, wanted


def fold(counter):
    folded = Counter()
    for word, count in counter.items():
        folded[word.upper()] += count
    return folded


def assert_totals(summary, wanted, rel=1e-6):
    """Counts exact, lengths within the bar."""
    assert summary.moves == len(wanted.changing())
    assert summary.extruding_moves == len(wanted.extruding())
    for seen, told in [
        (summary.extruding_path_mm, wanted.path(True)),
        (summary.travel_path_mm, wanted.path(False)),
        (summary.filament_net_mm, wanted.filament_net),
        (summary.filament_forward_mm, wanted.filament_forward),
    ]:
        assert math.isclose(seen, told, rel_tol=rel, abs_tol=1e-6), (seen, told)
