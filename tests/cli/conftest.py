"""What tests of commands share."""

import pytest
from cli_support import call_main


@pytest.fixture
def beadworth():
    """Call ``beadworth`` with arguments; what is typed goes in as ``typed``."""
    return lambda *arguments, typed="": call_main(arguments, typed)


@pytest.fixture(scope="module")
def demo_bench(demo_copy, tmp_path_factory):
    """The file of a bench with the demo's trials."""
    return demo_copy(tmp_path_factory.mktemp("demo"))
