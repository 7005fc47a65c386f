"""A rig from eight boxes, a card, and the rig with it, in a real browser: by the keyboard alone."""

from __future__ import annotations

import pytest

from beadworth.core import from_mapping
from beadworth.rig import Extruder, HotEnd, PartCard, RigStart, rig_from_layout
from beadworth.store import open_bench
from beadworth.workflow import make_upgrade

pytestmark = pytest.mark.browser


@pytest.fixture
def parted(tmp_path, server):
    """A served bench with a rig from a layout, two cards, and the rig with one of them."""
    path = tmp_path / "parts.bench"
    answers = {"name": "Wren", "layout": "moving bed", "reach_mm": [220, 220, 250],
               "temperature_limit_c": 260.0, "melt_zone_mm": 12.5}  # fmt: skip
    with open_bench(path) as bench:
        bench.save_rig(rig_from_layout(from_mapping(RigStart, answers, "rig")))
        bench.save_part(
            PartCard(name="Copper, long zone", kind="hot end", price=54.0, currency="EUR",
                     mass_g=71.0, hot_end=HotEnd(melt_zone_mm=20.0, temperature_limit_c=290.0))
        )  # fmt: skip
        bench.save_part(PartCard(name="Light extruder", kind="extruder", mass_g=140.0,
                                 extruder=Extruder(drive="direct")))  # fmt: skip
        make_upgrade(bench, "Wren", {"name": "Wren, copper"}, ["Copper, long zone"])
    return server(path).address


def test_every_page_is_quiet_fits_and_is_readable(visit, parted, picture):
    seen = visit("about:blank")
    for path, name in (
        ("/rigs/new", "rig-start"),
        ("/parts", ""),
        ("/part/Copper, long zone", "part"),
        ("/parts/new?kind=guides", ""),
        ("/upgrades/new?rig=Wren&part.hot_end=Copper, long zone", "upgrade-parts"),
        ("/rig-fit?upgrade=Wren, copper&material=PLA&temperature=220", ""),
        ("/rig/Wren", ""),
    ):
        seen.go(parted + path)
        if name:
            picture(seen, f"{name}-desktop", "wide")
        seen.page.evaluate("document.querySelectorAll('details').forEach((d) => d.open = true)")
        seen.check_both()


def by_keys(page, label, text):
    """Go to a box with Tab alone and type."""
    for _ in range(60):
        named = page.evaluate(
            "() => document.activeElement.labels?.[0]?.innerText.trim().split('\\n')[0] ?? ''"
        )
        if named.startswith(label):
            break
        page.keyboard.press("Tab")
    else:
        raise AssertionError(f"Tab does not lead to {label}")
    page.keyboard.type(text)


def test_the_keyboard_alone_makes_rig_card_and_upgrade(visit, server, tmp_path):
    path = tmp_path / "own.bench"
    seen = visit(server(path).address + "/rigs/new")
    page = seen.page
    by_keys(page, "Name", "Wren")
    by_keys(page, "How it is built", "moving")
    by_keys(page, "What the nozzle reaches", "220 220 250")
    by_keys(page, "Hot end's temperature limit", "2600")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Is this so?").wait_for()
    by_keys(page, "Hot end's temperature limit", "")
    page.keyboard.press("Control+A")
    page.keyboard.type("260")
    page.keyboard.press("Enter")
    page.wait_for_url("**/rig/Wren")

    page.goto(page.url.replace("/rig/Wren", "/parts/new"))
    by_keys(page, "Name", "Long")
    by_keys(page, "Melt zone length", "20")
    page.keyboard.press("Enter")
    page.wait_for_url("**/part/Long")
    by_keys(page, "Rig as it is", "Wren")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/upgrades/new**")
    by_keys(page, "Name of the upgraded rig", "Wren, long")
    page.keyboard.press("Enter")
    page.wait_for_url("**/upgrade?**")
    assert page.get_by_role("heading", name="Wren, long").is_visible()
    with open_bench(path) as bench:
        assert bench.rig("Wren, long").parts.hot_end == "Long"
    assert len(seen.problems) == 1  # the question itself, which is sent as a refusal
    assert "422" in seen.problems[0]


def test_a_value_is_entered_in_its_row_and_the_page_stays_there(visit, parted):
    seen = visit(f"{parted}/rig-fit?upgrade=Wren, copper&material=PLA&temperature=220")
    row = seen.page.locator("#row-nozzle-reach-to-the-bed")
    row.get_by_role("textbox").fill("-1")
    row.get_by_role("button", name="Record").click()
    seen.page.wait_for_url("**#row-nozzle-reach-to-the-bed")
    assert row.locator('[name="axes.z.start_mm"]').count() == 0
    assert seen.problems == []
