"""A balance's lines: formats learnt from samples of invented balances, damage dropped."""

from __future__ import annotations

import re

import numpy as np
import pytest
from balance_lines import COUPON, learn, samples_of, weigh
from hypothesis import given
from hypothesis import strategies as st
from loops import each, some
from simulated_balances import KINDS, LEARNT, REFUSED, damaged

from beadworth.core import InputError
from beadworth.trial import LineFollower, Samples, learn_format
from beadworth.trial.lines.describe import describe_format
from beadworth.trial.lines.follow import HandsFree
from beadworth.trial.lines.format import UNIT_G, ReadLine, read_line, split_lines

NAMED = {balance.name: balance for balance in (*LEARNT, *REFUSED)}
FIRST = NAMED["mark first, blanks, unit"]


def plain(value, mark="S"):
    return f"{mark} {value:8.2f} g"


def plain_samples(moving=True):
    way = [("U", v) for v in (1.2, 7.8, 12.01, 12.3)] if moving else []
    return Samples([plain(0)] * 4, [plain(v, m) for m, v in way], [plain(12.34)] * 4)


@pytest.fixture(scope="module")
def form():
    return learn_format(plain_samples())


def test_units_are_those_of_handbook_44():
    # International yard and pound agreement, 1959, as in NIST Handbook 44, appendix C (from
    # memory): a pound is 453.592 37 g exactly, an ounce 1/16, a troy ounce 480 of 7000 grains.
    assert UNIT_G["lb"] == 453.59237
    assert UNIT_G["oz"] * 16 == pytest.approx(453.59237, rel=1e-12)
    assert UNIT_G["ozt"] == pytest.approx(453.59237 * 480 / 7000, rel=1e-12)
    assert UNIT_G["ct"] * 5 == pytest.approx(1.0)


@each(balance=LEARNT, seed=range(some(2, long=100)))
def test_a_format_is_learnt_and_read_back(balance, seed):
    form = learn(balance, seed)
    top = COUPON[balance.decimals]
    for count in (0, 1, -top // 50, top // 4, top, 9 * top):
        shown = balance.step * round(count / balance.step)
        for stable in (True, False):
            lines = [x for x in balance.write(shown, stable, 4321).split("\n") if balance.reads(x)]
            for line in lines:
                read = read_line(form, line)
                assert isinstance(read, ReadLine), (line, read)
                assert form.grams(read.count) == pytest.approx(balance.grams(shown), abs=1e-9)
                assert read.stable in (stable if balance.marked else None, None)


def test_marks_of_stability_are_found():
    unmarked = [balance.name for balance in LEARNT if not learn(balance, 1).marked]
    assert unmarked == ["nothing filled up", "nothing but the number"]


@each(balance=REFUSED, seed=range(some(3, long=60)))
def test_what_cannot_be_learnt_is_refused_in_words(balance, seed):
    with pytest.raises(InputError, match=balance.refused) as refusal:
        learn(balance, seed)
    assert refusal.value.problems[0].remedy


@each(balance=LEARNT, seed=range(some(4, long=200)))
def test_a_damaged_sample_never_shifts_a_mass(balance, seed):
    samples, shown = samples_of(balance, seed)
    rng = np.random.default_rng(seed)
    parts = [list(samples.empty), list(samples.moving), list(samples.loaded)]
    part = parts[int(rng.integers(3))]
    at = int(rng.integers(len(part)))
    part[at] = damaged(part[at], KINDS[int(rng.integers(len(KINDS)))], rng, part[at - 1])
    try:
        form = learn_format(
            Samples(*parts), unit=balance.stated, shown=shown if balance.types_shown else ""
        )
    except InputError:
        return
    count = balance.step * round(COUPON[balance.decimals] / balance.step)
    for line in balance.write(count, True, 11).split("\n"):
        read = read_line(form, line)
        if balance.reads(line) and isinstance(read, ReadLine):
            assert form.grams(read.count) == pytest.approx(balance.grams(count), abs=1e-9)


def test_damaged_lines_are_dropped():
    """At most one in a thousand is used; alone, one in fifty has the shape and another value."""
    lines = alone = used = wrong = readings = 0
    for seed, balance in enumerate(LEARNT):
        found = weigh(balance, learn(balance, seed), some(15, long=1000), seed)
        lines += sum(found.damaged[kind] for kind in KINDS)
        alone += sum(found.alone.values())
        used += sum(found.used.values())
        wrong += found.wrong
        readings += found.readings
    assert lines > 1200
    assert alone > 0.02 * lines
    assert used <= 0.001 * lines
    assert wrong == 0
    assert readings > 0.8 * 29 * len(LEARNT)


def test_a_format_in_words(form):
    assert describe_format(form) == [
        "Lines of 12 characters.",
        "Value in characters 2 to 10, in g, 2 decimals behind a point, "
        "blanks before a short number.",
        "The unit stands in the line: g.",
        '"S" at 1 means stable.',
        '"U" at 1 means not yet stable.',
    ]
    unmarked = learn_format(plain_samples(moving=False))
    assert describe_format(unmarked)[-1] == (
        "No mark says that the balance is stable; a value counts once it stands still."
    )


def test_other_formats_in_words():
    said = {name: " ".join(describe_format(learn(NAMED[name], 1))) for name in NAMED
            if NAMED[name] in LEARNT}  # fmt: skip
    assert said["with a count"].startswith("Lines of 19 characters. Value in characters 6 to 15")
    assert "Digits at 2–5 change and are passed over" in said["with a count"]
    assert "Z" in said["zero mark at zero"]
    assert "in steps of 5" in said["steps of 5"]
    assert "behind a comma" in said["sign apart, comma"]
    assert "The lines have no unit; g, as you stated." in said["nothing but the number"]
    assert said["nothing filled up"].startswith(
        "Lines of 6 to 9 characters. Value from character 1 on, with 2 characters behind it, in g"
    )


def test_too_few_lines_say_what_is_missing():
    few = Samples([plain(0)] * 2, [], [plain(12.34)] * 3)
    with pytest.raises(InputError) as refusal:
        learn_format(few)
    assert str(refusal.value) == (
        "balance lines: 2 lines came with the pan empty and 3 with a piece on it; at least 3 each "
        "are needed. Set the balance to send by itself, or state the request it answers, and try "
        "again."
    )
    assert learn_format(Samples([plain(0)] * 3, [], [plain(12.34)] * 3)).decimals == 2


def test_nothing_put_on_is_seen():
    with pytest.raises(InputError, match="no number of the lines stood still, changed"):
        learn_format(Samples([plain(0.01)] * 5, [], [plain(0.02)] * 5))


def test_a_unit_that_is_stated_must_not_contradict_the_lines():
    with pytest.raises(InputError, match="the lines are in g, you stated mg"):
        learn_format(plain_samples(), unit="mg")
    with pytest.raises(InputError, match="'stone' is no unit of mass known here"):
        learn_format(plain_samples(), unit="stone")


def test_a_display_that_says_another_number_is_refused():
    with pytest.raises(InputError, match=re.escape("shows 12.43 g, but the lines say 12.34")):
        learn_format(plain_samples(), shown="12.43 g")
    assert learn_format(plain_samples(), shown="12,34").decimals == 2


def follow(form, *texts, each_s=0.2):
    follower = LineFollower(form)
    fates = []
    for n, text in enumerate(texts):
        fates += [seen.fate for seen in follower.line(text, n * each_s)]
    return follower, fates


def test_a_reading_takes_three_lines_that_agree(form):
    assert follow(form, *[plain(1.78)] * 3)[0].reading_g is None  # the third is undecided yet
    assert follow(form, *[plain(1.78)] * 4)[0].reading_g == 1.78
    assert follow(form, *[plain(1.78, "U")] * 9)[0].reading_g is None


def test_without_a_mark_a_value_stands_still_for_two_seconds():
    form = learn_format(plain_samples(moving=False))
    lines = [plain(1.78)] * 8
    assert follow(form, *lines, each_s=0.3)[0].reading_g is None  # 6 · 0.3 s
    assert follow(form, *lines, each_s=0.34)[0].reading_g == 1.78


def test_a_line_that_stands_apart_is_dropped_and_counted(form):
    good = plain(1.78)
    follower, fates = follow(form, good, good, plain(7.78), good, plain(1.80), good, good[1:], good)
    assert fates == ["still", "still", "jump", "still", "flicker", "length", "still"]
    assert follower.dropped == 2


def test_the_jump_is_more_than_two_steps(form):
    good = plain(1.78)
    for other, fate in ((1.80, "flicker"), (1.81, "jump")):
        assert follow(form, good, good, plain(other), good)[1][-1] == fate


def test_a_new_value_ends_the_old_reading_at_once(form):
    follower, _ = follow(form, *[plain(1.78)] * 5)
    follower.line(plain(0.5, "U"), 9.0)
    assert follower.reading_g is None
    assert follower.latest_g == 1.78


def test_a_bad_cable_is_said(form):
    good = plain(1.78)
    bad = [good, good[:-1], good]
    assert follow(form, *bad * 13)[0].trouble == (
        "13 of the last 38 lines are damaged. Push the plugs home, keep the cable away from heater "
        "and motor leads, and check the speed."
    )
    assert follow(form, *[good] * 30, *[good[:-1]] * 9)[0].trouble == ""
    assert follow(form, *["x" * 20] * 40)[0].trouble == (
        "None of the last 40 lines is of the format learnt: was the balance's output, unit or "
        "speed changed? Set it back, or learn the lines again."
    )


def test_hands_free_takes_each_piece_once(form):
    station = HandsFree(form)
    seen = [1.78, 0.0, None, 1.78, 1.78, None, 1.79, 0.01, 0.19, 0.2, 0.0, -3.0, 0.7]
    assert [station.feed(value) for value in seen] == [
        None, None, None, 1.78, None, None, None, None, None, 0.2, None, None, 0.7,
    ]  # fmt: skip


def test_lines_come_in_pieces(form):
    follower = LineFollower(form)
    data = "".join(plain(1.78) + "\r\n" for _ in range(6)).encode()
    fates = [
        s.fate for k in range(0, len(data), 5) for s in follower.feed(data[k : k + 5], 0.1 * k)
    ]
    assert fates == ["still"] * 5
    assert split_lines(b"a\r\n\r\nb\x03\x02c") == (["a", "b"], b"\x02c")


@given(st.binary(max_size=300), st.sampled_from(range(len(LEARNT))))
def test_no_bytes_break_a_follower(data, which):
    form = learn(LEARNT[which], 0)
    follower = LineFollower(form)
    seen = follower.feed(data, 0.0) + follower.feed(data[::-1] + b"\r", 1.0)
    assert sum(follower.fates.values()) == len(seen)
    for line in seen:
        assert (line.count is None) == (line.fate in ("length", "characters"))


TEXT = st.text(st.characters(max_codepoint=255), max_size=30)
LIKE = st.builds(
    lambda mark, value, end: f"{mark}{value:8.2f}{end}",
    st.sampled_from("SU "), st.floats(-99, 99), st.sampled_from([" g", " kg", "", "%", "12"]),
)  # fmt: skip


@given(*[st.lists(st.one_of(TEXT, LIKE, st.just(plain(0))), max_size=8)] * 3, st.text(max_size=5))
def test_any_samples_are_learnt_or_refused(empty, moving, loaded, shown):
    try:
        form = learn_format(Samples(empty, moving, loaded), shown=shown)
    except InputError as error:
        said = [error.problems[0].remedy]
    else:
        assert form.shortest <= form.longest
        said = describe_format(form)
    assert all(said)


def test_a_line_that_comes_by_a_key_stands_by_itself(form):
    follower = LineFollower(form, by_key=True)
    assert follower.reading_g is None
    follower.line(plain(12.34), 0.0)
    assert (follower.reading_g, follower.rests) == (12.34, 1)
    follower.line(plain(12.34), 40.0)  # pressed again: another piece of the same mass
    assert (follower.reading_g, follower.rests) == (12.34, 2)
    follower.line(plain(7.8, "U"), 50.0)  # its mark says that it is not stable
    assert (follower.reading_g, follower.latest_g, follower.rests) == (None, 7.8, 2)
    follower.line("S   12,34 g", 60.0)  # not of the format
    assert (follower.reading_g, follower.dropped) == (None, 1)


def test_the_same_line_is_no_reading_where_lines_come_by_themselves(form):
    follower = LineFollower(form)
    follower.line(plain(12.34), 0.0)
    assert follower.reading_g is None
