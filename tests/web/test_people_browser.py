"""A bench for several people in the browser: sign in, see who one is, do what is one's own."""

from __future__ import annotations

import pytest

from beadworth.core import from_mapping
from beadworth.store import open_bench
from beadworth.trial import TrialSpec
from beadworth.workflow import admit, make_plan

pytestmark = pytest.mark.browser


@pytest.fixture
def several(server, tmp_path, empty_bench, records, spec):
    """A served bench with a planned trial, and the secret of one of each role."""
    path = empty_bench(tmp_path / "x.bench")
    with open_bench(path) as bench:
        for rig in records["rigs"]:
            bench.save_rig(rig)
        bench.save_material(records["material"])
        asked = from_mapping(TrialSpec, spec, "test")
        trial = bench.create_trial(asked, make_plan(bench, asked)).id
        secrets = {role: admit(bench, f"A. {role}", role).secret for role in ("measurer", "reader")}
    running = server(path, people=True)
    return running.address, trial, secrets


def sign_in(page, secret):
    page.locator("#secret").fill(secret)
    page.get_by_role("button", name="Sign in").click()
    page.locator(".who").wait_for()


def test_people_sign_in_and_do_what_is_their_own(visit, several, both):
    address, trial, secrets = several
    seen = visit(f"{address}/rigs", width=1440)
    page = seen.page
    assert page.url == f"{address}/sign-in"
    both(seen)
    page.locator("#secret").fill("not it")
    page.get_by_role("button", name="Sign in").click()
    page.locator(".refusal", has_text="not the secret of anybody who is let in").wait_for()
    seen.problems.clear()  # the browser notes the 401
    both(seen)
    sign_in(page, secrets["reader"])
    assert page.locator(".who span").inner_text() == "A. reader, reader"
    both(seen)

    # A reader who weighs in is told why not, and the mass stays in the field.
    page.goto(f"{address}/trials/{trial}/weigh")
    page.locator("#mass").fill("1.7")
    page.keyboard.press("Enter")
    page.locator("#line-down", has_text="A. reader may look, as reader; this is more.").wait_for()
    assert page.locator("#mass").input_value() == "1.7"
    seen.problems.clear()

    page.get_by_role("button", name="Sign out").click()
    page.locator("#secret").wait_for()
    sign_in(page, secrets["measurer"])
    page.goto(f"{address}/trials/{trial}/weigh")
    page.locator("#mass").fill("1.7")
    page.keyboard.press("Enter")
    page.locator(".answer", has_text="on the bench").wait_for()
    page.goto(f"{address}/trials/{trial}?tab=readings")
    page.locator("summary", has_text="Every reading").click()
    page.get_by_text("by A. measurer").wait_for()
    both(seen)
