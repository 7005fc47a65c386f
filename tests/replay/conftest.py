"""One fit for all replay tests."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))  # replay_support


@pytest.fixture(scope="session")
def fit():
    from replay_support import make_fit

    return make_fit()
