"""The JSON interface: what it gives, what it refuses, and that it always says so in one shape."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from loops import some

from beadworth.core.records import from_mapping
from beadworth.trial import TrialSpec
from beadworth.web import app as app_factory
from beadworth.web import create_app
from beadworth.workflow.trial import make_plan

CSV = (
    "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g,reference\n"
    "A,P,220,4,600,1.780,1\nA,P,220,4,600,1.790,1\nA,P,220,8,600,1.780,\nA,P,220,8,600,1.785,\n"
    "A,P,220,12,600,1.775,\nA,P,220,12,600,1.780,\nA,P,220,16,600,1.640,\nA,P,220,16,600,1.650,\n"
    "A,P,220,20,600,1.400,\nA,P,220,20,600,1.410,\n"
)


@pytest.fixture(scope="module")
def planned():
    """What the first test to need a trial planned, for those after it."""
    return {}


@pytest.fixture
def trial(stocked, spec, planned):
    if not planned:
        planned["spec"] = from_mapping(TrialSpec, spec, "test")
        planned["plan"] = make_plan(stocked, planned["spec"])
    return stocked.create_trial(planned["spec"], planned["plan"]).id


def test_records_in_and_out(client, stocked, records):
    body = client.get("/api/rigs").json()
    assert {rig["name"] for rig in body["rigs"]} == {rig.name for rig in records["rigs"]}
    rig = client.get(f"/api/rigs/{records['rigs'][0].name}").json()
    rig["hot_end"]["nozzle_mm"] = 0.6
    assert client.post("/api/rigs", json=rig).status_code == 201
    assert stocked.rig(rig["name"]).hot_end.nozzle_mm == 0.6


def test_a_plan_is_worked_out_without_being_kept(client, stocked, spec):
    body = client.post("/api/plan", json=spec).json()
    assert body["plan"]["digest"]
    assert stocked.trials() == []


def test_the_whole_job_over_json(client, stocked, spec):
    made = client.post("/api/trials", json=spec)
    assert made.status_code == 201
    trial = made.json()["trial"]
    coupons = client.get(f"/api/trials/{trial}/sheet").json()["coupons"]
    first = coupons[0]["coupon"]
    said = client.post(f"/api/trials/{trial}/readings", json={"coupon": first, "mass_g": 1.77})
    assert said.status_code == 201
    assert said.json()["coupon"] == first
    number = said.json()["reading_id"]
    void = client.post(f"/api/trials/{trial}/readings/{number}/void", json={"reason": "mistyped"})
    assert void.json()["state"] == "voided"
    (kept,) = client.get(f"/api/trials/{trial}/readings").json()["readings"]
    assert (kept["state"], kept["reason"]) == ("voided", "mistyped")
    assert client.get(f"/api/trials/{trial}").json()["locked_at"]


def test_a_bare_table_gives_ceilings_at_once(client):
    headers = {"Content-Type": "text/csv"}
    question = {"question": "What does this table say?"}
    made = client.post("/api/import", content=CSV.encode(), params=question, headers=headers)
    assert made.status_code == 201, made.text
    assert made.json()["readings"] == 10
    fit = client.get(f"/api/trials/{made.json()['trial']}/fit", params={"loss": 0.05}).json()
    (ceiling,) = fit["ceilings"]
    assert ceiling["loss"] == 0.05
    assert 12 < ceiling["flow_mm3_s"] < 17


def test_not_found(client, stocked, trial, refusal):
    refusal(client.get("/api/rigs/nobody"), 404, "not-found", mentions=["nobody"])
    refusal(client.get("/api/materials/nothing"), 404, "not-found")
    refusal(client.get("/api/nowhere"), 404, "not-found")
    for path in ("", "/sheet", "/readings", "/fit", "/speeds", "/next"):
        refusal(client.get(f"/api/trials/no-such{path}"), 404, "not-found", mentions=["no-such"])
    body = {"coupon": "Z99", "mass_g": 1.0}
    refusal(client.post(f"/api/trials/{trial}/readings", json=body), 404, "not-found")
    path = f"/api/trials/{trial}/readings/99/void"
    refusal(client.post(path, json={"reason": "x"}), 404, "not-found")


def test_conflicts(client, stocked, trial, refusal):
    coupon = stocked.coupons(trial)[0].coupon
    path = f"/api/trials/{trial}/readings"
    body = {"coupon": coupon, "mass_g": 1.77}
    number = client.post(path, json=body).json()["reading_id"]
    refusal(client.post(path, json=body | {"mass_g": 1.5}), 409, "conflict", mentions=[coupon])
    client.post(f"{path}/{number}/void", json={"reason": "torn"})
    refusal(client.post(f"{path}/{number}/void", json={"reason": "torn"}), 409, "conflict")


def test_inputs_that_cannot_be_used_name_all_that_is_wrong(client, stocked, trial, spec, refusal):
    error = refusal(client.post("/api/rigs", json={"nam": "x", "price": -1}), 422, "record")
    assert len(error["problems"]) == 3
    hot = spec | {"temperatures_c": [210.0, 500.0]}
    refusal(client.post("/api/plan", json=hot), 422, "limit", mentions=["500"])
    coupon = stocked.coupons(trial)[0].coupon
    body = {"coupon": coupon, "mass_g": 5000.0}
    path = f"/api/trials/{trial}/readings"
    refusal(client.post(path, json=body), 422, "readings", mentions=["5000"])
    refusal(client.post("/api/rigs", json=[1]), 422, "input")
    refusal(client.get(f"/api/trials/{trial}/fit"), 422, "fit")
    error = refusal(
        client.get(f"/api/trials/{trial}/fit?loss=lots"), 422, "input", mentions=["lots"]
    )
    assert error["problems"][0]["path"] == {"source": "query", "field": ["loss"]}
    refusal(client.get(f"/api/trials/{trial}/fit?loss=0.7"), 422, "input")
    table = {"Content-Type": "text/csv"}
    bad = client.post(f"/api/trials/{trial}/import", content=b"a,b\n1,2\n", headers=table)
    refusal(bad, 422, "readings")
    assert stocked.readings(trial) == []


def test_malformed_and_too_large_and_foreign(client, refusal):
    for content in (b"{", b"", b"\xff", b'{"a": NaN}', b"[" * 100_000):
        refusal(client.post("/api/rigs", content=content), 400, "malformed")
    refusal(client.post("/api/rigs", content=b" " * 4_000_001), 413, "too-large")
    refusal(client.get("/api/rigs", headers={"Host": "evil.test"}), 421, "foreign-host")
    evil = {"Origin": "http://evil.test"}
    refusal(client.post("/api/rigs", json={}, headers=evil), 403, "foreign-origin")
    wrong = refusal(client.delete("/api/rigs"), 405, "malformed")
    assert "method not allowed" in wrong["message"]


def test_a_fault_of_ours_is_said_in_the_same_shape_and_logged(bench, monkeypatch, refusal, caplog):
    from fastapi.testclient import TestClient

    def burst():
        raise RuntimeError("spring broke")

    monkeypatch.setattr(bench, "outlines", burst)
    with TestClient(
        create_app(bench), base_url="http://127.0.0.1", raise_server_exceptions=False
    ) as client:
        error = refusal(client.get("/api/trials"), 500, "internal")
        assert "spring" not in json.dumps(error)
        assert "spring broke" in caplog.text
        assert client.get("/").status_code == 500


@pytest.fixture(scope="module")
def description():
    return create_app(None).openapi()  # once: each application would work it out anew


def test_the_description_is_served(client, description):
    assert client.get("/api/openapi.json").json() == description


PARTS = 4


@pytest.mark.parametrize("part", range(PARTS))
def test_whatever_is_sent_is_answered_as_described(stocked, trial, part, description):
    import schemathesis

    described = schemathesis.openapi.from_dict(description)
    described.app = app_factory.create_app(stocked, names=("testserver",))
    operations = [
        (path, verb.upper()) for path, verbs in description["paths"].items() for verb in verbs
    ]
    assert len(operations) > 10 * PARTS
    for path, verb in operations[part::PARTS]:
        try:
            check_operation(described[path][verb])
        except BaseException as error:
            error.add_note(f"operation: {verb} {path}")
            raise


def check_operation(operation):
    from schemathesis import GenerationMode
    from schemathesis.specs.openapi.checks import positive_data_acceptance

    @given(
        st.one_of(
            operation.as_strategy(generation_mode=GenerationMode.POSITIVE),
            operation.as_strategy(generation_mode=GenerationMode.NEGATIVE),
        )
    )
    @settings(
        max_examples=some(2, long=25),
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    def check(case):
        # Our records know rules a JSON schema cannot state (a minimum below its maximum, no flow
        # named twice): data valid by the schema may be refused, in the one shape.
        case.call_and_validate(excluded_checks=[positive_data_acceptance])

    check()
