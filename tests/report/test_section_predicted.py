"""Predictions of a trial's rigs in its dossier, beside what was weighed."""

import dataclasses
from types import SimpleNamespace

import pytest
from chart_support import check_drawn
from few_draws import few_draws
from report_case import NEW, OLD, TEMPERATURES, TRUE, with_prediction

from beadworth.capacity import Ceiling
from beadworth.material import generic
from beadworth.melt import predict
from beadworth.report.blocks import Cell, Figure, Paragraph, Table
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.render.html import render_section
from beadworth.report.sections import worth
from beadworth.report.sections.predicted import HOW, SECTION, TRUST, against
from beadworth.workflow.predicted import lacking, predicted_rigs


@pytest.fixture(autouse=True, scope="module")
def few():
    """A tenth of the draws, in the section and in what it is held against."""
    with few_draws():
        yield


@pytest.fixture(scope="module")
def data(report_data):
    return with_prediction(report_data)


@pytest.fixture(scope="module")
def blocks(data):
    return SECTION.blocks(data)


def said(blocks):
    return [f"{b.lead} {b.text}".strip() for b in blocks if isinstance(b, Paragraph)]


def test_the_flow_at_the_loss_stands_beside_the_weighed_one(blocks, data):
    (table,) = [b for b in blocks if isinstance(b, Table)]
    assert [name for name, _ in table.groups] == [OLD, NEW]
    for rig, (name, rows) in zip(data.rigs, table.groups, strict=True):
        for celsius, row in zip(TEMPERATURES, rows, strict=True):
            alone = predict(rig, generic("PLA"), celsius)
            predicted, weighed, lies, slips = row.cells
            assert predicted.value == f"{alone.at_loss_mm3_s:.1f}"
            assert predicted.beside == f"{alone.at_loss_low:.1f} to {alone.at_loss_high:.1f}"
            assert slips.value == f"{alone.ceiling_mm3_s:.1f}"
            assert isinstance(weighed, Cell)
            assert float(weighed.value) == TRUE[name][celsius]
            assert lies == "inside"
    assert said(blocks)[0] == "Of 6 weighed ceilings, all lie inside the predicted interval."
    assert said(blocks)[-1] == HOW


def test_a_sentence_says_what_the_interval_is_made_of_and_what_narrows_it(blocks, data):
    found = data.section_data["predicted"][0]
    for rig in (OLD, NEW):
        (sentence,) = [text for text in said(blocks) if text.startswith(f"{rig}.")]
        p = next(p for p in found.predictions if (p.rig, p.temperature_c) == (rig, 220.0))
        assert f"Most of the interval comes from {p.shares[0].of} " in sentence
        assert p.measurements[0].is_ladder
        grip = p.measurements[1]
        assert grip.name == "grip by a pull"
        assert " of its width, which this trial did; short of it grip by a pull, to " in sentence
        assert sentence.endswith(f"{round(100 * grip.width)}\u00a0%.")


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_its_pictures_are_drawn_with_words_for_each(px, blocks):
    charts = [b.chart for b in blocks if isinstance(b, Figure)]
    assert [c.name for c in charts] == ["predicted-force", "predicted-inside", "predicted-shares"]
    for chart in charts:
        check_drawn(chart, px)
        assert chart.caption.startswith("Predicted, not measured.")


@pytest.mark.parametrize(
    ("low", "flow", "high", "bound", "expected"),
    [
        (4.9, 5.0, 5.1, "interval", "inside"),
        (9.9, 10.0, 10.1, "interval", "inside"),
        (9.99, 10.1, 10.2, "interval", "at its edge"),
        (10.01, 10.1, 10.2, "interval", "above"),
        (4.8, 4.9, 5.01, "interval", "at its edge"),
        (4.8, 4.9, 4.99, "interval", "below"),
        (10.01, None, None, "at-least", "above"),
        (9.99, None, None, "at-least", "cannot tell"),
        (None, None, 4.99, "at-most", "below"),
        (None, None, 5.01, "at-most", "cannot tell"),
    ],
)
def test_a_weighed_ceiling_is_held_against_the_predicted_interval(low, flow, high, bound, expected):
    predicted = SimpleNamespace(at_loss_low=5.0, at_loss_high=10.0)
    weighed = Ceiling("a", "b", 220.0, 0.02, flow, low, high, bound)
    assert against(predicted, weighed) == expected
    assert against(predicted, None) == "cannot tell"


def test_ceilings_outside_are_counted_and_the_weighed_ones_hold(data):
    (found,) = data.section_data["predicted"]
    far = tuple(
        dataclasses.replace(c, flow_mm3_s=90.0, low=89.0, high=91.0) if c.rig == OLD else c
        for c in found.weighed
    )
    blocks = SECTION.blocks(_only(dataclasses.replace(found, weighed=far)))
    assert said(blocks)[0] == (
        f"Of 6 weighed ceilings, 3 lie inside the predicted interval and 3 above it. {TRUST}"
    )


def test_a_rig_whose_record_does_not_suffice_says_what_it_lacks_in_one_line(data):
    stock, long = data.rigs
    bare = stock.model_copy(
        update={"hot_end": stock.hot_end.model_copy(update={"bore_mm": None, "melt_zone_mm": None})}
    )
    found = predicted_rigs((bare, long), generic("PLA"), data.ceilings, 0.02)
    line = "Not predicted: the records lack heated length of the bore and bore of the melt zone."
    assert found.missing == ((OLD, line),)
    assert {p.rig for p in found.predictions} == {NEW}
    assert f"{OLD}. {line}" in said(SECTION.blocks(_only(found)))
    nobody = predicted_rigs((bare,), generic("PLA"), data.ceilings[:3], 0.02)
    assert said(SECTION.blocks(_only(nobody))) == [f"{OLD}. {line}"]
    wide = stock.model_copy(update={"hot_end": stock.hot_end.model_copy(update={"bore_mm": 0.3})})
    blank = generic("PLA").model_copy(update={"softening_c": None})
    assert lacking(wide, blank) == (
        "Not predicted: the records lack softening temperature; the nozzle (0.4 mm) is not "
        "narrower than the bore (0.3 mm)."
    )
    assert lacking(stock, generic("PLA")) == ""


def test_without_data_the_section_leaves_itself_out(report_data):
    assert SECTION.blocks(report_data) is None
    assert "Of 6 weighed" in render_section(with_prediction(report_data), "predicted")


def _only(found):
    return SimpleNamespace(section_data={"predicted": (found,)})


def test_a_source_that_two_sections_cite_is_listed_once():
    assert set(SECTION.references) <= set(worth.SECTION.references)
