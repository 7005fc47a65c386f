"""Every answer of the API is of the shape that the API itself publishes."""

from __future__ import annotations

import base64
import io
import json
import re
from typing import Any

import jsonschema
import pytest
from cause_case import wall_case
from one_portal import one_portal
from PIL import Image
from ramp_case import short_ramp, short_trace
from shaken import shaken, table
from starlette.testclient import TestClient

from beadworth.core import Problem, to_json, to_mapping
from beadworth.ramp import write_trace_csv
from beadworth.store import open_bench
from beadworth.web import create_app


@pytest.fixture(scope="module")
def described():
    return create_app(None).openapi()


def schema_of(described: dict[str, Any], path: str, verb: str, status: int) -> dict[str, Any]:
    """The published schema of one answer, with all it refers to."""
    answer = described["paths"][path][verb]["responses"][str(status)]
    return {
        **answer["content"]["application/json"]["schema"],
        "components": described["components"],
    }


class Caller:
    """Calls the API and holds each answer against its published shape."""

    def __init__(self, client: TestClient, described: dict[str, Any]) -> None:
        self.client, self.described = client, described
        self.seen: set[tuple[str, str]] = set()

    def __call__(
        self, verb: str, path: str, status: int = 200, *, ids: Any = (), **sent: Any
    ) -> Any:
        url = path
        for value in ids:
            url = re.sub(r"\{[^}]*\}", str(value), url, count=1)
        answer = self.client.request(verb, f"/api{url}", **sent)
        assert answer.status_code == status, answer.text
        self.seen.add((verb, f"/api{path}"))
        schema = schema_of(self.described, f"/api{path}", verb.lower(), status)
        validator = jsonschema.Draft202012Validator(schema)
        faults = [
            f"{fault.json_path}: {fault.message}" for fault in validator.iter_errors(answer.json())
        ]
        assert not faults, faults[:5]
        return answer.json()


@pytest.fixture
def call(demo_copy, tmp_path, described):
    with open_bench(demo_copy(tmp_path)) as bench:
        client = TestClient(create_app(bench), base_url="http://localhost")
        with one_portal(client):
            yield Caller(client, described)


def one_row(spec: dict[str, Any], coupon: dict[str, Any]) -> str:
    """A readings table with one weighing of a coupon of the sheet."""
    names = ("coupon", "rig", "temperature_c", "flow_mm3_s", "filament_mm")
    values = [str(coupon[name]) for name in names]
    head = ",".join((*names, "material", "mass_g"))
    return f"{head}\n" + ",".join(f'"{v}"' for v in (*values, spec["material"], "1.7")) + "\n"


def causes_are_of_their_shapes(call):
    """A photo of a wall, read and recorded, and an accelerometer's record."""
    case = wall_case()
    call("POST", "/rigs", 201, json=to_mapping(case.rig))
    of = call("POST", "/prints", 201, params={"name": "box.gcode"}, content=case.program)["id"]
    asked = {"rig": case.rig.name, "of": of}
    walls = call("GET", "/cause/walls", params=asked)["walls"]
    assert len(walls) == 8
    photo = base64.b64encode(case.photos[0][0]).decode()
    sent = asked | {"walls": [{"wall": 1, "photo": photo, "corners": case.shares(0)}]}
    read = call("POST", "/cause/read", json=sent)
    assert read["causes"][0]["name"] == "belt tooth, x"
    assert read["number"] is None
    made = call("POST", "/cause", 201, json=sent | {"answers": {"same place": True}})
    assert made["walls"][0]["side"]["name"] == walls[0]["name"]
    assert call("GET", "/cause/{number}", ids=[made["number"]])["state"] == "current"
    call("POST", "/cause/{number}/void", ids=[made["number"]], json={"reason": "wrong wall"})
    assert call("GET", "/cause", params={"rig": case.rig.name})["readings"][0]["state"] == "voided"
    broken = {"wall": 1, "photo": "no base64!", "corners": case.shares(0)}
    refused = call("POST", "/cause/read", 422, json=sent | {"walls": [broken]})["error"]
    assert refused["message"] == (
        "cause, field walls.0.photo: photo 1 is no base64. Send the file's bytes in base64 "
        "(RFC 4648)."
    )
    t, a = shaken(62.0, 0.05, 1)
    content, ladder = table(t, x_m_s2=a), {"acceleration": [1000, 4000]}
    (axis,) = call("POST", "/vibration", content=content, params=ladder)["axes"]
    assert [one["acceleration_mm_s2"] for one in axis["modes"][0]["ripples"]] == [1000, 4000]
    call("POST", "/vibration", 422, content=b"time_s\n1\n")


def test_every_answer_is_of_its_published_shape(call, described):
    """All routes that answer JSON, on the demo's bench."""
    rigs, materials = call("GET", "/rigs")["rigs"], call("GET", "/materials")["materials"]
    rig, other, material = rigs[0]["name"], rigs[-1]["name"], materials[0]["name"]
    for noun, record in (("rig", rigs[0]), ("material", materials[0])):
        call("GET", f"/{noun}s/{{name}}", ids=[record["name"]])
        call("POST", f"/{noun}s", 201, json=record)
    trials = [line["id"] for line in call("GET", "/trials")["trials"]]
    for trial in trials:
        found = call("GET", "/trials/{trial}", ids=[trial])
        call("GET", "/trials/{trial}/sheet", ids=[trial])
        call("GET", "/trials/{trial}/readings", ids=[trial])
        for what in ("fit", "speeds", "typical", "next"):
            call("GET", f"/trials/{{trial}}/{what}", ids=[trial])
    call("GET", "/trials/{trial}/compare", ids=[trials[0]])
    spec = found["spec"]
    call("POST", "/plan", json=spec)
    made = call("POST", "/trials", 201, json=spec)["trial"]
    coupons = call("GET", "/trials/{trial}/sheet", ids=[made])["coupons"]
    coupon = coupons[0]["coupon"]
    call(
        "POST", "/trials/{trial}/readings", 201, ids=[made], json={"coupon": coupon, "mass_g": 1.7}
    )
    (reading,) = call("GET", "/trials/{trial}/readings", ids=[made])["readings"]
    void = "/trials/{trial}/readings/{reading}/void"
    call("POST", void, ids=[made, reading["reading_id"]], json={"reason": "torn"})
    body = {"count": 2, "reason": "narrow it"}
    call("POST", "/trials/{trial}/amendments", 201, ids=[trials[-1]], json=body)
    table = (
        b"rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g\n"
        b"A,P,220,4,600,1.780\nA,P,220,16,600,1.64\n"
    )
    question = {"question": "What does this table say?"}
    call("POST", "/import", 201, params=question, content=table)
    call("POST", "/trials/{trial}/import", 422, ids=[made], content=table)
    call("POST", "/trials/{trial}/import", ids=[made], content=one_row(spec, coupons[1]))
    prints = [one["id"] for one in call("GET", "/prints")["prints"]]
    call("POST", "/prints", 201, params={"name": "a.gcode"}, content=b"G1 X10 E1 F600\n")
    call(
        "GET",
        "/prints/{print_id}/replay",
        ids=[prints[0]],
        params={"rig": rig, "material": material},
    )
    call("POST", "/fit", json={"parent": rig, "upgrade": other})
    body = {"rig": rig, "material": material, "temperatures_c": [210.0]}
    call("POST", "/melt/predict", json=body)
    for one in rigs:
        call("GET", "/bringup", params={"rig": one["name"]})
        call("GET", "/wear", params={"rig": one["name"]})
        call("GET", "/journal", params={"subject": one["name"]})
        found = call("GET", "/wear/summary", params={"rig": one["name"]})
        for series in found["series"]:
            name = ", ".join(filter(None, (series["series"]["what"], series["series"]["place"])))
            asked = {"rig": one["name"], "check": name, "on": "2026-07-27"}
            if name == "belt tension, y belt":
                call("GET", "/wear/compare", params=asked)
    entry = {"kind": "hours", "on": "2026-01-02", "hours_h": 3.0}
    number = call("POST", "/wear", 201, params={"rig": rig}, json=entry)["id"]
    reason = {"reason": "mistyped", "entry": number}
    call("POST", "/wear/void", params={"rig": rig, **reason})
    page = {"on": "2026-01-02", "title": "A page", "text": "Said.", "stage": "fit"}
    number = call("POST", "/journal", 201, params={"subject": rig}, json=page)["id"]
    call("POST", "/journal/void", params={"subject": rig, "reason": "x", "entry": number})
    call("POST", "/photos", 422, content=b"no photo")
    picture = io.BytesIO()
    Image.new("RGB", (4, 3)).save(picture, "PNG")
    call("POST", "/photos", 201, content=picture.getvalue())
    for line in call("GET", "/worth")["cases"]:
        case = call("GET", "/worth/case", params={"name": line["name"]})["case"]
    call("POST", "/worth", json=case)
    order = {"rig": rig, "material": "PLA", "looks": 1,
             "spec": {"kind": "layer time", "temperature_c": 210}}  # fmt: skip
    witness = call("POST", "/witness", 201, json=order)
    grades = {f"{code} first": min(4, n) for n, code in enumerate(witness["codes"])}
    sheet = {"grader": "AB", "grades": grades}
    call("POST", "/witness/{number}/looks", 201, ids=[witness["number"]], json=sheet)
    call("POST", "/witness/{number}/open", ids=[witness["number"]])
    assert call("GET", "/witness/{number}", ids=[witness["number"]])["answer"]["ladders"]
    assert call("GET", "/witness")["witnesses"]
    ramp = short_ramp(rig, material)
    body = {"ramp": to_mapping(ramp), "trace": write_trace_csv(short_trace(ramp)), "note": "leaned"}
    stored = call("POST", "/trials/{trial}/live-weighings", 201, ids=[made], json=body)["number"]
    reason = {"reason": "the cup touched"}
    call("POST", "/live-weighings/{number}/void", ids=[stored], json=reason)
    found = call("GET", "/live-weighings/{number}", ids=[stored])
    assert (found["finding"]["note"], found["note"], found["rows"]) == ("", "leaned", 1874)
    assert call("GET", "/live-weighings", params={"trial": made})["live_weighings"]
    call("GET", "/balances")
    call("GET", "/balances/now")
    causes_are_of_their_shapes(call)
    archive = call.client.get(f"/api/trials/{trials[0]}/package").content
    package = call("POST", "/packages", 201, params={"name": "a.zip"}, content=archive)["package"]
    call("GET", "/packages")
    call("GET", "/packages/{package}/fit", ids=[package])
    call("GET", "/packages/{package}/compare", ids=[package], params={"trial": trials[0]})
    every = {
        (verb.upper(), path)
        for path, verbs in described["paths"].items()
        for verb, route in verbs.items()
        if any("application/json" in a.get("content", {}) for a in route["responses"].values())
    }
    files = {("GET", "/api/packages/{package}/file"), ("GET", "/api/trials/{trial}/package")}
    assert every - call.seen == files


def test_shapes_of_our_own_name_every_key_and_no_other(described):
    """What an answer is made of has no open end, so that nothing goes unpublished."""
    schemas = described["components"]["schemas"]
    open_ended = {
        name
        for name, schema in schemas.items()
        if schema.get("type") == "object" and schema.get("additionalProperties") is not False
    }
    assert open_ended == set()


def test_a_refusal_is_of_the_published_shape_and_says_the_place_as_data(call):
    answer = call("POST", "/rigs", 422, json={"name": "x", "price": -1, "hot_end": {"nozle": 0.4}})
    paths = [problem["path"] for problem in answer["error"]["problems"]]
    assert {"source": "rig", "field": ["price"]} in paths
    assert {"source": "rig", "field": ["hot_end", "nozle"]} in paths
    table = b"rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g\nA,P,220,4,600,heavy\n"
    answer = call("POST", "/import", 422, params={"question": "What is it?"}, content=table)
    (problem,) = answer["error"]["problems"]
    assert problem["path"] == {"source": "request body", "row": 2, "column": "mass_g"}


def test_what_is_published_is_what_the_codec_writes(described):
    schema = described["components"]["schemas"]["ProblemShape"]
    assert set(to_json(Problem("x."))) == set(schema["properties"])
    assert json.dumps(described, allow_nan=False)
