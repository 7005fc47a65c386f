"""A balance at a virtual port in a real browser: learnt, weighed with by Enter and hands-free."""

from __future__ import annotations

import pytest
from virtual_balance import VirtualBalance

pytestmark = pytest.mark.browser


@pytest.fixture
def balance(tmp_path):
    with VirtualBalance(tmp_path) as made:
        yield made


def until(page, script, value):
    """Wait for what a script says; the pages' policy forbids the browser's own waiting for text."""
    for _ in range(600):
        if page.evaluate(script) == value:
            return
        page.wait_for_timeout(25)
    raise AssertionError((script, page.evaluate(script), value))


COUPON = "document.querySelector('.now-coupon')?.lastChild.textContent.trim()"
ANSWERED = "document.querySelector('.answer-head')?.innerText.split(' ').slice(0, 2).join(' ')"
MASS = "document.querySelector('[data-live-mass]')?.textContent"
STATE = "document.querySelector('[data-live-state]')?.textContent"
TROUBLE = "document.querySelector('[data-live-trouble]')?.textContent"


def test_learnt_and_weighed_with(visit, own_demo, balance, both):
    seen = visit(f"{own_demo.address}/balances")
    page = seen.page
    both(seen)
    page.get_by_label("Port", exact=True).fill(str(balance.port))
    page.get_by_role("button", name="Connect and look").click()
    page.get_by_role("heading", name="Empty the pan").wait_for()
    until(page, "document.querySelectorAll('.raw-lines .length').length", 12)
    page.get_by_role("button", name="It is empty and at rest").click()
    page.get_by_label("The display shows").fill("12.34")
    both(seen, whole=False)
    balance.put(1234)
    until(page, "document.querySelector('.raw-lines').innerText.split('S    12.34 g').length", 13)
    page.get_by_role("button", name="It is on and at rest").click()
    page.get_by_label("Name of the balance").fill("Bench balance")
    both(seen)
    page.get_by_role("button", name="That is so: store it").click()
    page.get_by_text("Bench balance is on the bench and in use").wait_for()
    until(page, MASS, "12.34")
    both(seen, whole=False)

    page.goto(f"{own_demo.address}{own_demo.started}/weigh")
    until(page, f"{MASS} + {STATE}", "12.34at rest")
    first = page.evaluate(COUPON)
    balance.put(226)
    until(page, f"{MASS} + {STATE}", "2.26at rest")
    page.locator("#mass").press("Enter")
    until(page, ANSWERED, f"{first} 2.26")
    both(seen, "balance-weigh")
    second = page.evaluate(COUPON)
    page.locator("#mass").press("Enter")
    until(page, TROUBLE, "Nothing was moved on the pan since the last one. Put this coupon on, or "
          "type its mass.")  # fmt: skip
    assert page.evaluate(COUPON) == second
    both(seen, whole=False)
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
    seen.check_layout()
