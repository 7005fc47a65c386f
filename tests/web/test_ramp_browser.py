"""A flow ramp weighed live in a real browser: program, first minute, growth, the end, the trial."""

import json
import threading
import time

import pytest
from page_checks import until as until_so
from ramp_case import short_ramp, short_trace
from trace_line import TraceLine, cabled_bench, stamps

from beadworth.demo import PLA, STOCK
from beadworth.web import create_app
from beadworth.web.balance_desk import BalanceDesk
from beadworth.workflow import live_weighings

pytestmark = pytest.mark.browser
SPEC = short_ramp(STOCK.name, PLA.name)
FIRST = short_trace(SPEC.model_copy(update={"cycles": 0}), noise_g=4e-4)
TRACE = short_trace(SPEC, noise_g=4e-4)
NOW = "document.querySelector('#now')?.innerText"
TABS = "document.querySelector('#tabs').innerText"
POLLED = ("/now", "/first/now?")


@pytest.fixture
def served(tmp_path):
    """A server in this process, whose clock ticks once for each line of the balance."""
    import uvicorn

    with cabled_bench(tmp_path) as bench:
        app = create_app(bench)
        app.state.balances = BalanceDesk(stamp=stamps(0.5), append_s=0.5)
        server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning"))
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        port = server.servers[0].sockets[0].getsockname()[1]
        yield bench, f"http://127.0.0.1:{port}"
        app.state.balances.close()
        server.should_exit = True
        thread.join(10)


def until(page, place, words):
    """Wait until words stand there."""
    until_so(page, f"Boolean({place}?.includes({json.dumps(words)}))", patience_s=60)


@pytest.fixture
def looks(both):
    """Check a page; what it asked again and again may be cut off when it is left."""

    def check(seen, name="", *, whole=True, mode="dark"):
        seen.problems[:] = [one for one in seen.problems if "/now" not in one]
        both(seen, name, whole=whole, mode=mode)

    return check


def test_from_the_program_to_the_stored_finding(visit, served, tmp_path, looks):
    bench, address = served
    masses = [*FIRST.mass_g, *TRACE.mass_g]
    with TraceLine(tmp_path, masses) as line:
        seen = visit(f"{address}/balances")
        page = seen.page
        page.get_by_role("button", name="Weigh with it").click()
        page.goto(f"{address}/live-weighing")
        page.locator("[name=rig]").select_option(STOCK.name)
        page.locator("[name=material]").select_option(PLA.name)
        page.locator("[name=temperatures_c]").fill("215")
        page.locator("[name=lowest_mm3_s]").fill("8")
        page.locator("[name=highest_mm3_s]").fill("14")
        page.locator("[name=cycles]").fill("1")
        page.get_by_text("Balance and cup").first.click()
        page.locator("[name=leg_s]").fill("120")
        page.get_by_role("button", name="What will it cost and tell?").click()
        page.get_by_role("heading", name="Record it here").wait_for()
        assert page.get_by_role("link", name="Its first minute alone").is_visible()
        for words in ("Stay beside it", "Ventilate the room", "Part-cooling fan off"):
            assert words in page.locator("#ramp").inner_text()
        looks(seen)

        page.get_by_role("button", name="Record the first minute alone").click()
        page.get_by_role("heading", name="The first minute").wait_for()
        line.let(len(FIRST.mass_g))
        until(page, NOW, "What cycles cost and tell")
        looks(seen)
        page.get_by_role("button", name="End, and see what cycles would tell").click()
        page.get_by_text("mg that your first minute found").wait_for()

        page.get_by_label("What is special today").fill("new nozzle")
        page.get_by_role("button", name="Record the ramp").click()
        page.get_by_role("heading", name=STOCK.name).wait_for()
        line.let(len(FIRST.mass_g) + 900)
        until(page, NOW, "900 readings")
        looks(seen)
        line.let()
        until(page, NOW, "Ceiling at 215 °C so far")
        page.get_by_label("What you saw").fill("one strand missed the cup")
        looks(seen, "", mode="light")
        until(page, NOW, f"{TRACE.time_s.size} readings")
        page.get_by_role("button", name="End, read and store").click()
        page.get_by_role("heading", name="Ceilings at 2 % loss").wait_for(timeout=60_000)
        looks(seen)
        page.get_by_role("link", name=live_weighings(bench)[0].trial).click()
        page.get_by_role("link", name="Weighed live").click()
        until(page, TABS, "used")
        looks(seen, "", whole=False)
    (one,) = live_weighings(bench)
    assert (one.standing, one.note) == ("used", "new nozzle")
    assert one.finding.note == "one strand missed the cup"
