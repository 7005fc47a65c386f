"""A chart laid out for its place: within it, filling it, its type as large as asked."""

from __future__ import annotations

import re

import pytest

from beadworth.report.render.figure_layout import laid_out
from beadworth.report.render.figures import pictures


def type_sizes(svg):
    return {float(size) for size in re.findall(r'font-size="([\d.]+)px"', svg)}


@pytest.mark.parametrize("free", [300.0, 420.0])
def test_a_chart_of_one_plot_fills_its_place_and_stays_within(free, report_data):
    (drift,) = [one for one in pictures(report_data) if one.name == "drift"]
    _, wide, high = laid_out(drift.chart, 700.0, free, 1.0)
    assert wide <= 700.5
    assert 0.86 * free <= high <= free


def test_plots_grow_and_type_does_not_unless_asked(report_data):
    (loss,) = [one for one in pictures(report_data) if one.name == "loss"]
    low, _, low_px = laid_out(loss.chart, 800.0, 300.0, 1.0)
    high, _, high_px = laid_out(loss.chart, 800.0, 450.0, 1.0)
    assert high_px > 1.3 * low_px
    assert type_sizes(low) == type_sizes(high)
    larger, _, _ = laid_out(loss.chart, 800.0, 450.0, 1.25)
    assert type_sizes(larger) == {1.25 * size for size in type_sizes(high)}
