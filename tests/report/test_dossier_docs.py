"""The documentation of charts names every chart function there is, and none there is not."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

from beadworth import report as dossier
from beadworth.report.charts import chart as charts

DOCS = Path(__file__).parents[2] / "docs"
MODULES = [
    importlib.import_module(f"beadworth.report.{found.name}")
    for found in pkgutil.iter_modules(dossier.__path__)
    if found.name.startswith("charts_")
]


def test_every_chart_is_in_the_reference():
    made = {
        f"{module.__name__.rpartition('.')[2]}.{name}"
        for module in MODULES
        for name, item in inspect.getmembers(module, inspect.isfunction)
        if name.endswith("_chart") and item.__module__ == module.__name__
    }
    assert len(made) > 25
    page = (DOCS / "reference" / "charts.md").read_text(encoding="utf-8")
    assert made == set(re.findall(r"`(charts_\w+\.\w+_chart)`", page))
    assert f"`WIDE_PX` ({charts.WIDE_PX:.0f})" in page
    assert f"`NARROW_PX` ({charts.NARROW_PX:.0f})" in page


def test_python_of_the_how_to_names_what_exists():
    page = (DOCS / "how-to" / "publish-a-dossier.md").read_text(encoding="utf-8")
    for module, name in re.findall(r"from (beadworth[\w.]+) import (\w+)", page):
        assert hasattr(__import__(module, fromlist=[name]), name)
