"""A retimed copy: the same path and filament to the bit, only F words, under the ceiling."""

import gzip
import io
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import some
from replay_support import RIG, SECTION_MM2, make_fit, straight

from beadworth.capacity import ceiling_at
from beadworth.core.errors import GcodeError, LimitError
from beadworth.gcode import read
from beadworth.replay import check_copy, replay, retime

HEAD_LINES = 3


def retimed(text, reserve=0.1, rig=RIG, **options):
    out = io.BytesIO()
    source = text.encode() if isinstance(text, str) else text
    made = retime(source, out, rig, make_fit(), reserve=reserve, **options)
    return made, out.getvalue()


def faster(acceleration):
    axes = {"x": acceleration, "y": acceleration, "z": acceleration}
    motion = RIG.motion.model_dump() | {
        "max_acceleration_mm_s2": axes, "print_acceleration_mm_s2": acceleration,
    }  # fmt: skip
    return RIG.model_validate(RIG.model_dump() | {"motion": motion})


def geometry(data):
    """Every number of every move but the feed."""
    parts = [
        np.vstack([c.x0, c.y0, c.z0, c.x, c.y, c.z, c.e_mm, c.length_mm, c.kind, c.layer])
        for c in read(data, rig=RIG)
    ]
    return np.hstack(parts)


def feeds(data):
    return np.concatenate([c.feed_mm_s for c in read(data, rig=RIG)])


def without_f(data):
    return re.sub(rb" ?F[0-9.]+", b"", data)


MOVE = st.tuples(
    st.floats(0, 200), st.floats(0, 200), st.floats(0, 6), st.none() | st.integers(300, 18000),
    st.sampled_from(["bead", "bead", "bead", "arc", "travel", "retract", "bare", "heat", "comment",
                     "units", "firmware", "modal", "message"]),
)  # fmt: skip


@st.composite
def programs(draw):
    """Small prints with modal feeds, bare F lines, temperature and unit changes, every line end."""
    inch = draw(st.booleans())
    absolute = draw(st.booleans())
    unit = 25.4 if inch else 1.0
    away = False
    lines = ["G20" if inch else "G21", "G90", "M82" if absolute else "M83", "M104 S220"]
    lines.append(f"G1 X{10 / unit:.4f} Y{10 / unit:.4f} Z{0.2 / unit:.5f} F{3000 / unit:.3f}")
    e = 0.0
    for x, y, amount, feed, kind in draw(st.lists(MOVE, max_size=25)):
        f = f" F{feed / unit:.3f}" if feed else ""
        if kind == "bead":
            e += amount
            value = e if absolute else amount
            lines.append(f"G1 X{x / unit:.4f} Y{y / unit:.4f} E{value / unit:.6f}{f} ; F1 bead")
        elif kind == "travel":
            lines.append(f"G0 X{x / unit:.4f} Y{y / unit:.4f}{f}")
        elif kind == "retract":
            e -= 1
            lines.append(f"G1 E{(e if absolute else -1) / unit:.6f}{f}")
        elif kind == "bare":
            lines.append(f"G1{f}")
        elif kind == "arc":
            e += amount
            value = e if absolute else amount
            lines.append(f"G2 I{5 / unit:.4f} E{value / unit:.6f}{f}")
        elif kind == "modal":
            lines.append(f"X{x / unit:.4f} Y{y / unit:.4f}{f}")
        elif kind == "units":
            unit = 1.0 if unit == 25.4 else 25.4
            lines.append("G20" if unit == 25.4 else "G21 ; now mm")
        elif kind == "firmware":
            lines.append("G11" if away else "G10")
            away = not away
        elif kind == "message":
            lines.append("M117 layer (F2) ; F9" if amount > 3 else "(F7 * F8) G92.1")
        elif kind == "heat":
            lines.append(f"M104 S{200 + 20 * (amount > 3)}")
        else:
            lines.append("; F999 in a comment (F2)")
    ends = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    return ends.join(lines) + (ends if draw(st.booleans()) else "")


@settings(max_examples=some(60, long=200), deadline=None)
@given(programs(), st.sampled_from([0.0, 0.1, 0.3]), st.booleans())
def test_only_feeds_change_and_the_copy_stays_under(text, reserve, by_peak):
    made, copy = retimed(text, reserve, by_peak=by_peak)
    again, same = retimed(copy, reserve, by_peak=by_peak)
    assert (again.moves, same == copy) == (0, True)
    if made.moves == 0:
        assert copy == text.encode()
        return
    end = re.search(rb"\r?\n|\r", text.encode())[0]
    *head, body = copy.split(end, HEAD_LINES)
    assert all(line.startswith(b"; ") for line in head)
    assert b"retimed" in head[0]
    assert without_f(body) == without_f(text.encode())
    before, after = geometry(text.encode()), geometry(copy)
    assert np.array_equal(before, after, equal_nan=True)
    was, now = feeds(text.encode()), feeds(copy)
    assert (now <= was * (1 + 1e-9)).all()
    assert (now < was * (1 - 1e-6)).sum() == made.moves  # all others keep their feed
    found = replay(copy, RIG, make_fit())
    check_copy(made, found)
    assert not found.stretches
    if text.count("M104") == 1:  # what the melt holds from a hotter bead flows on for a moment
        assert found.over_ceiling_s == 0
    least = min((x.headroom for x in found.layers if x.headroom is not None), default=None)
    if least is not None:
        assert least >= 1 / (1 - reserve) - 1 - 1e-6
    assert found.time_s >= made.before.time_s - 1e-9
    if not by_peak:
        check_copy(made, replay(copy, faster(20_000), make_fit()))


def test_moves_that_are_not_over_keep_their_time():
    ceiling = ceiling_at(make_fit(), None, None, 220.0).flow_mm3_s
    text = straight(1.5 * ceiling) + straight(0.5 * ceiling, count=3).split("F6000\n")[1]
    made, copy = retimed(text, reserve=0.0)
    assert made.moves == 1
    feeds = next(iter(read(copy, rig=RIG))).feed_mm_s.tolist()
    originals = next(iter(read(text.encode(), rig=RIG))).feed_mm_s.tolist()
    assert feeds[1] == pytest.approx(originals[1] / 1.5, rel=1e-3)
    assert feeds[2:] == originals[2:]


def test_the_cost_in_time_is_the_least():
    """One long bead over the ceiling: its time grows by exactly the excess, no more."""
    ceiling = ceiling_at(make_fit(), None, None, 220.0).flow_mm3_s
    text = straight(1.25 * ceiling, 200.0)
    made, copy = retimed(text, reserve=0.0)
    section = 0.25 * 0.2 + np.pi / 4 * 0.04
    speed = ceiling / section
    bead = 200 / speed + speed / 5000
    before = 200 / (1.25 * speed) + 1.25 * speed / 5000
    gained = replay(copy, RIG, make_fit()).time_s - made.before.time_s
    assert gained == pytest.approx(bead - before, rel=2e-3)


def test_checksums_are_made_right():
    def line(number, text):
        body = f"N{number} {text}".encode()
        value = 0
        for byte in body:
            value ^= byte
        return body + b"*" + str(value).encode()

    amount = 100 * 0.09 / SECTION_MM2
    data = b"\n".join(
        [line(1, "G90"), line(2, "M83"), line(3, "M104 S220"), line(4, "G1 X10 Y10 Z0.2 F3000"),
         line(5, f"G1 X110 E{amount:.5f} F18000"), line(6, f"G1 X10 E{0.9 * amount:.5f}")]
    )  # fmt: skip
    made, copy = retimed(data)
    assert made.moves == 2
    assert made.words_added + made.words_changed == 2
    problems = replay(copy, RIG, make_fit()).summary.problem_counts
    assert not problems


def short_and_long(over=1.5):
    """A bead too short to reach its feed, and one that reaches it; text."""
    ceiling = ceiling_at(make_fit(), None, None, 220.0).flow_mm3_s
    long = straight(over * ceiling, 100.0).split("F6000\n")[1]
    return straight(over * ceiling, 1.0, count=2) + long


def test_a_copy_holds_at_any_acceleration_unless_only_peaks_are_slowed():
    text = short_and_long()
    for by_peak, moves in ((False, 3), (True, 1)):
        made, copy = retimed(text, by_peak=by_peak)
        assert (made.moves, made.by_peak) == (moves, by_peak)
        check_copy(made, replay(copy, RIG, make_fit()))
        for acceleration in (500, 2000, 8000, 20_000, 200_000):
            over = replay(copy, faster(acceleration), make_fit()).stretches
            assert bool(over) == (by_peak and acceleration == 200_000)


def test_a_print_under_its_ceiling_is_left_alone():
    text = straight(5.0, count=3)
    packed = gzip.compress(text.encode())
    made, copy = retimed(text)
    assert (made.moves, copy) == (0, text.encode())
    assert retimed(packed, packed=True)[1] == packed
    assert retimed(packed)[1] == text.encode()
    assert gzip.decompress(retimed(text, packed=True)[1]) == text.encode()


def test_a_second_header_takes_the_place_of_the_first():
    text = straight(30.0, count=3)
    _, copy = retimed(text)
    made, again = retimed(copy, reserve=0.3)
    assert made.moves == 3
    assert again.count(b"; retimed by beadworth") == 1
    assert without_f(again.split(b"\n", HEAD_LINES)[-1]) == without_f(text.encode())


def test_the_header_stands_behind_a_leading_percent_sign():
    _, copy = retimed("%\r\n" + straight(30.0, count=3).replace("\n", "\r\n"))
    assert copy.startswith(b"%\r\n; retimed by beadworth")


def test_a_packed_copy_has_the_same_text_and_the_same_bytes_each_time():
    text = straight(30.0, count=3)
    (_, one), (_, two) = (retimed(text, packed=True) for _ in range(2))
    assert one == two
    assert gzip.decompress(one) == retimed(text)[1]


def test_a_feed_in_force_is_not_repeated_and_near_ones_become_the_lowest():
    section = 0.25 * 0.2 + np.pi / 4 * 0.04
    e = 100 * section / SECTION_MM2

    def beads(*widths, between=""):
        head = ["G21", "G90", "M83", "M104 S220", "G1 X20 Y20 Z0.2 F18000"]
        lines = [f"{between}G1 X{120 - 100 * (k % 2)} E{e * width:.5f}"
                 for k, width in enumerate(widths)]  # fmt: skip
        return "\n".join([*head, *lines]) + "\n"

    for widths, words in (
        ((1, 1, 1), 1), ((1, 1.004, 0.998), 2), ((1, 1.004, 1.001), 1), ((1, 1.006, 1), 3),
    ):  # fmt: skip
        made, copy = retimed(beads(*widths))
        assert made.moves == 3
        assert made.words_added == words, widths
        assert (feeds(copy)[1:] <= feeds(retimed(beads(max(widths)))[1])[1] * 1.007).all()
    made, copy = retimed(beads(1, 1, between="G1 F18000\n"))  # a feed of its own in between
    assert made.words_added == 2
    assert np.ptp(feeds(copy)[1:]) == 0


def test_a_bed_with_its_origin_in_the_middle():
    centred = straight(30.0).replace("X20 ", "X-100 ").replace("X120", "X100")
    assert retimed(centred.replace("Y20", "Y-120"))[0].moves == 1
    with pytest.raises(LimitError, match="either way of its middle"):
        retimed(centred.replace("Y20", "Y-136"))


def test_more_than_a_fifth_slower_looks_like_another_hot_end():
    slow = straight(5.0, count=8)
    for fast, other in ((2, False), (3, True)):
        made, _ = retimed(slow + straight(30.0, count=fast).split("F6000\n")[1])
        assert (made.moves, made.other_hot_end) == (fast, other)


def test_gz_in_plain_out():
    text = straight(30.0)
    assert retimed(gzip.compress(text.encode()))[1] == retimed(text)[1]


@pytest.mark.parametrize(
    ("rig", "word"),
    [
        (
            RIG.model_copy(
                update={"hot_end": RIG.hot_end.model_copy(update={"temperature_limit_c": 210.0})}
            ),
            "temperature_limit_c",
        ),
        (
            RIG.model_copy(
                update={"build_volume": RIG.build_volume.model_copy(update={"x_mm": 80.0})}
            ),
            "build_volume.x_mm",
        ),
    ],
)
def test_a_print_outside_the_rig_is_refused_and_nothing_written(rig, word):
    out = io.BytesIO()
    with pytest.raises(LimitError) as caught:
        retime(straight(30.0).encode(), out, rig, make_fit())
    assert word in caught.value.problems[0].where
    assert out.getvalue() == b""


def test_a_reserve_out_of_range():
    with pytest.raises(LimitError, match=r"between 0 and 0\.9"):
        retimed(straight(30.0), reserve=1.0)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_and_a_byte_order_mark_stay(end):
    text = "\ufeff" + straight(30.0, count=3).replace("\n", end)
    made, copy = retimed(text)
    assert made.moves == 3
    assert copy.startswith(b"\xef\xbb\xbf; retimed")
    body = copy.split(end.encode(), HEAD_LINES)[-1]
    assert copy.count(b"\r\n") == (copy.count(b"\n") if end == "\r\n" else 0)
    assert without_f(body) == without_f(text.encode()[3:])


def test_a_message_behind_a_move_is_not_written_into():
    text = straight(30.0).rstrip() + "\nG1 X20 E4 M117 50 to go\nG1 X120 E4\n"
    _, copy = retimed(text)
    line = next(line for line in copy.decode().splitlines() if "M117" in line)
    assert re.fullmatch(r"G1 X20 E4 +F[\d.]+M117 50 to go", line)
    assert replay(copy, RIG, make_fit()).over_ceiling_s == 0


def test_a_retraction_by_the_rigs_own_length_gets_no_feed_and_what_follows_gets_its_own_back():
    text = straight(30.0).rstrip() + "\nG10\nG0 X20\nG11\nG0 X30\n"
    _, copy = retimed(text)
    tail = copy.decode().splitlines()[-4:]
    own = re.search(r"F([\d.]+)", text.splitlines()[-5])[1]
    assert tail == ["G10", f"G0 X20 F{own}", "G11", "G0 X30"]
    assert feeds(copy).tolist()[2:] == pytest.approx(feeds(text.encode()).tolist()[2:], rel=1e-12)


def test_each_feed_is_written_in_the_unit_in_force():
    section = 0.25 * 0.2 + np.pi / 4 * 0.04
    e = 100 * section / SECTION_MM2
    beads = [f"G21\nG1 X120 E{e:.5f} F18000", f"G20\nG1 X{20 / 25.4:.5f} E{e / 25.4:.6f} F700"]
    text = "\n".join(["G90", "M83", "M104 S220", "G1 X20 Y20 Z0.2 F6000", *beads, *beads]) + "\n"
    made, copy = retimed(text)
    assert made.moves == 4
    slowed = feeds(copy)[1:]
    assert slowed == pytest.approx([slowed[0]] * 4, rel=2e-4)  # the same bead, one speed
    assert len({line for line in copy.decode().splitlines() if line.startswith("G1 X120")}) == 1


def test_inverse_time_is_refused_and_nothing_written():
    out = io.BytesIO()
    with pytest.raises(LimitError, match="inverse time"):
        retime(b"M83\nM104 S220\nG93\nG1 X100 E9 F60\n", out, RIG, make_fit())
    assert out.getvalue() == b""


@pytest.mark.parametrize(
    "harm", [lambda z: z[:-30], lambda z: z[:40] + b"\xff" + z[41:], lambda z: z + b"G1 X5 E5\n"]
)
def test_a_damaged_gz_is_refused_and_nothing_written(harm, tmp_path):
    file = tmp_path / "p.gcode.gz"
    file.write_bytes(harm(gzip.compress(straight(30.0, count=50).encode())))
    for source in (file, file.read_bytes()):
        out = io.BytesIO()
        with pytest.raises(GcodeError, match="gz data"):
            retime(source, out, RIG, make_fit())
        assert out.getvalue() == b""


def test_a_copy_that_is_not_what_was_promised_is_found_out():
    text = straight(30.0, count=4)
    made, copy = retimed(text)
    check_copy(made, replay(copy, RIG, make_fit()))
    with pytest.raises(LimitError, match="reserve"):
        check_copy(made, replay(text.encode(), RIG, make_fit()))
    with pytest.raises(LimitError, match="moves"):
        check_copy(made, replay(copy + b"G1 X3 E1\n", RIG, make_fit()))


def test_one_speed_for_all_and_the_lowest_temperature_keep_their_word():
    text = straight(18.0, 150.0, count=6)
    found = replay(text.encode(), RIG, make_fit())
    assert found.uniform_speed_share < 1
    share = found.uniform_speed_share
    assert replay(text.encode(), RIG, make_fit(), scale=share).over_ceiling_s == 0
    assert replay(text.encode(), RIG, make_fit(), scale=1.02 * share).over_ceiling_s > 0
    text = straight(12.0, 150.0, celsius=200)
    lowest = replay(text.encode(), RIG, make_fit()).lowest_temperature_c
    for celsius, over in ((lowest, False), (lowest - 0.5, True)):
        again = replay(text.replace("S200", f"S{celsius:.2f}").encode(), RIG, make_fit())
        assert (again.over_ceiling_s > 0) == over


def test_priming_keeps_its_feeds():
    prime = "G0 X20 Y5 F9000\nG1 X100 E14 F3600\nG0 X20 Y80 F6000\n"
    head, rest = straight(20.0, count=12).split("G1 X20 Y20 Z0.2 F6000\n")
    text = head + "G1 Z0.2 F600\n" + prime + "G1 X20 Y80 Z0.2 F6000\n" + rest
    assert replay(text.encode(), RIG).priming.moves == 1
    for by_peak in (False, True):
        made, copy = retimed(text, by_peak=by_peak)
        assert made.moves == 12
        assert prime.encode() in copy
        assert replay(copy, RIG, make_fit()).over_ceiling_s == 0


def cost_of(feed, own, length):
    """What making the feeds of slow moves one adds, against what slowing them adds."""
    from beadworth.replay.rewrite import merged

    feed, own, length = (np.array(column, float) for column in (feed, own, length))
    found = merged(feed, np.ones(len(feed), bool), own, length)
    assert (found <= feed).all()
    slowed = (length / feed - length / own).sum()
    return found, (length / found - length / feed).sum() / slowed


def test_one_feed_for_all_only_where_that_costs_little_of_what_slowing_adds():
    found, cost = cost_of([20.0, 20.05], [40, 40], [1, 1])
    assert found.tolist() == [20, 20]
    assert 0.0024 < cost < 0.0026
    # from 21 to 20 mm/s: 0.0756 % more slowing of one of two moves is 0.8 % of what both add
    for near, one in ((20.0 * 1.00075, True), (20.0 * 1.00077, False)):
        found, cost = cost_of([20.0, near], [21, 21], [1, 1])
        assert bool(found[1] == 20) is one
        assert cost <= 0.008
    rng = np.random.default_rng(2)
    for _ in range(200):
        n = int(rng.integers(2, 40))
        feed = 20 * (1 + rng.uniform(0, 0.006, n))
        _, cost = cost_of(feed, feed * (1 + rng.exponential(0.1, n)), rng.exponential(1, n))
        assert cost <= 0.008


def test_by_peak_a_bead_between_slower_ones_stays_under_where_jerk_is_limited():
    """Less speed at its ends leaves it room for a higher peak, by 5.8 % at most.

    The outer beads take twelve times the filament at a third of the speed at which the inner one is
    at its ceiling: slowed to a twelfth of it, they let its peak rise by 3 %.
    """
    motion = {"max_jerk_mm_s3": 2e5, "extruder_corner_step_mm_s": 100.0}
    rig = RIG.model_copy(update={"motion": RIG.motion.model_copy(update=motion)})
    fit = make_fit()
    per_mm = 0.0338
    top = ceiling_at(fit, None, None, 220.0).flow_mm3_s / SECTION_MM2 / per_mm
    inner_length = 2 * (top / 3 + top) * np.sqrt(2 / 3 * top / 2e5)  # two ramps there and back
    slowed = []
    for share in np.linspace(0.9, 1.01, 12):
        lines = ["G90", "M83", "M104 S220", "G1 X20 Y20 Z0.2 F6000"]
        x = 20.0
        for length, filament, speed in (
            (20.0, 12.0, top / 3), (share * inner_length, 1.0, 2 * top), (20.0, 12.0, top / 3),
        ):  # fmt: skip
            x += length
            lines.append(f"G1 X{x:.4f} E{filament * per_mm * length:.6f} F{60 * speed:.3f}")
        made, copy = retimed("\n".join(lines) + "\n", 0.0, rig=rig, by_peak=True)
        after = replay(copy, rig, fit)
        check_copy(made, after)
        assert not after.stretches
        slowed.append(made.moves)
    assert set(slowed) == {2, 3}  # the outer ones alone, and the inner one too
