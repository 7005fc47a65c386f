"""One fit for all replay tests."""

import pytest


@pytest.fixture(scope="session")
def fit():
    from replay_support import make_fit

    return make_fit()
