"""A balance at a virtual port in a real browser: learnt, weighed with by Enter and hands-free."""

from __future__ import annotations

import pytest
from page_checks import until
from virtual_balance import VirtualBalance, keys_pressed

pytestmark = pytest.mark.browser


@pytest.fixture
def balance(tmp_path):
    with VirtualBalance(tmp_path, every_s=0.01) as made:  # at rest sooner than a real one
        yield made


COUPON = "document.querySelector('.now-coupon')?.lastChild.textContent.trim()"
ANSWERED = "document.querySelector('.answer-head')?.innerText.split(' ').slice(0, 2).join(' ')"
MASS = "document.querySelector('[data-live-mass]')?.textContent"
STATE = "document.querySelector('[data-live-state]')?.textContent"
TROUBLE = "document.querySelector('[data-live-trouble]')?.textContent"


POLLED = ("/balances/learn/lines", "/balances/live")


@pytest.fixture
def looks(both):
    """Check the page as it stands; what it asked again and again may be cut off when it is left."""

    def check(seen, name="", *, whole=False):
        seen.problems[:] = [one for one in seen.problems if not one.endswith(POLLED)]
        both(seen, name, whole=whole)

    return check


def test_learnt_and_weighed_with(visit, own_demo, balance, looks):
    seen = visit(f"{own_demo.address}/balances")
    page = seen.page
    looks(seen, whole=True)
    page.get_by_label("Port", exact=True).fill(str(balance.port))
    page.get_by_role("button", name="Connect and look").click()
    page.get_by_role("heading", name="Empty the pan").wait_for()
    until(page, "document.querySelectorAll('.raw-lines .length').length", 12)
    page.get_by_role("button", name="It is empty and at rest").click()
    page.get_by_label("The display shows").fill("12.34")
    looks(seen)
    balance.put(1234)
    until(page, "document.querySelector('.raw-lines').innerText.split('S    12.34 g').length", 13)
    page.get_by_role("button", name="It is on and at rest").click()
    page.get_by_label("Name of the balance").fill("Bench balance")
    looks(seen, whole=True)
    page.get_by_role("button", name="That is so: store it").click()
    page.get_by_text("Bench balance is on the bench and in use").wait_for()
    until(page, MASS, "12.34")
    looks(seen)

    page.get_by_role("link", name="Checks: repeatability, drift, linearity").click()
    page.get_by_label("Take each piece from the balance").check()
    for count in (178, 179, 178):
        balance.put(0)
        until(page, f"{MASS} + {STATE}", "0.00at rest")
        balance.put(count)
        until(page, f"{MASS} + {STATE}", f"1.{count - 100}at rest")
    until(page, "document.querySelector('[data-collect]').value", "1.78 1.79 1.78")
    page.get_by_role("button", name="Record repeatability").click()
    page.get_by_text("Repeatability 5.8 mg from 3 placings.").wait_for()
    looks(seen, whole=True)

    page.goto(f"{own_demo.address}{own_demo.started}/weigh")
    until(page, f"{MASS} + {STATE}", "1.78at rest")
    first = page.evaluate(COUPON)
    balance.put(226)
    until(page, f"{MASS} + {STATE}", "2.26at rest")
    page.locator("#mass").press("Enter")
    until(page, ANSWERED, f"{first} 2.26")
    looks(seen, "balance-weigh", whole=True)
    second = page.evaluate(COUPON)
    page.locator("#mass").press("Enter")
    until(page, TROUBLE, "Nothing was moved on the pan since the last one. Put this coupon on, or "
          "type its mass.")  # fmt: skip
    assert page.evaluate(COUPON) == second
    looks(seen)
    page.locator("#mass").fill("2.27")  # typed all the same
    page.locator("#mass").press("Enter")
    until(page, ANSWERED, f"{second} 2.27")

    page.get_by_label("Hands-free").check()
    for count, text in ((228, "2.28"), (229, "2.29")):
        balance.put(0)
        until(page, f"{MASS} + {STATE}", "0.00at rest")
        coupon = page.evaluate(COUPON)
        balance.put(count)
        until(page, ANSWERED, f"{coupon} {text}")
    balance.unplug()
    until(page, f"({TROUBLE} ?? '').includes('Typing the mass works without a cable.')", True)
    fifth = page.evaluate(COUPON)
    page.locator("#mass").fill("2.3")
    page.locator("#mass").press("Enter")
    until(page, ANSWERED, f"{fifth} 2.30")
    looks(seen)


def test_one_that_sends_at_its_key_is_learnt_and_weighed_with(visit, server, balance, tmp_path):
    balance.silent = True
    page = visit(f"{server(tmp_path / 'own.bench').address}/balances").page
    page.get_by_label("Port", exact=True).fill(str(balance.port))
    page.get_by_label("It sends a line only when its key is pressed").check()
    page.get_by_role("button", name="Connect and look").click()
    page.get_by_text("Go on here, then press the balance's key three times").wait_for()
    with keys_pressed(balance):
        page.get_by_role("button", name="It is empty and at rest").click()
        page.get_by_label("The display shows").fill("12.34")
        balance.put(1234)
        page.get_by_role("button", name="It is on and at rest").click()
        page.get_by_label("Name of the balance").fill("Keyed balance")
        page.get_by_role("button", name="That is so: store it").click()
        page.get_by_text("Keyed balance is on the bench and in use").wait_for()
        until(page, f"{MASS} + {STATE}", "12.34by its key: compare with the display")
