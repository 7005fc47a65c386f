"""Balances on the page, over a virtual port, without a browser: steps, refusals, readings."""

from __future__ import annotations

import re
import time

import pytest
from simulated_balances import LEARNT
from virtual_balance import VirtualBalance

from beadworth.trial import Cable, CabledBalance, Samples, learn_format
from beadworth.workflow import store_balance, stored_balances

SAMPLES = Samples(
    ["S     0.00 g  "] * 4, ["U     5.00 g  ", "U     8.00 g  "], ["S    12.34 g  "] * 4
)


@pytest.fixture
def balance(tmp_path):
    with VirtualBalance(tmp_path) as made:
        yield made


@pytest.fixture
def known(client, bench, balance):
    """The client of a bench that knows the balance, and lets go of it."""
    store_balance(bench, CabledBalance(
        name="Bench balance", cable=Cable(port=str(balance.port)), lines=learn_format(SAMPLES)
    ))  # fmt: skip
    yield client
    client.post("/balances/release")
    client.app.state.balances.end_learning()


def live(client, wanted, seconds=5.0):
    """The live reading once it is as wanted."""
    until = time.monotonic() + seconds
    while not wanted(now := client.get("/balances/live").json()):
        assert time.monotonic() < until, now
        time.sleep(0.03)
    return now


def test_the_steps_of_learning_end_in_words_and_a_name(client, bench, balance):
    sent = {"port": str(balance.port), "speed": "9600", "frame": "8N1", "request": ""}
    assert client.post("/balances/connect", data=sent).headers["location"] == "/balances/learn"
    assert client.post("/balances/learn/empty").status_code == 303
    assert "Put a piece on" in client.get("/balances/learn").text
    balance.put(1234)
    time.sleep(0.5)
    sent = {"shown": "12.34", "unit": ""}
    assert client.post("/balances/learn/loaded", data=sent).status_code == 303
    page = client.get("/balances/learn").text
    assert "<li>Value in characters 2 to 10, in g, 2 decimals behind a point" in page
    assert "the newest line says <b>12.34 g, stable</b>" in page
    assert "is no name for a balance" in client.post("/balances", data={"name": " "}).text
    assert client.post("/balances", data={"name": "Mine"}).headers["location"] == (
        "/balances?stored=Mine"
    )
    assert [one.name for one in stored_balances(bench)] == ["Mine"]
    assert live(client, lambda now: now["reading"])["reading"] == "12.34"
    assert "Mine is on the bench and in use" in client.get("/balances?stored=Mine").text
    client.post("/balances/release")
    assert client.get("/balances/live").json()["name"] == ""


def test_what_cannot_be_learnt_says_why_and_can_be_tried_again(client, balance):
    client.post("/balances/connect", data={"port": str(balance.port)})
    client.post("/balances/learn/empty")
    refused = client.post("/balances/learn/loaded", data={"shown": "", "unit": ""})
    assert refused.status_code == 422
    assert "no number of the lines stood still, changed, and stood still again" in refused.text
    assert client.post("/balances/learn/again").status_code == 303
    assert "Empty the pan" in client.get("/balances/learn").text
    assert "S     0.00 g" in client.get("/balances/learn/lines").text
    client.app.state.balances.end_learning()


def test_a_learning_nobody_has_begun_is_refused(client):
    page = client.get("/balances/learn")
    assert page.status_code == 409
    assert "Choose its port and connect it again." in page.text
    late = client.get("/balances/learn/lines")  # asked by a page that is being left
    assert late.status_code == 200
    assert "Choose its port and connect it again." in late.text


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"port": "/dev/no-such-port"}, "there is no port /dev/no-such-port."),
        ({"port": ""}, "no port is named."),
        ({"port": "/dev/x", "speed": "fast"}, "is no speed."),
        ({"port": "/dev/x", "request": "P\\q"}, "cannot be sent."),
    ],
)
def test_a_port_that_cannot_be_used_keeps_what_was_typed(client, sent, said):
    page = client.post("/balances/connect", data=sent)
    assert page.status_code == 422
    assert said in page.text
    if sent["port"]:
        assert f'value="{sent["port"]}"' in page.text


def test_a_speed_is_found(client, tmp_path):
    folder = tmp_path / "other"
    folder.mkdir()
    with VirtualBalance(folder, LEARNT[4], speed="B2400") as made:
        client.post("/balances/connect", data={"port": str(made.port), "speed": "find"})
        assert "2400 baud, 8N1" in client.get("/balances/learn").text
        client.app.state.balances.end_learning()


def test_the_live_reading_counts_pieces_and_says_what_is_wrong(known, balance):
    assert known.post("/balances/use", data={"name": "Bench balance"}).status_code == 303
    assert live(known, lambda now: now["reading"])["reading"] == "0.00"
    balance.put(178)
    now = live(known, lambda now: now["taken"] == 1)
    assert (now["taken_reading"], now["dropped"], now["trouble"]) == ("1.78", 0, "")
    balance.unplug()
    now = live(known, lambda now: now["trouble"])
    assert re.match(r"\S+ is gone\. Push the plug home; it goes on by itself\.", now["trouble"])
    balance.plug()
    assert live(known, lambda now: now["reading"])["reading"] == "1.78"


def test_another_port_today_and_one_that_is_not_there(known, balance):
    sent = {"name": "Bench balance", "port": "/dev/none", "back": "/trials/t-1/weigh"}
    page = known.post("/balances/use", data=sent)
    assert page.status_code == 422
    assert "there is no port /dev/none." in page.text
    assert 'href="/trials/t-1/weigh"' in page.text
    sent["port"] = str(balance.port)
    assert known.post("/balances/use", data=sent).headers["location"] == "/trials/t-1/weigh"
    sent["back"] = "//elsewhere.invalid/trials/"
    assert known.post("/balances/use", data=sent).headers["location"] == "/balances"


def test_a_name_that_is_not_on_the_bench(known):
    page = known.post("/balances/use", data={"name": "Other"})
    assert page.status_code == 404
    assert "Those there are: Bench balance." in page.text


def test_a_check_is_recorded_in_words_taken_by_a_plan_and_voided(client, stocked):
    page = client.get("/balance-checks?name=Mine").text
    assert "Not measured yet: a plan assumes that it repeats to one display step." in page
    sent = {"name": "Mine", "kind": "repeatability", "step": "0.001", "on": "2026-11-30",
            "values": "1.784 1,783 1.785\n1.784; 1.785"}  # fmt: skip
    assert client.post("/balance-checks", data=sent).status_code == 303
    sent |= {"kind": "linearity", "values": "0 = 0.000  1=1.000 2=2.002 5=5.000", "step": ""}
    assert client.post("/balance-checks", data=sent).status_code == 303
    page = client.get("/balance-checks?name=Mine").text
    taken = (
        "readability 0.001 g; repeatability 0.000837 g, measured 2026-11-30 (5 weighings); "
        "linearity ± 0.0015 g, measured 2026-11-30"
    )
    assert f"A plan takes: {taken}." in page
    assert "From so many it is known to ± 36 %" in page
    form = client.get("/trials/new?balance=Mine").text
    for field, value in {
        "repeatability_g": "0.000837", "repeatability_dof": "4",
        "repeatability_on": "2026-11-30", "linearity_g": "0.0015",
    }.items():  # fmt: skip
        assert re.search(f'name="balance.{field}"[^>]*value="{value}"', form), field
    assert 'href="/trials/new?balance=Mine"' in client.get("/trials/new").text
    assert client.get("/trials/new?balance=None").status_code == 404
    number = re.search(r'name="entry" value="(\d+)"', page)[1]
    sent = {"name": "Mine", "entry": number, "reason": "a draught"}
    assert client.post("/balance-checks/void", data=sent).status_code == 303
    assert "does not count: a draught" in client.get("/balance-checks?name=Mine").text
    assert client.post("/balance-checks/void", data=sent).status_code == 409


def test_a_check_that_cannot_be_taken_keeps_what_was_typed(client):
    sent = {"name": "Mine", "kind": "drift", "step": "0.001", "values": "0=1.7 10:1.8"}
    page = client.post("/balance-checks", data=sent)
    assert page.status_code == 422
    assert "&#39;10:1.8&#39; cannot be read." in page.text
    assert ">0=1.7 10:1.8</textarea>" in page.text
    sent |= {"values": "0=1.7 10=1.8", "step": "x"}
    assert "is no display step" in client.post("/balance-checks", data=sent).text
    sent["step"] = ""
    assert "display is not known" in client.post("/balance-checks", data=sent).text
