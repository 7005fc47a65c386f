"""The documentation of charts names every chart function there is, and none there is not."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

from beadworth.report import charts
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX

DOCS = Path(__file__).parents[2] / "docs"


def test_every_chart_is_in_the_reference():
    found = pkgutil.walk_packages(charts.__path__, f"{charts.__name__}.")
    modules = [importlib.import_module(item.name) for item in found if not item.ispkg]
    made = {
        f"{module.__name__.removeprefix(charts.__name__ + '.')}.{name}"
        for module in modules
        for name, item in inspect.getmembers(module, inspect.isfunction)
        if name.endswith("_chart") and item.__module__ == module.__name__
    }
    assert len(made) > 25
    page = (DOCS / "reference" / "charts.md").read_text(encoding="utf-8")
    assert made == set(re.findall(r"`(\w+\.\w+\.\w+_chart)`", page))
    assert f"`WIDE_PX` ({WIDE_PX:.0f}" in page
    assert f"`NARROW_PX` ({NARROW_PX:.0f})" in page


def test_python_of_the_how_to_names_what_exists():
    page = (DOCS / "how-to" / "publish-a-dossier.md").read_text(encoding="utf-8")
    for module, name in re.findall(r"from (beadworth[\w.]+) import (\w+)", page):
        assert hasattr(__import__(module, fromlist=[name]), name)
