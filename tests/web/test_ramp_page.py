"""Live weighing in the browser: what a ramp costs, its program, and a trace read."""

import numpy as np
import pytest
from page_words import plain
from ramp_case import short_ramp, short_trace, typed_ramp

from beadworth.demo import PLA, STOCK
from beadworth.ramp import Trace, ramp_program, write_trace_csv

SPEC = short_ramp(STOCK.name, PLA.name)
ASKED = typed_ramp(STOCK.name, PLA.name)


@pytest.fixture(scope="module")
def page(demo_copy, tmp_path_factory):
    from fastapi.testclient import TestClient

    from beadworth.store import open_bench
    from beadworth.web import create_app

    path = demo_copy(tmp_path_factory.mktemp("ramp"))
    with (
        open_bench(path) as store,
        TestClient(create_app(store), base_url="http://127.0.0.1") as made,
    ):
        yield made


def sent(trace):
    return {"file": ("trace.csv", write_trace_csv(trace).encode(), "text/csv")}


def test_a_ramp_says_what_it_costs_and_hands_out_its_program(page):
    assert page.get("/live-weighing").status_code == 200
    shown = page.get("/live-weighing", params=ASKED)
    assert "1 × (chosen)" in plain(shown.text)
    assert "burns what it lands on" in shown.text
    made = ramp_program(SPEC, STOCK, PLA)
    assert f"About {made.minutes:.0f} min and {made.grams:.0f} g" in plain(shown.text)
    program = page.get("/live-weighing/program", params=ASKED)
    assert program.text == made.text
    assert program.headers["content-disposition"].startswith("attachment; filename=")
    first = page.get("/live-weighing/program", params=ASKED | {"first": "1"}).text
    assert first.count("G1 E") < made.text.count("G1 E")


def test_what_cannot_be_stands_beside_its_field(page):
    shown = page.get("/live-weighing", params=ASKED | {"temperatures_c": "400", "cycles": "two"})
    assert shown.status_code == 422
    assert "'two' is not a whole number." in plain(shown.text)
    hot = page.get("/live-weighing", params=ASKED | {"temperatures_c": "400"})
    assert hot.status_code == 422
    assert "above the hot end's limit" in plain(hot.text)


def test_a_trace_gives_ceilings_and_checks(page):
    shown = page.post("/live-weighing", data=ASKED, files=sent(short_trace(SPEC)))
    assert shown.status_code == 200
    words = plain(shown.text)
    assert "Ceilings at 2 % loss" in words
    assert "215 °C" in words
    assert "not done" in words
    assert shown.text.count("<figure") == 2


def test_a_failed_check_gives_no_ceiling(page):
    trace = short_trace(SPEC)
    rise = np.diff(trace.mass_g, prepend=trace.mass_g[0])
    smooth = np.convolve(rise, np.ones(40) / 40, "same")
    lost = Trace(trace.time_s, 50.0 + np.cumsum(np.where(smooth < 0.25e-3, 0.0, rise)))
    words = plain(page.post("/live-weighing", data=ASKED, files=sent(lost)).text)
    assert "A check failed: no ceiling is read" in words
    assert "Switch its zero tracking off" in words


def test_no_trace_is_refused_in_words(page):
    shown = page.post("/live-weighing", data=ASKED, files={"file": ("a.csv", b"a,b\n", "text/csv")})
    assert shown.status_code == 422
    assert "the column time_s is missing." in plain(shown.text)
    assert page.post("/live-weighing", data=ASKED).status_code == 422
