"""Tests of the model itself work their draws out, each of them."""

import pytest
import shared_fits


@pytest.fixture(autouse=True, scope="module")
def own_draws():
    with shared_fits.effort("own"):
        yield
