"""Charts: valid specs, titles and alt text made from the data, golden specs, nothing clipped."""

from __future__ import annotations

import dataclasses
import json
import os
import re
from pathlib import Path

import numpy as np
import pytest

from beadworth.capacity import Ceiling
from beadworth.report.charts.chart import (
    NARROW_PX,
    WIDE_PX,
    inline_svg,
    render_png,
    render_svg,
    with_theme,
)
from beadworth.report.charts.trial.ceiling import ceiling_chart, comparison_chart
from beadworth.report.charts.trial.delivered import delivered_chart
from beadworth.report.charts.trial.live import live_chart
from beadworth.report.charts.trial.loss import loss_chart
from beadworth.report.charts.trial.method import _trend, budget_chart, drift_chart
from beadworth.report.charts.trial.residual import residual_chart
from beadworth.report.charts.trial.speeds import speeds_chart
from beadworth.report.data import with_losses
from beadworth.text import fixed

GOLDEN = Path(__file__).parent / "golden"
WIDTHS = (WIDE_PX, NARROW_PX)
NAMES = (
    "loss", "delivered", "residuals", "ceilings", "comparison", "budget", "drift", "speeds",
)  # fmt: skip
# Text the browser lays out, measured where it really stands, against the picture's own frame.
CLIPPED = """() => [...document.querySelectorAll('svg')].flatMap(svg => {
  const frame = svg.getBoundingClientRect();
  return [...svg.querySelectorAll('text')].filter(t => {
    const b = t.getBoundingClientRect();
    return b.width && (b.left < frame.left - 1 || b.right > frame.right + 1 ||
                       b.top < frame.top - 1 || b.bottom > frame.bottom + 1);
  }).map(t => t.textContent);
})"""


def make(name, data):
    new = data.candidate
    return {
        "loss": lambda: loss_chart(data.groups, data.entries, data.ceilings),
        "delivered": lambda: delivered_chart(data.groups, data.entries),
        "residuals": lambda: residual_chart(data.groups),
        "ceilings": lambda: ceiling_chart(data.ceilings, data.law_ceilings),
        "comparison": lambda: comparison_chart(
            data.differences, baseline=data.baseline, candidate=new
        ),
        "budget": lambda: budget_chart(data.plan.budget),
        "drift": lambda: drift_chart(data.entries),
        "speeds": lambda: speeds_chart(data.speeds, new, reserve=0.1),
    }[name]()


@pytest.fixture(scope="module")
def drawn():
    """Pictures that were drawn already, by name and width."""
    return {}


def compiled(chart, capfd, width=WIDE_PX):
    """The SVG, and whatever the compiler complained about."""
    import vl_convert

    spec = with_theme(chart, width_px=width)
    svg = vl_convert.vegalite_to_svg(spec, vl_version="6.4", show_warnings=True)
    out, err = capfd.readouterr()
    return svg, (out + err).strip()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", NAMES)
def test_spec_compiles_without_a_warning(name, width, report_data, capfd, drawn):
    svg, said = compiled(make(name, report_data), capfd, width)
    drawn[name, width] = svg
    assert said == ""
    assert svg.count("<path") > 3


def test_the_warning_check_hears_a_wrong_spec(report_data, capfd):
    chart = make("drift", report_data)
    wrong = json.loads(json.dumps(chart.draw()))
    wrong["layer"][1]["mark"] = "bar"
    wrong["layer"][1]["encoding"]["shape"] = {"field": "rig"}
    _, said = compiled(dataclasses.replace(chart, spec=lambda px: wrong), capfd)
    assert "shape" in said


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", NAMES)
def test_picture_is_about_as_wide_as_asked(name, width, report_data):
    svg = render_svg(make(name, report_data), width_px=width, title=False)
    drawn = float(re.search(r'width="([\d.]+)"', svg).group(1))
    assert 0.75 * width < drawn < 1.06 * width


@pytest.mark.parametrize("name", NAMES)
def test_alt_text_and_title_are_of_the_data(name, report_data):
    chart = make(name, report_data)
    assert len(chart.alt) > 60
    assert chart.alt.endswith(".")
    assert re.search(r"\d", chart.title)
    assert not chart.title.endswith(".")
    for bad in ("nan", "None", "inf", "<", "{"):
        assert bad not in chart.alt
        assert bad not in chart.title


def test_alt_text_follows_the_data(report_data):
    chart = make("loss", report_data)
    assert "17.9" in chart.alt
    moved = tuple(
        dataclasses.replace(c, flow_mm3_s=25.7, low=25.0, high=26.1)
        if c.rig == report_data.candidate and c.temperature_c == 220.0
        else c
        for c in report_data.ceilings
    )
    again = make("loss", dataclasses.replace(report_data, ceilings=moved))
    assert "25.7\u00a0mm³/s (25.0 to 26.1)" in again.alt
    assert again.title != chart.title


def test_data_is_plain_json(report_data):
    for name in NAMES:
        spec = make(name, report_data).draw()
        assert json.loads(json.dumps(spec, allow_nan=False)) == spec
        assert "config" not in spec


def test_no_chart_names_a_colour(report_data):
    """Colours live in the theme alone, so that a mode cannot be forgotten."""
    for name in NAMES:
        assert not re.search(r"#[0-9a-fA-F]{6}", json.dumps(make(name, report_data).draw()))


def test_voided_readings_are_drawn_apart_and_kept_out(report_data):
    chart = make("loss", report_data)
    voided = [row for row in chart.rows if row["part"] == "voided"]
    assert len(voided) == 2
    assert "2 readings voided or superseded" in chart.caption
    assert "113 readings and 2 voided" in chart.alt


def test_a_voided_reading_without_a_loss_gets_its_own_place(report_data):
    bare = [dataclasses.replace(e, loss=None, u_loss=None) for e in report_data.entries]
    shown = with_losses(bare, report_data.groups)
    for entry in shown:
        if entry.state == "current":
            assert entry.loss is None
        else:
            # 2.94 g per metre of the block's references, 600 mm fed
            assert entry.loss == pytest.approx(1 - entry.reading.net_g / (2.94 * 0.6), abs=1e-9)


def test_one_sided_ceilings_are_arrows(report_data):
    stuff = report_data.ceilings[0].material
    ceilings = [
        Ceiling("A", stuff, 210.0, 0.02, None, 21.0, None, "at-least"),
        Ceiling("A", stuff, 230.0, 0.02, None, None, 9.0, "at-most"),
        Ceiling("A", stuff, 220.0, 0.02, 13.0, 12.5, 13.5, "interval"),
    ]
    chart = ceiling_chart(ceilings)
    parts = {row["part"]: row for row in chart.rows}
    assert parts["at-least"]["text"] == "≥ 21.0"
    assert parts["at-most"]["text"] == "≤ 9.0"
    assert "triangle points" in chart.caption
    assert "at least 21.0" in chart.alt
    assert "at most 9.0" in chart.alt
    assert render_svg(chart)


def test_unresolved_difference_is_called_that(report_data):
    row = dataclasses.replace(
        report_data.differences[0], difference_mm3_s=0.1, low=-0.4, high=0.6, resolved=False
    )
    chart = comparison_chart([row], baseline="a", candidate="b")
    assert chart.title == "The trial cannot tell the two ceilings apart"
    assert "not resolved" in chart.alt


def test_empty_data_still_draws():
    for chart in (
        loss_chart([], [], []),
        delivered_chart([], []),
        ceiling_chart([]),
        comparison_chart([], baseline="a", candidate="b"),
        drift_chart([]),
        residual_chart([]),
        speeds_chart([], "a", reserve=0.1),
    ):
        assert chart.title
        assert render_svg(chart).startswith("<svg")


@pytest.mark.parametrize("name", NAMES)
def test_specs_match_the_stored_ones(name, report_data):
    """Set BEADWORTH_GOLDEN=1 to write them anew, then read the difference."""
    stored = GOLDEN / f"{name}.json"
    chart = make(name, report_data)
    # a few rows of the data say enough; the rest is a great deal of numbers
    spec = {**chart.draw(), "data": {"values": chart.rows[:3] + chart.rows[-3:]}}
    told = {"title": chart.title, "caption": chart.caption, "alt": chart.alt, "spec": spec}
    text = json.dumps(told, indent=1, ensure_ascii=False, sort_keys=True) + "\n"
    if os.environ.get("BEADWORTH_GOLDEN"):
        stored.write_text(text, encoding="utf-8")
    assert stored.read_text(encoding="utf-8") == text


def test_png_is_of_the_size_asked(report_data):
    import struct

    chart = make("ceilings", report_data)
    one, two = (render_png(chart, scale=scale) for scale in (1.0, 2.0))
    width = [struct.unpack(">I", png[16:20])[0] for png in (one, two)]
    assert abs(width[1] - 2 * width[0]) <= 2


def test_pictures_of_one_page_do_not_share_identifiers(report_data):
    chart = make("loss", report_data)
    spec = with_theme(chart)
    pictures = [inline_svg(spec, chart.alt, prefix) for prefix in ("a", "b")]
    found = [set(re.findall(r'\bid="([^"]+)"', text)) for text in pictures]
    assert found[0]
    assert not found[0] & found[1]
    for text, ids in zip(pictures, found, strict=True):
        assert set(re.findall(r"url\(#([^)]+)\)", text)) <= ids


@pytest.mark.browser
def test_no_text_is_clipped_in_the_browser(report_data, visit, drawn):
    for width in WIDTHS:
        pictures = "".join(
            drawn.get((name, width)) or render_svg(make(name, report_data), width_px=width)
            for name in NAMES
        )
        seen = visit(
            f"<!doctype html><html lang='en'><title>t</title><body>{pictures}</body></html>"
        )
        assert seen.page.evaluate(CLIPPED) == []


@pytest.mark.browser
def test_the_clipping_check_sees_a_cut_word(visit):
    cut = "<svg width='40' height='20'><text x='20' y='15'>commanded flow</text></svg>"
    seen = visit(f"<!doctype html><html lang='en'><title>t</title><body>{cut}</body></html>")
    assert seen.page.evaluate(CLIPPED) == ["commanded flow"]


def test_nothing_is_drawn_or_said_beyond_the_flows_weighed(report_data):
    """A curve reaches further than the coupons; the picture and its title do not."""
    cut = tuple(
        dataclasses.replace(
            group,
            curves=tuple(
                dataclasses.replace(c, tested_low_mm3_s=4.0, tested_high_mm3_s=15.0)
                for c in group.curves
            ),
        )
        for group in report_data.groups
    )
    kept = [e for e in report_data.entries if e.reading.flow_mm3_s <= 15.0]
    for chart in (loss_chart(cut, kept, []), delivered_chart(cut, kept)):
        drawn = [row for row in chart.rows if row["part"] in ("band", "curve")]
        assert max(row["flow_mm3_s"] for row in drawn) == 15.0
    assert delivered_chart(cut, kept).title.startswith("Asked for 15.0 mm³/s")


def test_two_materials_of_one_rig_are_two_lines(report_data):
    def of_second(one):
        return dataclasses.replace(one, material="PETG")

    first = report_data.groups[0]
    curves = tuple(map(of_second, first.curves))
    second = dataclasses.replace(first, material="PETG", curves=curves)
    own = [e for e in report_data.entries if e.reading.rig == first.rig]
    other = [dataclasses.replace(e, reading=of_second(e.reading)) for e in own]
    ceilings = [c for c in report_data.ceilings if c.rig == first.rig]
    told = {f"{first.rig}, {first.material}", f"{first.rig}, PETG"}

    both = live_chart([first, second], [*own, *other],
                      [*ceilings, *map(of_second, ceilings)], loss=0.05)  # fmt: skip
    drawn = both.rows
    for part in ("band", "reading", "ceiling"):
        assert {row["rig"] for row in drawn if row["part"] == part} == told, part
    assert {row["place"] for row in drawn if row["part"] == "band"} == {0, 1}
    names = [row["text"] for row in drawn if row["part"] == "name"]
    assert len(names) == len(set(names))
    assert any(name.endswith("°C, PETG") for name in names)

    alone = live_chart([first], own, ceilings, loss=0.05).rows
    assert {row["rig"] for row in alone} == {first.rig}
    assert all(row["text"].endswith("°C") for row in alone if row["part"] == "name")


def test_the_law_beyond_the_tested_range_is_two_lines_that_meet_it(report_data):
    rows = ceiling_chart(report_data.ceilings, report_data.law_ceilings).rows
    one = [row for row in rows if row["rig"] == report_data.candidate]
    inside = [r["temperature_c"] for r in one if r["part"] == "law" and not r["extrapolated"]]
    below, above = (
        [r["temperature_c"] for r in one if r["part"] == "beyond" and r["side"] == side]
        for side in ("below", "above")
    )
    assert max(below) == min(inside)
    assert min(above) == max(inside)
    assert min(below) == 200.0
    assert max(above) == 240.0


def test_drift_is_spoken_of_where_a_library_finds_a_slope():
    from scipy.stats import linregress

    rng = np.random.default_rng(5)
    spoken = 0
    for n in (3, 6, 20):
        for slope in (0.0, 0.001, 0.004) * 8:
            order = np.arange(n) * 2.0
            away = slope * order + 0.01 * rng.standard_normal(n)
            rows = [{"order": o, "deviation": d} for o, d in zip(order, away, strict=True)]
            found = linregress(order, away)
            said = _trend(rows)
            if found.pvalue < 0.05:
                spoken += 1
                assert f"drift by {fixed(100 * found.slope * np.ptp(order), 2)}" in said
            else:
                assert said == "show no drift that stands out"
    assert 8 < spoken < 60
    assert _trend([{"order": 1, "deviation": 0.1}] * 3) == "show no drift that stands out"
