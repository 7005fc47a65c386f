"""Programs stay inside the rig; the sheet is whole; results go back into the rig."""

import re
from pathlib import Path

import pytest

from beadworth.bringup import BringUpResult, applied, move_correction, together
from beadworth.bringup.programs import (
    feed_program,
    heater_program,
    move_lengths,
    moves_program,
    square_program,
)
from beadworth.bringup.result import FeedAgreement, FeedResult, LossResult
from beadworth.bringup.sheet import bring_up_sheet, sheet_page
from beadworth.core.errors import LimitError
from beadworth.core.records import from_mapping, from_toml, to_mapping
from beadworth.gcode.writer import WORDS
from beadworth.material.library import generic
from beadworth.report.theme import tokens_css
from beadworth.rig import Rig

ROOT = Path(__file__).resolve().parents[2]
STILT = from_toml(Rig, (ROOT / "docs/examples/rig-stilt-stock.toml").read_text(), "stilt")
PLA = generic("PLA")


def programs():
    return {
        **{axis: moves_program(STILT, axis) for axis in "xyz"},
        "feed": feed_program(STILT, PLA, 215.0),
        "square": square_program(STILT, PLA, 215.0),
        "heater": heater_program(STILT, PLA, 215.0),
    }


def path(text):
    at = {"X": 0.0, "Y": 0.0, "Z": 0.0}
    for line in text.splitlines():
        if line.startswith(("G0", "G1")):
            at |= {w[0]: float(w[1:]) for w in re.findall(r"[XYZ]-?[\d.]+", line)}
            yield dict(at)


@pytest.mark.parametrize("name", ["x", "y", "z", "feed", "square", "heater"])
def test_programs_stay_inside_and_mind_the_person(name):
    text = programs()[name]
    for line in text.splitlines():
        assert line.startswith(";") or not line or line.split()[0] in WORDS
        assert line.isascii()
    for at in path(text):
        assert 0 <= at["X"] <= 220
        assert 0 <= at["Y"] <= 220
        assert 0 <= at["Z"] <= 240
    assert "power switch" in text
    hot = "M104 S215" in text or "M109 S215" in text
    assert hot == (name not in "xyz")
    if hot:
        assert "licensed people under your local codes" in text
        assert text.index("M104 S0") > text.rindex("S215"), "heaters go off at the end"


def test_lengths_are_approached_from_one_side():
    xs = [at["X"] for at in path(moves_program(STILT, "x"))][4:]
    lengths = move_lengths(STILT, "x")
    assert xs[1::2] == [5 + length for length in lengths]
    assert all(b - a == 5 for a, b in zip(xs[::2], xs[1::2], strict=True))


def test_z_is_brought_down_before_the_motors_let_go():
    assert list(path(moves_program(STILT, "z")))[-1]["Z"] == 20


def test_the_feed_program_feeds_what_it_says():
    text = feed_program(STILT, PLA, 215.0)
    fed = sum(float(e) for e in re.findall(r"E([\d.]+)", text))
    assert fed == pytest.approx(20 + 3 * 100)


def test_what_leaves_the_limits_is_refused():
    with pytest.raises(LimitError, match="above the limit"):
        heater_program(STILT, PLA, 300.0)
    with pytest.raises(LimitError, match="leaves the build volume"):
        moves_program(STILT, "x", [50.0, 400.0])
    bare = STILT.model_copy(update={"build_volume": None})
    for make in (lambda: moves_program(bare, "x"), lambda: feed_program(bare, PLA, 215.0)):
        with pytest.raises(LimitError, match="build volume is not recorded"):
            make()


def test_the_sheet_knows_the_rig_and_survives_an_empty_one():
    words = str(bring_up_sheet(STILT))
    assert "14.4 Ω" in words
    assert "of x from its mechanics: 80." in words
    assert "of z from its mechanics: 400." in words
    assert len(bring_up_sheet(Rig(name="A")).sections) == len(bring_up_sheet(STILT).sections)


def test_the_page_needs_nothing_else_and_escapes_names():
    page = sheet_page(bring_up_sheet(Rig(name="<b>&'\"")), tokens_css())
    assert "<b>" not in page
    assert not re.findall(r"(?:src|href)=|url\(|@import", page)
    assert page.count('type="checkbox"') == sum(
        len(s.steps) for s in bring_up_sheet(Rig(name="A")).sections
    )


@pytest.mark.browser
def test_the_page_in_a_browser(visit):
    visit(sheet_page(bring_up_sheet(STILT), tokens_css())).check_both()


def test_of_several_bring_ups_the_newest_of_each_measurement_counts():
    def moves(axis, factor):
        lengths = (30.0, 75.0, 120.0, 200.0)
        return move_correction(axis, lengths, [factor * c for c in lengths], steps_per_mm=80.0,
                               reading_u_mm=0.05)  # fmt: skip

    first = BringUpResult(rig="A", axes=(moves("y", 1.0), moves("x", 1.02)), note="before")
    loss = LossResult(temperature_c=200.0, duty=0.3, power_w=12.0, loss_w_k=0.068,
                      u_loss_w_k=0.004, seconds=300.0)  # fmt: skip
    second = BringUpResult(rig="A", axes=(moves("x", 1.01),), loss=loss)
    both = together([first, second])
    assert [axis.axis for axis in both.axes] == ["x", "y"]
    assert both.axes[0] == second.axes[0]
    assert (both.loss, both.note) == (loss, "before")
    assert from_mapping(BringUpResult, to_mapping(both), "r") == both


def test_results_go_back_into_the_rig_marked_measured():
    lengths = (30.0, 75.0, 120.0, 200.0)
    off = move_correction("x", lengths, [1.01 * c for c in lengths], steps_per_mm=80.0,
                          reading_u_mm=0.05)  # fmt: skip
    fine = move_correction("y", lengths, lengths, steps_per_mm=80.0, reading_u_mm=0.05)
    feed = FeedAgreement(
        difference=0.0, en=0.0, agree=True, significant=False, advice="", steps_now=418.6,
        steps_per_mm=420.0, u_steps_per_mm=1.0,
        result=FeedResult(method="mark and measure", factor=1.0, u=0.01, readings=3, dof=2.0),
    )  # fmt: skip
    loss = LossResult(temperature_c=200.0, duty=0.3, power_w=12.0, loss_w_k=0.068,
                      u_loss_w_k=0.004, seconds=300.0)  # fmt: skip
    result = BringUpResult(rig=STILT.name, axes=(off, fine), feed=feed, loss=loss)
    assert from_mapping(BringUpResult, to_mapping(result), "r") == result
    rig = applied(STILT, result)
    assert rig.axes.x.steps_per_mm == pytest.approx(80 / 1.01)
    assert rig.known["axes.x.steps_per_mm"].origin == "measured"
    assert rig.axes.y.steps_per_mm == 80
    assert "axes.y.steps_per_mm" not in rig.known
    assert rig.extruder.steps_per_mm == 418.6
    assert rig.hot_end.standing_loss_w_k == 0.068
    assert rig.known["hot_end.standing_loss_w_k"].u == 0.004
    assert (rig.name, rig.parent, rig.note) == (STILT.name, STILT.parent, STILT.note)
