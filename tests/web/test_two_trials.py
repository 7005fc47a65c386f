"""Stock weighed now and the upgrade later: compared on its page, in the terminal and for worth."""

from __future__ import annotations

import html
import re

from beadworth.core import filament_mass_g, from_mapping
from beadworth.trial import TrialSpec
from beadworth.workflow import bench_view, comparison_apart, make_plan, upgrade


def weigh(bench, rig, top):
    spec = {"question": f"How much can {rig} melt?", "baseline": rig,
            "material": "PLA, test grey",
            "temperatures_c": [220.0], "flows_mm3_s": [4.0, 8.0, 12.0, 16.0],
            "replicates": 3, "references_per_block": 3, "reference_flow_mm3_s": 3.0,
            "filament_mm": 600.0}  # fmt: skip
    made = from_mapping(TrialSpec, spec, "spec")
    trial = bench.create_trial(made, make_plan(bench, made))
    for n, coupon in enumerate(bench.coupons(trial.id)):
        whole = filament_mass_g(coupon.filament_mm, 1.75, 1.24)
        mass = whole * min(1.0, top / coupon.flow_mm3_s) * (1 + 0.001 * (-1) ** n)
        bench.record_reading(trial.id, coupon.coupon, round(mass, 4))
    return trial.id


def test_the_upgrade_page_leads_from_one_trial_to_the_other_and_to_both(client, stocked, records):
    short, long = records["rigs"]
    page = f"/upgrade?rig={long.name}"
    first = weigh(stocked, short.name, 9.0)
    before = html.unescape(client.get(page).text)
    assert f"Weigh {long.name} alone" in before
    assert "/trials/new?baseline=Stilt%2C+long+zone" in before
    of = {s.name: s for s in upgrade(bench_view(stocked), long.name).stages}
    assert of["trial"].state == "begun"

    second = weigh(stocked, long.name, 13.0)
    text = html.unescape(client.get(page).text)
    address = re.search(r'href="(/trials/[^"]+compare[^"]+)">Compare their ceilings', text)[1]
    shown = client.get(address)
    assert shown.status_code == 200
    assert "as weighed in" in shown.text
    assert "The rigs were weighed in two trials." in shown.text
    found = comparison_apart(stocked.snapshot(first), stocked.snapshot(second))
    assert (found.baseline, found.candidate) == (short.name, long.name)
    assert html.escape(found.sentence) in shown.text or found.sentence in shown.text
    assert f"candidate_trial={second}" in shown.text
    assert found.differences[0].low < 4.0 < found.differences[0].high
