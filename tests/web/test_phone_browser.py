"""A phone beside the balance: paired, weighing, cut off, and back, with nothing lost or doubled."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from io import BytesIO

import httpx2 as httpx
import pytest
from nursery import Server
from page_checks import until
from PIL import Image

from beadworth.store import NewGrant, open_bench
from beadworth.web.share import network_addresses

pytestmark = pytest.mark.browser

# What a page over plain HTTP lacks; gone too where the test's own address counts as secure.
WITHOUT = """
for (const [where, names] of [[Navigator.prototype, ['serviceWorker', 'clipboard', 'wakeLock',
  'mediaDevices', 'locks', 'storage']], [Crypto.prototype, ['subtle', 'randomUUID']]]) {
  for (const name of names) {
    delete where[name];
    if (name in (where === Crypto.prototype ? crypto : navigator)) throw Error(name);
  }
}
"""


@pytest.fixture
def address():
    """One of this machine's on a network; where it has none, one that loops back."""
    return next(iter(network_addresses()), "127.0.0.2")


@pytest.fixture
def desk(visit, own_demo, address):
    """The desk's page that pairs a phone, with a way to ask it for a code."""
    seen = visit(f"{own_demo.address}{own_demo.started}/phone", width=1440)
    page = seen.page
    if page.locator("#address option", has_text=address).count() == 0:
        page.evaluate(
            "(a) => { const s = document.querySelector('#address');"
            "const o = document.createElement('option'); o.textContent = a; s.append(o); }",
            address,
        )
    page.locator("#address").select_option(address)

    def click_for_code():
        page.locator("button", has_text="code").click()
        page.locator(".code").wait_for()
        door = page.locator(".address").inner_text()
        return door, page.locator(".code").inner_text()

    seen.code = click_for_code
    seen.bench = own_demo
    seen.trial = own_demo.started.rpartition("/")[2]
    return seen


@dataclass
class Door:
    """The desk without its page, for tests of the phone alone."""

    bench: Server
    address: str

    @property
    def trial(self):
        return self.bench.started.rpartition("/")[2]

    def code(self):
        """Open the door; gives its address and a code."""
        asked = {"do": "code", "address": self.address}
        page = httpx.post(f"{self.bench.address}{self.bench.started}/phone", data=asked).text
        return (
            re.search(r'<b class="address">([^<]+)</b>', page)[1],
            re.search(r'<p class="code">([^<]+)</p>', page)[1],
        )


@pytest.fixture
def door(own_demo, address):
    return Door(own_demo, address)


@pytest.fixture
def phone(visit):
    """Open the pairing page on a phone of a name: own cookies, own storage, no secure context."""
    opened = []

    def take(name, link):
        seen = visit("about:blank", width=390, height=844, user_agent=name)
        seen.page.set_viewport_size({"width": 390, "height": 844})
        seen.page.add_init_script(WITHOUT)
        seen.page.goto(link)
        opened.append(seen)
        return seen

    yield take
    for seen in opened:
        seen.page.context.set_offline(False)
        seen.page.evaluate("localStorage.clear()")


def pair(seen):
    seen.page.get_by_role("button", name="Pair this phone").click()
    seen.page.locator("#line-state").wait_for()
    seen.page.wait_for_load_state()  # on a busy machine the scripts come later than the field


def weigh(page, mass):
    coupon = page.locator("[name=coupon]").input_value()
    page.locator("#mass").fill(mass)
    page.keyboard.press("Enter")
    return coupon


def kept(bench, trial):
    said = httpx.get(f"{bench.address}/api/trials/{trial}/readings").json()["readings"]
    return [(r["reading"]["coupon"], r["reading"]["mass_g"], r["author"]) for r in said
            if r["state"] == "current" and r["author"]]  # fmt: skip


def queue(page):
    return page.evaluate(
        "Object.keys(localStorage).filter((k) => k.startsWith('beadworth/entry/')).length"
    )


def test_a_phone_pairs_weighs_goes_offline_and_comes_back(desk, phone, picture):
    door, code = desk.code()
    desk.check()
    picture(desk, "phone-desk")
    seen = phone("phone one", f"{door}/pair#{code}")
    page = seen.page
    if "127." not in door:
        assert page.evaluate("isSecureContext") is False
    assert page.locator("#code").input_value() == code
    assert page.url == f"{door}/pair"  # the code stands in no history
    seen.check()
    pair(seen)
    desk.page.locator(".phones", has_text="phone 1").wait_for()
    page.locator("[data-live] .chart-live svg").first.wait_for()
    page.locator("[data-live]:not([data-draft])").wait_for()
    seen.check()
    picture(seen, "phone-weigh")
    with seen.on_phone("dark"):
        seen.check_layout()

    # At the balance, with a connection: the answer stands there, the chart follows.
    first = weigh(page, "1,6")
    page.locator(".answer", has_text=first).wait_for()
    until(page, "document.querySelector('[name=coupon]').value !== '" + first + "'")
    assert queue(page) == 0
    assert kept(desk.bench, desk.trial) == [(first, 1.6, "phone 1")]

    # The connection goes: masses wait on the phone, and the next coupons come all the same.
    page.context.set_offline(True)
    away = []
    for mass in ("1.61", "1.62", "1.63"):
        away.append((weigh(page, mass), float(mass), "phone 1"))
        until(page, f"document.querySelector('[name=coupon]').value !== '{away[-1][0]}'")
    words = "The bench does not answer. 3 entries wait on this phone."
    page.locator(".line-state.down", has_text=words).wait_for()
    page.locator(".waiting", has_text="3 entries wait on this phone").wait_for()
    assert len({coupon for coupon, *_ in away}) == 3
    page.locator("#mass").fill("1.6")  # half typed
    seen.problems.clear()
    assert seen.look() == []
    assert seen.axe() == []
    picture(seen, "phone-offline")
    assert kept(desk.bench, desk.trial) == [(first, 1.6, "phone 1")]

    # It comes back, the page is loaded anew, and what waits is sent: each once.
    half = page.locator("[name=coupon]").input_value()
    page.context.set_offline(False)
    page.reload()
    until(
        page, "Object.keys(localStorage).filter((k) => k.startsWith('beadworth/entry/')).length", 0
    )
    assert kept(desk.bench, desk.trial) == [(first, 1.6, "phone 1"), *away]
    assert page.locator("[name=coupon]").input_value() == half
    assert page.locator("#mass").input_value() == "1.6"
    page.locator(".line-state:not(.down)").wait_for()
    seen.problems.clear()
    seen.check()
    with open_bench(desk.bench.path) as bench:
        assert bench.check().sound


def test_an_answer_that_was_lost_does_not_double_the_entry(door, phone):
    link, code = door.code()
    seen = phone("phone one", f"{link}/pair#{code}")
    pair(seen)
    page = seen.page
    # The bench stores it, and the answer never arrives.
    page.route("**/readings", lambda route: (route.fetch(), route.abort()))
    coupon = weigh(page, "1.6")
    until(page, f"document.querySelector('[name=coupon]').value !== '{coupon}'")
    assert queue(page) == 1
    assert kept(door.bench, door.trial) == [(coupon, 1.6, "phone 1")]
    page.unroute_all()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    until(
        page, "Object.keys(localStorage).filter((k) => k.startsWith('beadworth/entry/')).length", 0
    )
    said = httpx.get(f"{door.bench.address}/api/trials/{door.trial}/readings").json()["readings"]
    assert [r["reading"]["coupon"] for r in said].count(coupon) == 1


def test_a_coupon_weighed_at_the_desk_meanwhile_is_not_overwritten(door, phone):
    link, code = door.code()
    seen = phone("phone one", f"{link}/pair#{code}")
    pair(seen)
    page = seen.page
    page.context.set_offline(True)
    coupon = weigh(page, "1.6")
    until(page, f"document.querySelector('[name=coupon]').value !== '{coupon}'")
    body = {"coupon": coupon, "mass_g": 1.7}
    at_desk = httpx.post(f"{door.bench.address}/api/trials/{door.trial}/readings", json=body)
    assert at_desk.status_code == 201
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    refused = page.locator(".refused-entry", has_text=f"Not stored: {coupon}, 1.6 g.")
    refused.wait_for()
    assert "has a reading that counts already" in refused.inner_text()
    page.reload()  # it stays until somebody decides
    page.locator(".refused-entry").wait_for()
    seen.problems.clear()
    seen.check_layout()
    page.get_by_role("link", name=f"Enter {coupon} again").click()
    page.locator("#why").wait_for()
    weigh(page, "1.6")
    page.locator(".answer", has_text=coupon).wait_for()
    until(page, "document.querySelector('.refused-entry') === null")
    assert kept(door.bench, door.trial) == [(coupon, 1.6, "phone 1")]


def test_a_code_serves_one_phone_and_an_unpaired_one_keeps_its_entries(desk, phone):
    door, code = desk.code()
    one = phone("phone one", f"{door}/pair#{code}")
    pair(one)
    two = phone("phone two", f"{door}/pair#{code}")
    two.page.get_by_role("button", name="Pair this phone").click()
    two.page.locator(".refusal", has_text="this code was used already").wait_for()
    two.page.goto(f"{door}/")
    assert two.page.url == f"{door}/pair"

    # One click at the desk, and the first phone is out; what it typed stays on it.
    desk.page.locator(".phones button", has_text="Unpair").first.click()
    desk.page.locator(".phones", has_text="unpaired").wait_for()
    coupon = weigh(one.page, "1.6")
    one.page.locator(".line-state.down", has_text="this phone was unpaired at the desk").wait_for()
    assert queue(one.page) == 1
    assert kept(desk.bench, desk.trial) == []

    # Paired again, it sends what waited.
    _, again = desk.code()
    one.page.goto(f"{door}/pair#{again}")
    one.page.reload()  # only what stands behind # changed in the address
    one.page.locator("#code").fill(again.lower().replace("-", " "))
    pair(one)
    until(
        one.page,
        "Object.keys(localStorage).filter((k) => k.startsWith('beadworth/entry/')).length",
        0,
    )
    assert kept(desk.bench, desk.trial) == [(coupon, 1.6, "phone 2")]

    # Other pages of the bench, and other trials, are closed to it.
    for path, words in (
        (desk.bench.finished, "this phone was paired for another trial"),
        ("/rigs", "may weigh in and add photos of one trial, nothing else"),
        (f"{desk.bench.started}/phone", "may weigh in and add photos"),
    ):
        answer = one.page.goto(door + path)
        assert answer.status == 403
        assert words in one.page.locator(".refusal").inner_text()
    one.problems.clear()
    one.check_layout()


def test_a_photo_waits_like_a_mass_and_comes_without_what_the_camera_added(door, phone):
    link, code = door.code()
    seen = phone("phone one", f"{link}/pair#{code}")
    pair(seen)
    page = seen.page
    out = BytesIO()
    camera = Image.Exif()
    camera[0x010E] = "somebody's kitchen"
    Image.effect_noise((2400, 1800), 40).convert("RGB").save(out, "JPEG", exif=camera)
    page.context.set_offline(True)
    page.locator("#photo").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}
    )
    page.locator("#alt").fill("The strand as it fell")
    page.get_by_role("button", name="Add the photo").click()
    page.locator(".waiting", has_text="photo: The strand as it fell").wait_for()
    page.context.set_offline(False)
    page.reload()
    page.locator("#photo-said", has_text="The photo is in the journal.").wait_for()
    assert queue(page) == 0
    with open_bench(door.bench.path) as bench:
        (note,) = bench.notes("journal", door.trial)
        assert note.author == "phone 1"
        assert note.data["entry"]["shown"] is False
        (digest,) = [one["sha256"] for one in note.data["entry"]["photos"]]
        (photo,) = bench.notes("photo", digest)
    assert (photo.data["width_px"], photo.data["height_px"]) == (1600, 1200)
    assert "kitchen" not in json.dumps(photo.data)


def test_a_phone_whose_time_ran_out_keeps_what_it_has(door, phone):
    link, _ = door.code()
    secret = "s" * 43
    ran_out = datetime.now(UTC) + timedelta(seconds=8)
    digest = hashlib.sha256(secret.encode()).hexdigest()
    with open_bench(door.bench.path) as bench:
        bench.give(NewGrant("phone", "phone 1", "weigh-in", digest, ran_out, door.trial))
    seen = phone("phone one", "about:blank")
    page = seen.page
    page.context.add_cookies([{"name": "beadworth_phone", "value": secret, "url": link}])
    page.goto(f"{link}/trials/{door.trial}/weigh")
    page.locator("#mass").wait_for()
    page.wait_for_timeout(max(0.0, 1000 * (ran_out - datetime.now(UTC)).total_seconds()))
    weigh(page, "1.6")
    page.locator(".line-state.down", has_text="this phone's pairing ran out").wait_for()
    assert queue(page) == 1
    assert kept(door.bench, door.trial) == []
    page.reload()
    page.locator(".refusal", has_text="this phone's pairing ran out").wait_for()
    assert queue(page) == 1


def test_a_phone_that_stores_nothing_says_so(door, phone):
    link, code = door.code()
    seen = phone("phone one", f"{link}/pair#{code}")
    pair(seen)
    page = seen.page
    page.evaluate(
        "void (Storage.prototype.setItem = () => { throw new DOMException('', 'Quota'); })"
    )
    page.context.set_offline(True)
    coupon = weigh(page, "1.6")
    page.locator(".waiting", has_text=f"{coupon}, 1.6 g").wait_for()
    page.locator(".waiting", has_text="keep it open").wait_for()
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    until(page, "document.querySelector('#waiting').hidden")
    for _ in range(400):  # it is out of sight while it is on its way, too
        if kept(door.bench, door.trial):
            break
        page.wait_for_timeout(25)
    assert kept(door.bench, door.trial) == [(coupon, 1.6, "phone 1")]


def test_the_door_closes_with_one_click(desk, phone):
    door, _ = desk.code()
    assert httpx.get(f"{door}/pair").status_code == 200
    desk.page.get_by_role("button", name="Close it for all phones").click()
    desk.page.get_by_role("button", name="Open it and show a code").wait_for()
    with pytest.raises(httpx.TransportError):
        httpx.get(f"{door}/pair", timeout=2)
    assert desk.problems == []
