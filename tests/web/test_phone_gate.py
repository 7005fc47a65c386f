"""Over the network: a paired phone may weigh in and add photos of its trial, and nothing else."""

from __future__ import annotations

import re
import time

import pytest
from every_route import every_route
from fastapi.testclient import TestClient
from one_portal import one_portal
from simulated_balances import LEARNT
from virtual_balance import VirtualBalance

from beadworth.core import InputError, from_mapping
from beadworth.trial import Cable, CabledBalance, Samples, TrialSpec, learn_format
from beadworth.web import create_app, guesses, share
from beadworth.web.guesses import Guesses, TooManyTriesError
from beadworth.workflow import (
    make_pairing_code,
    make_plan,
    paired_phones,
    store_balance,
    unpair_phones,
)

ADDRESS = "http://192.168.1.7:8652"
HTMX = {"HX-Request": "true"}


@pytest.fixture
def trials(stocked, spec):
    asked = from_mapping(TrialSpec, spec, "test")
    plan = make_plan(stocked, asked)
    return [stocked.create_trial(asked, plan).id for _ in range(2)]


@pytest.fixture
def app(stocked):
    return create_app(stocked)


@pytest.fixture
def door(app):
    """Whoever comes over the network, with nothing to show."""
    app.state.share.address = ADDRESS
    client = TestClient(app.state.share._app, base_url=ADDRESS, follow_redirects=False)
    with one_portal(client):
        yield client


@pytest.fixture
def phone(door, stocked, trials):
    """The same, paired with the first trial."""
    code = make_pairing_code(stocked, trials[0]).code
    answer = door.post("/pair", data={"code": code})
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/trials/{trials[0]}/weigh"
    return door


def words(answer):
    return re.sub(r"<[^>]*>", "", answer.text)


def test_the_cookie_is_out_of_reach_of_pages_and_other_sites(door, stocked, trials):
    code = make_pairing_code(stocked, trials[0]).code
    cookie = door.post("/pair", data={"code": code}).headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Max-Age=43200" in cookie
    assert "Secure" not in cookie  # there is no certificate on a home network
    secret = re.match(r"beadworth_phone=([\w-]{43});", cookie)[1]
    assert all(secret not in str(grant) for grant in stocked.grants())


def test_every_route_of_the_app_is_closed_but_five(phone, trials):
    opened = set()
    for method, route in every_route():
        path = re.sub(r"\{[^}]*\}", "1", route.replace("{trial}", trials[0]))
        answer = phone.request(method, path)
        if answer.status_code != 403:
            opened.add((method, route))
        else:
            said = words(answer)
            assert "may weigh in and add photos" in said or "another trial" in said, route
    assert opened == {
        ("GET", "/trials/{trial}/weigh"),
        ("GET", "/trials/{trial}/live"),
        ("POST", "/trials/{trial}/readings"),
        ("POST", "/trials/{trial}/photos"),
        ("GET", "/balances/live"),
        ("GET", "/pair"),
        ("POST", "/pair"),
        ("GET", "/look.css"),
        ("GET", "/"),
    }
    assert phone.get("/").headers["location"] == f"/trials/{trials[0]}/weigh"


def test_the_reading_of_the_desks_balance_stands_on_the_phone(
    phone, app, stocked, trials, tmp_path
):
    page = f"/trials/{trials[0]}/weigh"
    assert "data-live-mass" not in phone.get(page).text
    lines = Samples(*[[LEARNT[0].write(n, True, 1)] * 4 for n in (0, 5, 1234)])
    with VirtualBalance(tmp_path) as balance:
        cable = Cable(port=str(balance.port))
        record = CabledBalance(name="Bench balance", cable=cable, lines=learn_format(lines))
        store_balance(stocked, record)
        app.state.balances.use(stocked, "Bench balance")
        balance.put(178)
        end = time.monotonic() + 30
        while (now := phone.get("/balances/live").json())["reading"] != "1.78":
            assert time.monotonic() < end, now
            time.sleep(0.05)
        shown = phone.get(page).text
        app.state.balances.close()
    assert "data-live-mass" in shown
    assert "/balances?back" not in shown


def test_without_a_pairing_every_route_is_closed_but_the_page_that_pairs(door, trials):
    opened = set()
    for method, route in every_route():
        path = re.sub(r"\{[^}]*\}", trials[0], route)
        if door.request(method, path).status_code != 401:
            opened.add((method, route))
    # A code that is none is answered with 401 too.
    assert opened == {("GET", "/pair"), ("GET", "/look.css"), ("GET", "/")}
    assert door.get("/").headers["location"] == "/pair"
    for path in ("/static/../../app.py", "/static/%2e%2e/app.py", "/pair/../rigs"):
        assert door.get(path).status_code in (401, 404), path


@pytest.mark.parametrize("path", ["weigh", "live"])
def test_another_trials_pages_are_closed_with_words(phone, trials, path):
    assert phone.get(f"/trials/{trials[0]}/{path}").status_code == 200
    answer = phone.get(f"/trials/{trials[1]}/{path}")
    assert answer.status_code == 403
    assert "this phone was paired for another trial" in words(answer)
    entry = {"coupon": "A01", "mass_g": "1.7"}
    assert phone.post(f"/trials/{trials[1]}/readings", data=entry).status_code == 403


def test_what_a_phone_enters_bears_its_name_and_counts_once(phone, stocked, trials):
    entry = {"coupon": "A01", "mass_g": "1.7", "entry_key": "0123456789abcdef"}
    for _ in range(3):
        answer = phone.post(f"/trials/{trials[0]}/readings", data=entry, headers=HTMX)
        assert answer.status_code == 200
        assert "on the bench" in words(answer)
    (reading,) = stocked.readings(trials[0])
    assert reading.author == "phone 1"
    other = phone.post(
        f"/trials/{trials[0]}/readings", data=entry | {"mass_g": "1.8"}, headers=HTMX
    )
    assert other.status_code == 409
    assert "stands for another entry" in words(other)
    assert len(stocked.readings(trials[0])) == 1


@pytest.mark.parametrize("key", ["short", "a b c d e f", "x" * 65, "1234567\0"])
def test_an_odd_key_is_refused(phone, stocked, trials, key):
    entry = {"coupon": "A01", "mass_g": "1.7", "entry_key": key}
    answer = phone.post(f"/trials/{trials[0]}/readings", data=entry)
    assert answer.status_code == 422
    assert stocked.readings(trials[0]) == []


def test_a_phone_that_was_unpaired_is_refused_in_the_shape_it_asked_for(phone, stocked, trials):
    unpair_phones(stocked, [paired_phones(stocked)[0].grant.id])
    said = "this phone was unpaired at the desk"
    fragment = phone.post(f"/trials/{trials[0]}/readings", data={}, headers=HTMX)
    assert fragment.status_code == 401
    assert said in fragment.text
    assert "<html" not in fragment.text
    whole = phone.get(f"/trials/{trials[0]}/weigh")
    assert whole.status_code == 401
    assert 'href="/pair"' in whole.text
    api = phone.get("/api/trials")
    assert api.status_code == 401
    assert api.json()["error"]["kind"] == "unknown-visitor"


def test_pages_for_a_phone_lead_nowhere_it_may_not_go(phone, trials):
    for path in (f"/trials/{trials[0]}/weigh", f"/trials/{trials[0]}/live", "/rigs", "/pair"):
        leads = set(re.findall(r'(?:href|action|hx-get|hx-post)="(/[^"]*)"', phone.get(path).text))
        mine = f"/trials/{trials[0]}/"
        for link in leads:
            assert link.startswith((mine, "/static/", "/look.css", "/pair")) or link == "/", link
            if link.startswith(mine):
                assert link[len(mine) :].partition("?")[0] in (
                    "weigh",
                    "live",
                    "readings",
                    "photos",
                )


def test_wrong_codes_may_not_come_faster_than_people_type(door, stocked, trials, monkeypatch):
    now = [100.0]
    door.app.app.app.state.guesses = Guesses(lambda: now[0])
    code = make_pairing_code(stocked, trials[0]).code
    for n in range(guesses.EACH):
        answer = door.post("/pair", data={"code": f"{n:04d}-0000-0000"})
        assert answer.status_code == 401
        assert "this code is not one of this bench" in words(answer)
    answer = door.post("/pair", data={"code": code})  # the right one, too soon
    assert answer.status_code == 429
    assert "too many wrong codes came in a short time. Wait a minute" in words(answer)
    now[0] += guesses.WINDOW_S
    assert door.post("/pair", data={"code": code}).status_code == 303


def test_many_addresses_guess_no_faster_than_all_may():
    now = [0.0]
    many = Guesses(lambda: now[0])
    for n in range(guesses.ALL):
        many.require_patience(f"192.168.1.{n}")
        many.wrong(f"192.168.1.{n}")
    with pytest.raises(TooManyTriesError):
        many.require_patience("192.168.2.1")
    now[0] = guesses.WINDOW_S
    many.require_patience("192.168.2.1")
    assert not many._by_address  # what is old is forgotten


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Host": "evil.test"}, 421),
        ({"Origin": "http://evil.test"}, 403),
        ({"Origin": "http://192.168.1.7:9999"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
    ],
)
def test_host_and_origin_are_checked_at_this_door_too(phone, stocked, trials, headers, status):
    entry = {"coupon": "A01", "mass_g": "1.7"}
    answer = phone.post(f"/trials/{trials[0]}/readings", data=entry, headers=headers)
    assert answer.status_code == status
    code = make_pairing_code(stocked, trials[0]).code
    assert phone.post("/pair", data={"code": code}, headers=headers).status_code == status
    assert stocked.readings(trials[0]) == []
    assert stocked.grants("code")[-1].state == "open"


def test_answers_at_this_door_carry_the_policy(phone, trials):
    for path in (f"/trials/{trials[0]}/weigh", "/pair", "/rigs"):
        answer = phone.get(path)
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["cache-control"] == "no-store"
        assert "cross-origin-opener-policy" not in answer.headers  # a browser would complain


def test_the_desk_pairs_nobody_at_its_own_address(app, trials):
    with TestClient(app, "http://127.0.0.1") as desk:
        assert desk.get("/pair").status_code == 404
        assert desk.post("/pair", data={"code": "x"}).status_code == 404


def test_the_desk_shows_a_code_once_and_says_what_is_open(app, stocked, trials):
    with TestClient(app, "http://127.0.0.1") as desk:
        shut = words(desk.get(f"/trials/{trials[0]}/phone"))
        assert "Nothing: only this machine reaches the bench." in shut
        answer = desk.post(
            f"/trials/{trials[0]}/phone", data={"do": "code", "address": "127.0.0.2"}
        )
        try:
            open_at = app.state.share.address
            assert f"Open for phones at {open_at}: everyone on the network" in words(answer)
            code = re.search(r'<p class="code">([\w-]{14})</p>', answer.text)[1]
            assert "viewBox" in answer.text
            assert "style=" not in answer.text  # the policy allows none
            later = desk.get(f"/trials/{trials[0]}/phone").text
            assert code not in later
            assert stocked.grants("code")[0].trial == trials[0]
        finally:
            closed = desk.post(f"/trials/{trials[0]}/phone", data={"do": "close"})
        assert closed.status_code == 200  # after going to look
        assert app.state.share.address is None


@pytest.mark.parametrize("number", ["", "x", "0", "99", "9" * 30])
def test_unpairing_what_is_not_there_is_refused(app, trials, number):
    with TestClient(app, "http://127.0.0.1") as desk:
        sent = {"do": "unpair", "phone": number}
        assert desk.post(f"/trials/{trials[0]}/phone", data=sent).status_code == 404
        assert desk.post(f"/trials/{trials[0]}/phone", data={"do": "x"}).status_code == 422


def test_one_address_of_ones_own_network_is_opened_never_all(monkeypatch):
    monkeypatch.setattr(share, "network_addresses", lambda: ["192.168.1.7", "10.0.0.2"])
    assert share.require_address(None) == "192.168.1.7"
    assert share.require_address("10.0.0.9") == "10.0.0.9"
    for address in ("0.0.0.0", "::", "8.8.8.8", "2001:4860::1", "bench.test", "", "192.168.1"):
        with pytest.raises(InputError, match="is not one address on a network of your own"):
            share.require_address(address)
    monkeypatch.setattr(share, "network_addresses", list)
    with pytest.raises(InputError, match="no address on a network of its own"):
        share.require_address(None)


def test_addresses_that_are_offered_are_of_a_network():
    for text, of_it in (
        ("192.168.1.7", True), ("10.1.2.3", True), ("fd00::2", True), ("127.0.0.1", False),
        ("169.254.1.1", False), ("fe80::1%eth0", False), ("8.8.8.8", False), ("::1", False),
    ):  # fmt: skip
        assert share._of_a_network(text) is of_it, text
    assert all(share._of_a_network(one) for one in share.network_addresses())
