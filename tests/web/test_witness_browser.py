"""Witness pages in a real browser: quiet, readable, graded on a phone."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
import witness_rigs

from beadworth.store import open_bench
from beadworth.workflow import add_look, open_codes, plan_witness, store_witness, stored_witness

pytestmark = pytest.mark.browser

# Named as on a bench, for the pictures.
RIG = witness_rigs.RIG.model_copy(update={"name": "Tern, stock hot end"})
MATERIAL = witness_rigs.MATERIAL.model_copy(update={"name": "PLA, chalk white"})
ASKED = {"kind": "melt or motion", "temperature_c": 215, "ceiling_mm3_s": 12.0}


@pytest.fixture(scope="module")
def running(module_server, tmp_path_factory):
    """Two loops on a bench: one graded and open, one still to be graded."""
    path = tmp_path_factory.mktemp("witness") / "witness.bench"
    with open_bench(path) as bench:
        bench.save_rig(RIG)
        bench.save_material(MATERIAL)
        made = plan_witness(RIG, MATERIAL, ASKED)
        numbers = [store_witness(bench, made, RIG, MATERIAL, 1, n).number for n in (2, 1)]
        one = stored_witness(bench, numbers[0])
        for look in (1, 2):
            grades = {
                f"{b.code} {side}": min(4, max(0, 2 + int(
                    (b.settings["flow_mm3_s"] - 11 - 0.5 * (look == 2)) // 0.8
                )))
                for b in one.bands for side in b.sides
            }  # fmt: skip
            add_look(bench, one.number, {"grader": "AB", "look": look, "grades": grades})
        open_codes(bench, one.number)
    running = module_server(path)
    running.numbers = numbers
    return running


def test_every_page_is_quiet_fits_and_is_readable(visit, running, picture):
    seen = visit("about:blank")
    opened, closed = running.numbers
    query = urlencode(ASKED | {"rig": RIG.name, "material": MATERIAL.name})
    for path, name in (
        (f"/witness?{query}", "witness-desktop"),
        (f"/witness/{opened}", "witness-read-desktop"),
        (f"/witness/{closed}", ""),
        (f"/witness/{closed}/grade", ""),
        (f"/witness/{closed}/grade?grader=CD&look=1", ""),
    ):
        seen.go(running.address + path)
        seen.settle()
        if name:
            picture(seen, name)
        seen.check()
        with seen.on_phone("light" if "grader" in path else "dark"):
            if "grader" in path:
                seen.page.locator("fieldset.graded").first.scroll_into_view_if_needed()
                picture(seen, "witness-grade-phone")
            seen.check_layout()


def test_a_look_is_graded_on_a_phone(visit, running):
    number = running.numbers[1]
    seen = visit(f"{running.address}/witness/{number}/grade", width=390, height=800)
    page = seen.page
    page.get_by_label("Initials or a made-up name").fill("EF")
    page.get_by_role("button", name="Begin").click()
    page.locator("fieldset.graded").first.wait_for()
    for group in page.locator("fieldset.graded").all():
        group.get_by_label("1", exact=True).check()
    page.get_by_role("button", name="Enter this look").click()
    page.get_by_text("The look is in.").wait_for()
    page.get_by_role("button", name="Open the codes and read").click()
    page.get_by_role("heading", name="What it says").wait_for()
    seen.check_layout()
