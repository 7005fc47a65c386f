"""The demo's finished trial as a real package: simulated readings, fitted."""

import csv
import importlib

import pytest
from report_case import report_data

from beadworth.datapackage import check_truth, package_files, read_package
from beadworth.demo import FINISHED
from beadworth.store import open_bench
from beadworth.workflow import report_data as report_data_of

__all__ = ["demo_files", "report_data"]


@pytest.fixture(scope="session")
def demo_files(demo_copy, tmp_path_factory):
    with open_bench(demo_copy(tmp_path_factory.mktemp("packages"))) as bench:
        trial = next(t.id for t in bench.trials() if t.question == FINISHED.question)
        files = package_files(report_data_of(bench, trial))
    # whatever these import late is imported now: hypothesis draws from constants of what is
    check_truth(read_package(files))
    return Files(files)


class Files(dict):
    """Shown short: hypothesis prints what it was given."""

    def __repr__(self):
        return f"{len(self)} files"


@pytest.fixture
def frictionless():
    """The general-purpose library for data packages.

    Its import lets any table of the process have longer cells, which is taken back.
    """
    most = csv.field_size_limit()
    library = importlib.import_module("frictionless")
    yield library
    csv.field_size_limit(most)
