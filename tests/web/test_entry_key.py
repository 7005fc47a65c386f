"""An entry over HTTP may bear a key, and may ask to be stored without a comparison (RFC 7240)."""

import pytest

from beadworth.core import from_mapping
from beadworth.trial import TrialSpec
from beadworth.workflow import make_plan


@pytest.fixture
def address(stocked, spec):
    asked = from_mapping(TrialSpec, spec, "test")
    trial = stocked.create_trial(asked, make_plan(stocked, asked)).id
    return f"/api/trials/{trial}/readings"


def test_sent_twice_it_counts_once(client, address):
    body = {"coupon": "A01", "mass_g": 1.7, "entry_key": "0123456789"}
    first = client.post(address, json=body)
    again = client.post(address, json=body)
    assert first.status_code == again.status_code == 201
    assert again.json()["reading_id"] == first.json()["reading_id"]
    other = client.post(address, json=body | {"mass_g": 1.6})
    assert other.status_code == 409
    assert client.post(address, json=body | {"entry_key": "short"}).status_code == 422
    assert len(client.get(address).json()["readings"]) == 1


@pytest.mark.parametrize(
    ("prefer", "minimal"),
    [
        ("return=minimal", True),
        ("Return = Minimal, wait=10", True),
        ("return=representation", False),
        ("", False),
    ],
)
def test_a_comparison_is_left_out_where_that_is_preferred(client, address, prefer, minimal):
    for n, coupon in enumerate(("A01", "A02", "A03")):
        body = {"coupon": coupon, "mass_g": 1.7 + n / 100}
        said = client.post(address, json=body, headers={"Prefer": prefer})
        assert said.status_code == 201
        assert said.headers.get("preference-applied") == ("return=minimal" if minimal else None)
        assert ("was not asked" in said.json()["sentence"]) is minimal
    assert len(client.get(address).json()["readings"]) == 3
