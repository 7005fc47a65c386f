"""A live weighing through the page: first minute, growth, stored, stopped, gone on with."""

import re
import time

import pytest
from page_words import plain
from ramp_case import short_ramp, short_trace, typed_ramp
from trace_line import TraceLine, cabled_bench, stamps

from beadworth.demo import PLA, STOCK
from beadworth.ramp import RampSpec
from beadworth.web import create_app
from beadworth.web.balance_desk import BalanceDesk
from beadworth.workflow import live_weighings

SPEC = short_ramp(STOCK.name, PLA.name)
TRACE = short_trace(SPEC, noise_g=4e-4)  # no line stands apart enough to be dropped
FIRST = short_trace(SPEC.model_copy(update={"cycles": 0}), noise_g=4e-4)
ASKED = typed_ramp(STOCK.name, PLA.name)


@pytest.fixture
def app(tmp_path):
    from fastapi.testclient import TestClient

    with cabled_bench(tmp_path) as bench:
        made = create_app(bench)
        made.state.balances = BalanceDesk(stamp=stamps(0.5), append_s=0.2)
        with TestClient(made, base_url="http://127.0.0.1", follow_redirects=False) as client:
            yield bench, client
        made.state.balances.close()


def until(ask, found, seconds=60.0):
    """What is answered once it is as wanted."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        answer = ask()
        if found in answer:
            return answer
        time.sleep(0.3)  # each answer reads and draws what came since
    raise AssertionError((found, answer[:400]))


def test_without_a_balance_it_says_how_to_get_one(app):
    _, client = app
    assert "No balance is listened to." in plain(client.get("/live-weighing", params=ASKED).text)
    refused = client.post("/live-weighing/record", data=ASKED)
    assert refused.status_code == 409
    assert "no balance is in use" in plain(refused.text).lower()


def test_the_first_minute_says_what_cycles_tell(app, tmp_path):
    bench, client = app
    with TraceLine(tmp_path, FIRST.mass_g) as line:
        assert client.post("/balances/use", data={"name": "Bench balance"}).status_code == 303
        shown = plain(client.get("/live-weighing", params=ASKED).text)
        assert "Bench balance is listened to." in shown
        went = client.post("/live-weighing/record", data=ASKED | {"first": "1"})
        assert went.status_code == 303
        page = went.headers["location"]
        assert "The first minute" in plain(client.get(page).text)
        line.let()
        now = page.replace("/first?", "/first/now?")
        found = until(lambda: plain(client.get(now).text), "What cycles cost and tell")
        hang = re.search(r"Hangs and sways ([\d.]+) mg", found)[1]
        back = client.post(page.replace("/first?", "/first/end?")).headers["location"]
        again = plain(client.get(back.partition("#")[0]).text)
        assert f"with the {hang} mg that your first minute found" in again
    assert live_weighings(bench) == []


def test_it_grows_ends_and_is_stored(app, tmp_path):
    bench, client = app
    with TraceLine(tmp_path, TRACE.mass_g) as line:
        client.post("/balances/use", data={"name": "Bench balance"})
        page = client.post("/live-weighing/record", data=ASKED | {"note": "new nozzle"}).headers[
            "location"
        ]
        ask = lambda: plain(client.get(f"{page}/now").text)  # noqa: E731
        line.let(500)
        until(ask, "499 readings")
        busy = client.post("/live-weighing/record", data=ASKED)
        assert (busy.status_code, "End that recording first" in busy.text) == (409, True)
        line.let()
        until(ask, "Ceiling at 215 °C so far")
        until(ask, f"{TRACE.time_s.size - 1} readings")
        assert client.post(f"{page}/end", data={"note": "leaned"}).status_code == 303
    (one,) = live_weighings(bench)
    assert "Weighed live." in plain(client.get("/").text)
    offered = f'<option value="{one.trial}"'
    assert client.get("/worth").text.count(offered) == 2  # of both rigs, and of the upgraded one
    assert (one.standing, one.balance, one.note) == ("used", "Bench balance", "new nozzle")
    assert (one.finding.note, one.finding.ended) == ("leaned", "ended by a person")
    assert one.finding.rows == TRACE.time_s.size - 1  # the last line waits for one that agrees
    shown = plain(client.get(page).text)
    assert "Ceilings at 2 % loss" in shown
    assert "Seen: new nozzle." in shown
    trial = plain(client.get(f"/trials/{one.trial}").text)
    assert "Weighed live" in trial
    assert "ceilings from live weighing" in trial
    assert "used" in plain(client.get(f"/trials/{one.trial}/tab/live-weighings").text)
    assert client.get(f"{page}/trace.csv").text.count("\n") == TRACE.time_s.size
    assert client.post(f"{page}/void", data={"reason": ""}).status_code == 422
    assert client.post(f"{page}/void", data={"reason": "cup touched"}).status_code == 303
    assert "voided: cup touched" in plain(client.get(page).text)
    assert "Weighed live; no live weighing counts yet." in plain(client.get("/").text)
    assert offered not in client.get("/worth").text


def test_a_stopped_recording_is_gone_on_with(app, tmp_path):
    bench, client = app
    with TraceLine(tmp_path, TRACE.mass_g) as line:
        client.post("/balances/use", data={"name": "Bench balance"})
        page = client.post("/live-weighing/record", data=ASKED).headers["location"]
        line.let(700)
        until(lambda: plain(client.get(f"{page}/now").text), "699 readings")
        client.app.state.balances.close()  # as where Beadworth is ended
        shown = plain(client.get(page).text)
        assert "The recording stopped without an end" in shown
        assert "699 readings are on the bench" in shown
        early = client.post(f"{page}/end")
        assert early.status_code == 422
        assert "the ramp's own steps" in plain(early.text)
        client.post("/balances/use", data={"name": "Bench balance"})
        assert client.post(f"{page}/go-on").status_code == 303
        line.let(900)
        until(lambda: plain(client.get(f"{page}/now").text), "898 readings")
        client.app.state.balances.close()
    (one,) = live_weighings(bench)
    assert one.finding is None


def test_a_table_is_stored_where_a_trial_is_chosen(app):
    from beadworth.ramp import write_trace_csv

    bench, client = app
    file = {"file": ("t.csv", write_trace_csv(TRACE).encode(), "text/csv")}
    looked = client.post("/live-weighing", data=ASKED | {"trial": "look"}, files=file)
    assert (looked.status_code, live_weighings(bench)) == (200, [])
    kept = client.post("/live-weighing", data=ASKED | {"trial": ""}, files=file)
    assert kept.status_code == 303
    assert "used" in plain(client.get(kept.headers["location"]).text)
    assert RampSpec.model_fields["leg_s"].default == 310.0
