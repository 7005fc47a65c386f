"""Whatever is sent to a bench of several people: each role changes what is its own, nothing else.

Requests are made from the interface's own description, and each is sent by a reader, a measurer
and an owner in turn; forms of the pages are sent with what people and scripts put into them.
"""

from __future__ import annotations

import contextlib
import random
import re
from functools import partial
from urllib.parse import quote

import pytest
from every_route import MEASURES, READS, every_route
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from loops import some
from one_portal import one_portal

from beadworth.core import from_mapping
from beadworth.trial import TrialSpec
from beadworth.web import create_app
from beadworth.web.guard import Guard
from beadworth.web.people_gate import PeopleGate
from beadworth.workflow import admit, make_plan

BASE = "http://127.0.0.1:8642"
ROLES = ("reader", "measurer", "owner")


@pytest.fixture
def trial(stocked, spec):
    asked = from_mapping(TrialSpec, spec, "test")
    return stocked.create_trial(asked, make_plan(stocked, asked)).id


@pytest.fixture
def tokens(stocked):
    return {
        role: {"Authorization": f"Bearer {admit(stocked, role, role, script=True).secret}"}
        for role in ROLES
    }


@pytest.fixture
def door(stocked):
    return Guard(PeopleGate(create_app(stocked), stocked))


@pytest.fixture
def within():
    """What is left again when a test ends."""
    with contextlib.ExitStack() as stack:
        yield stack


def may(role, method, route):
    """Whether a role may send this at all; the tables are those of the gate's own test."""
    asked = f"{method} {route}"
    return role == "owner" or method == "GET" or asked in READS or (
        role == "measurer" and asked in MEASURES
    )  # fmt: skip


def judge(bench, role, method, route, ask):
    """Send as a role; neither a fault, nor a change that is not the role's."""
    before = bench.writes
    answer = ask()
    assert answer.status_code < 500, (role, method, route, answer.text[:300])
    changed = bench.writes > before
    if not may(role, method, route):
        assert answer.status_code == 403, (role, method, route, answer.status_code)
        assert not changed, (role, method, route)
    if role == "reader":
        assert not changed, (method, route)
    return changed


def all_roles(bench, tokens, changed, method, route, case):
    """Send a case as each role in turn."""
    for role in ROLES:
        ask = partial(case.call, base_url=BASE, headers=tokens[role])
        changed[role] += judge(bench, role, method, route, ask)


def send_each(cases, use):
    """A few cases, or in the long tests many."""

    @given(cases)
    @settings(max_examples=some(1, long=20), deadline=None, derandomize=True,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    def send(case):
        use(case)

    send()


def test_whatever_is_sent_to_the_interface_a_role_changes_only_what_is_its_own(
    stocked, trial, tokens, door
):
    import schemathesis
    from schemathesis import GenerationMode

    description = create_app(None).openapi()
    described = schemathesis.openapi.from_dict(description)
    described.app = door
    changed = dict.fromkeys(ROLES, 0)
    tried = 0
    every = [(path, verb.upper()) for path, verbs in description["paths"].items() for verb in verbs]
    asking = [one for one in every if one[1] == "GET"]
    for path, verb in every:
        if (path, verb) not in asking or (path, verb) in asking[:: some(3, long=1)]:
            try:
                send_each(described[path][verb].as_strategy(generation_mode=GenerationMode.POSITIVE),
                          partial(all_roles, stocked, tokens, changed, verb, path))  # fmt: skip
            except BaseException as error:
                error.add_note(f"operation: {verb} {path}")
                raise
            tried += 1
    assert tried >= some(40, long=64)
    assert changed["reader"] == 0
    assert changed["owner"] > 0  # else nothing that was sent could have changed anything


SENT = ("", "1", "A01", "1.78", "-1", "9" * 400, "²", "\0", "<b>", "2031-04-02", "'; --", "PLA",
        "../../x", "on", "Stilt, short zone")  # fmt: skip


def test_whatever_is_typed_into_a_form_a_role_changes_only_what_is_its_own(
    stocked, trial, tokens, door, spec, within
):
    rng = random.Random(5)
    rig = quote(spec["baseline"])
    stand_in = {"trial": trial, "rig": rig, "subject": rig, "name": rig, "coupon": "A01"}
    made = TestClient(door, base_url=BASE, follow_redirects=False, raise_server_exceptions=False)
    client = within.enter_context(one_portal(made))
    fields = ("coupon", "mass", "mass_g", "reason", "name", "note", "file", "text", "question",
              "on", "kind", "rig", "material", "grader", "title", "stage", "value")  # fmt: skip
    tried = set()
    for method, route in every_route():
        if method == "GET" or route.startswith(("/api", "/sign-")):
            continue
        path = re.sub(r"\{(\w+)[^}]*\}", lambda part: stand_in.get(part[1], "1"), route)
        for role in ROLES[:2] if route in HEAVY else ROLES:
            for _ in range(some(1, long=10)):
                typed = {name: rng.choice(SENT) for name in fields if rng.random() < 0.6}
                ask = partial(client.request, method, path, data=typed, headers=tokens[role])
                judge(stocked, role, method, route, ask)
        tried.add(route)
    assert len(tried) > 40


HEAVY = {"/demo"}
"""Lays out a whole workshop; an owner's press is tested in ``demo``."""
