"""The documentation of charts names every chart function there is, and none there is not."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

from beadworth.dossier import (
    charts,
    charts_ceiling,
    charts_check,
    charts_delivered,
    charts_forest,
    charts_life,
    charts_loss,
    charts_method,
    charts_residual,
    charts_speeds,
    charts_typical,
    charts_wear,
)

DOCS = Path(__file__).parents[2] / "docs"
MODULES = (
    charts_ceiling,
    charts_check,
    charts_delivered,
    charts_forest,
    charts_life,
    charts_loss,
    charts_method,
    charts_residual,
    charts_speeds,
    charts_typical,
    charts_wear,
)


def test_every_chart_is_in_the_reference():
    made = {
        f"{module.__name__.rpartition('.')[2]}.{name}"
        for module in MODULES
        for name, item in inspect.getmembers(module, inspect.isfunction)
        if name.endswith("_chart") and item.__module__ == module.__name__
    }
    page = (DOCS / "reference" / "charts.md").read_text(encoding="utf-8")
    assert made == set(re.findall(r"`(charts_\w+\.\w+_chart)`", page))
    assert f"`WIDE_PX` ({charts.WIDE_PX:.0f})" in page
    assert f"`NARROW_PX` ({charts.NARROW_PX:.0f})" in page


def test_python_of_the_how_to_names_what_exists():
    page = (DOCS / "how-to" / "publish-a-dossier.md").read_text(encoding="utf-8")
    for module, name in re.findall(r"from (beadworth[\w.]+) import (\w+)", page):
        assert hasattr(__import__(module, fromlist=[name]), name)
