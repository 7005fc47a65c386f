"""Simulated trials, drawn by the same code the benchmarks use."""

import importlib.util
import sys
from pathlib import Path

import pytest
import shared_fits
from loops import some


def _load():
    path = Path(__file__).parents[2] / "benchmarks" / "capacity_truths.py"
    spec = importlib.util.spec_from_file_location("capacity_truths", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["capacity_truths"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(autouse=True, scope="module")
def own_fits():
    """Every test of the model fits itself, with the usual effort."""
    with shared_fits.effort("own"):
        yield


@pytest.fixture(scope="session")
def truths():
    return _load()


@pytest.fixture
def quick_fits(monkeypatch):
    """Fits with the effort spent at the balance, for tests that count many of them."""
    from beadworth.capacity.fitting import fit
    from beadworth.capacity.model.sampling import QUICK
    from beadworth.capacity.reading import next_coupons

    for module in (fit, next_coupons):
        monkeypatch.setattr(module, "weigh", _always(module.weigh, QUICK))


def _always(weigh, effort):
    """``weigh`` with this effort, whichever its caller names."""
    return lambda group, loss, **options: weigh(group, loss, **options | {"effort": effort})


@pytest.fixture
def short_fits(request):
    """The same, but with the usual effort in the long tests."""
    if some(True, long=False):
        request.getfixturevalue("quick_fits")
