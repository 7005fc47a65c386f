"""Whatever a name, question or note holds stands on every page as words, never as markup."""

from __future__ import annotations

from html.parser import HTMLParser
from urllib.parse import quote

import pytest
from loops import is_long

from beadworth.core import from_mapping
from beadworth.report.charts.chart import WIDE_PX
from beadworth.trial import TrialSpec
from beadworth.workflow.trial import make_plan

MARK = "zqx"
NAMES = (
    f"</script><b {MARK}>",
    f'"><b {MARK}>',
    rf"Lab\A \1 \g<0> {MARK}",
    f'" {MARK}="1" hx-post="/{MARK}" hx-trigger="load',
    f"<!--<script><b {MARK}='",
    f"{{{{ {MARK} }}}} $$$& %s",
)
"""What would break out of a text, an attribute, a script, a pattern, a template."""


class Found(HTMLParser):
    """Attributes that a name made, or that it stands in where only identifiers do."""

    def __init__(self, page):
        super().__init__()
        self.made = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        for key, said in attrs:
            words = said or ""
            odd = key in ("id", "class") and any(letter in words for letter in "<>\"'\\{")
            posts = key in ("hx-post", "hx-trigger") and MARK in words and words[:7] != "/trials"
            if MARK in key or odd or posts:
                self.made.append((tag, key, said))


def a_trial(bench, records, spec, shift):
    """A weighed trial whose every name and text is one of the list; its id, its rigs."""
    names = [NAMES[(shift + n) % len(NAMES)] for n in range(5)]
    short, long = records["rigs"]
    rigs = [short.model_copy(update={"name": names[0]}),
            long.model_copy(update={"name": names[1], "parent": names[0]})]  # fmt: skip
    material = records["material"].model_copy(update={"name": names[2]})
    for rig in rigs:
        bench.save_rig(rig)
    bench.save_material(material)
    asked = from_mapping(TrialSpec, spec | {
        "question": names[3], "baseline": names[0], "candidate": names[1], "material": names[2],
        "temperatures_c": [215.0], "replicates": 1,
    }, "test")  # fmt: skip
    trial = bench.create_trial(asked, make_plan(bench, asked)).id
    for coupon in bench.coupons(trial):
        lost = 0.003 * max(0.0, coupon.flow_mm3_s - 9.0)
        mass = coupon.filament_mm * 2.405 * 1.24e-3 * (1.0 - lost)
        bench.record_reading(trial, coupon.coupon, round(mass, 3), note=names[4])
    bench.add_note("journal", names[0], {})
    return trial, names[:2], names[2]


def addresses(trial, rigs, material):
    yield from ("/", "/rigs", "/materials", "/upgrades", "/upgrades/new", "/start", "/worth",
                "/trials/new", "/prints", "/melt")  # fmt: skip
    for name in map(quote, rigs):
        yield from (f"/rig/{name}", f"/wear/{name}", f"/upgrade?rig={name}",
                    f"/upgrades/new?rig={name}", f"/bring-up?rig={name}", f"/rig-fit?rig={name}",
                    f"/rig-edit?rig={name}", f"/rig-view?rig={name}")  # fmt: skip
    yield f"/material/{quote(material)}"
    yield from (f"/trials/{trial}{part}" for part in (
        "", "/weigh", "/import", "/replan", "/live", "/capacity", "/speeds", "/speed", "/compare",
        "/programs", "/next", "/publish", "/typical", "/dossier", "/dossier.html",
        "/tab/plan", "/tab/readings", "/tab/method", "/tab/budget",
    ))  # fmt: skip


@pytest.mark.parametrize("shift", [0, 3])
def test_no_name_becomes_markup_on_any_page(client, bench, records, spec, shift, monkeypatch):
    if not is_long():  # both widths of a chart hold the same words
        monkeypatch.setattr("beadworth.report.render.html.NARROW_PX", WIDE_PX)
    seen = 0
    for address in addresses(*a_trial(bench, records, spec, shift)):
        answer = client.get(address)
        assert answer.status_code < 500, (address, answer.text[:2000])
        assert Found(answer.text).made == [], address
        seen += MARK in answer.text
    assert seen > 20  # the names were there to be shown
