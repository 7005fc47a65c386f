"""What tests of commands share."""

import os
from pathlib import Path

import pytest
import shared_fits
from cli_support import call_main
from nursery import Nursery


@pytest.fixture
def beadworth():
    """Call ``beadworth`` with arguments; what is typed goes in as ``typed``."""
    return lambda *arguments, typed="": call_main(arguments, typed)


@pytest.fixture(scope="session")
def nursery():
    """A process that has loaded the application, to fork those from that run on their own."""
    one = Nursery(Path(os.environ[shared_fits.FOLDER]))
    yield one
    one.close()


@pytest.fixture(scope="module")
def demo_bench(demo_copy, tmp_path_factory):
    """The file of a bench with the demo's trials."""
    return demo_copy(tmp_path_factory.mktemp("demo"))
