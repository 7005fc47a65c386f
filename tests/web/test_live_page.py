"""The trial page as weighings come in: numbers and chart at any loss, coupons in doubt, speed."""

from __future__ import annotations

import html
import json
import re

import pytest
from starlette.testclient import TestClient

from beadworth import demo
from beadworth.capacity import ceiling_at
from beadworth.core import bead_section_mm2
from beadworth.demo.trials import STARTED
from beadworth.web import create_app
from beadworth.workflow import import_readings, open_bench, trial_fit

HTMX = {"hx-request": "true"}


@pytest.fixture(scope="module")
def shown(demo_copy, tmp_path_factory):
    """A client, the demo's bench, and the ids of its finished and its started trial."""
    path = demo_copy(tmp_path_factory.mktemp("live"))
    with open_bench(path) as bench, TestClient(create_app(bench), "http://localhost") as client:
        ids = {trial.question: trial.id for trial in bench.trials()}
        yield client, bench, ids[demo.FINISHED.question], ids[STARTED.question]


def live(client, trial, **query):
    text = client.get(f"/trials/{trial}/live", params=query, headers=HTMX).text
    found = {
        name: json.loads(re.search(rf"<script[^>]* data-{name}>(.*?)</script>", text)[1])
        for name in ("steps", "doubtful")
    }
    specs = re.findall(r'class="spec">(.*?)</script>', text)
    return text, found, [json.loads(spec) for spec in specs]


def numbers(text):
    cells = re.findall(
        r'data-cell="([^"]*)".*?data-number>([^<]*)<.*?data-range>([^<]*)<', text, re.S
    )
    return {html.unescape(key): (value, under) for key, value, under in cells}


def test_numbers_and_every_step_of_the_level_are_the_ceilings_of_the_fit(shown):
    client, bench, finished, _ = shown
    text, found, _ = live(client, finished)
    fit = trial_fit(bench.snapshot(finished))
    said = numbers(text)
    assert len(said) == len(fit.ceilings) == 6
    for ceiling in fit.ceilings:
        key = f"{ceiling.temperature_c:g} {ceiling.rig}"
        under = f"{ceiling.low:.1f} to {ceiling.high:.1f}"
        assert said[key] == (f"{ceiling.flow_mm3_s:.1f}", under)
        for loss in (0.005, 0.02, 0.05, 0.1):
            at = found["steps"]["losses"].index(loss)
            own = ceiling_at(fit, ceiling.rig, ceiling.material, ceiling.temperature_c, loss)
            if own.bound == "interval":
                assert found["steps"]["cells"][key][at][0] == f"{own.flow_mm3_s:.1f}"
            else:
                assert found["steps"]["cells"][key][at][0][0] in "≥≤"


def test_the_level_asked_for_is_the_one_shown(shown):
    client, _, finished, _ = shown
    text, found, specs = live(client, finished, loss="5")
    assert 'aria-valuetext="5.0 % loss"' in text
    assert [p["value"] for p in specs[0]["params"] if p["name"] == "loss"] == [0.05]
    index = int(re.search(r'data-index="(\d+)"', text)[1])
    assert found["steps"]["losses"][index] == 0.05
    assert client.get(f"/trials/{finished}/live?loss=50", headers=HTMX).status_code == 422


def test_rows_for_a_chart_that_is_drawn_come_without_drawings(shown):
    client, _, finished, _ = shown
    drawn, _, with_drawings = live(client, finished)
    bare, _, without = live(client, finished, rows=1)
    assert "<svg" in drawn
    assert "<svg" not in bare
    assert with_drawings[0]["data"] == without[0]["data"]
    assert with_drawings[0]["data"]["name"] == "rows"


def test_a_started_trial_shows_what_waits_and_a_question_mark_for_what_is_not_known(shown):
    client, bench, _, started = shown
    text, _, specs = live(client, started, draft=1)
    snapshot = bench.snapshot(started)
    weighed = {r.coupon for r in snapshot.current}
    rows = specs[0]["data"]["values"]
    waiting = {row["coupon"] for row in rows if row["part"] == "planned"}
    assert waiting == {c.coupon for c in snapshot.coupons} - weighed
    assert numbers(text)[f"220 {demo.STOCK.name}"] == ("?", "not known yet")
    assert "data-draft" in text
    assert "data-draft" not in live(client, started)[0]


def test_before_the_first_weighing_the_prediction_stands_there(shown, tmp_path):
    _, bench, finished, _ = shown
    spec = bench.snapshot(finished).record.spec.model_copy(
        update={"temperatures_c": (210.0,), "question": "How far does it go, untested?"}
    )
    from beadworth.workflow import make_plan

    with open_bench(tmp_path / "new.bench") as new:
        for name in (spec.baseline, spec.candidate):
            new.save_rig(bench.rig(name))
        new.save_material(bench.material(spec.material))
        trial = new.create_trial(spec, make_plan(new, spec)).id
        with TestClient(create_app(new), "http://localhost") as client:
            text, found, specs = live(client, trial)
    rows = specs[0]["data"]["values"]
    predicted = [row for row in rows if row["part"] == "predicted"]
    assert {row["rig"] for row in predicted} == {spec.baseline, spec.candidate}
    for row in predicted:
        value, under = numbers(text)[f"210 {row['rig']}"]
        assert value == "?"
        assert under == f"predicted {row['low']:.0f} to {row['high']:.0f}"
    assert found["steps"]["cells"] == {}
    assert "coupons wait. Predicted ceilings" in specs[0]["description"]


def test_a_coupon_that_stands_out_stays_marked(shown, demo_copy, tmp_path):
    with open_bench(demo_copy(tmp_path)) as bench:
        trial = next(t.id for t in bench.trials() if t.question == demo.FINISHED.question)
        snapshot = bench.snapshot(trial)
        low = next(
            s for s in snapshot.readings
            if s.state == "current" and not s.reading.reference and s.reading.flow_mm3_s == 9
        )  # fmt: skip
        bench.supersede_reading(
            low.reading_id, round(0.9 * low.reading.mass_g, 3), None, None, None, "strand broke"
        )
        with TestClient(create_app(bench), "http://localhost") as client:
            _, found, specs = live(client, trial)
    assert low.reading.coupon in found["doubtful"]
    crossed = {r["coupon"] for r in specs[0]["data"]["values"] if r["part"] == "voided"}
    assert low.reading.coupon in crossed


@pytest.mark.parametrize(
    ("width", "layer", "margin", "loss"), [(0.45, 0.2, 10, 2), (0.8, 0.3, 0, 5)]
)
def test_the_speed_is_the_ceiling_less_its_margin_over_the_beads_section(
    shown, width, layer, margin, loss
):
    client, bench, finished, _ = shown
    fit = trial_fit(bench.snapshot(finished))
    rig, material = fit.groups[0].rig, fit.groups[0].material
    ceiling = ceiling_at(fit, rig, material, 220.0, loss / 100)
    expected = ceiling.flow_mm3_s * (1 - margin / 100) / bead_section_mm2(width, layer)
    query = {"of": f"220 {rig}", "width": width, "layer": layer, "reserve": margin, "loss": loss}
    text = client.get(f"/trials/{finished}/speed", params=query, headers=HTMX).text
    assert re.search(r"<b>(\d+)</b> mm/s", text)[1] == f"{expected:.0f}"
    assert f"{loss:.1f} % loss" in text


def test_a_bead_that_cannot_be_laid_has_no_speed(shown):
    client, _, finished, _ = shown
    thin = {"width": "0.2", "layer": "0.3"}
    text = client.get(f"/trials/{finished}/speed", params=thin, headers=HTMX).text
    assert "A line must be wider than its layer is high." in text
    bad = client.get(f"/trials/{finished}/speed", params={"width": "wide"}, headers=HTMX)
    assert bad.status_code == 422
    assert "&#39;wide&#39; is not a size from 0.02 to 5 mm." in bad.text


def test_the_page_follows_a_trial_from_its_first_weighing(client, stocked, spec):
    """Whatever is weighed so far: too few for a curve, one temperature only, one rig only."""
    from beadworth.trial import TrialSpec
    from beadworth.workflow import make_plan

    record = TrialSpec.model_validate_json(json.dumps(spec))
    trial = stocked.create_trial(record, make_plan(stocked, record)).id
    for i, coupon in enumerate(stocked.coupons(trial)):
        if i < 6 or i % 11 == 0:
            text, _, specs = live(client, trial, draft=1, rows=1)
            dots = [r for r in specs[0]["data"]["values"] if r["part"] in ("reading", "reference")]
            assert i - 1 <= len(dots) <= i, coupon.coupon  # the first of a temperature has no loss
            assert ("No ceiling yet." in text) == (i < 3)
        loss = max(0.0, coupon.flow_mm3_s - 13) * 0.02
        mass = 1.78 * (1 - loss) * (1 + 0.003 * (-1) ** i)
        stocked.record_reading(trial, coupon.coupon, round(mass, 3))


def test_the_finding_stands_over_the_numbers_and_waits_for_the_whole_fit(shown):
    client, _, finished, started = shown
    (finding,) = re.findall(r'class="live-finding">(.*?)</p>', live(client, finished)[0])
    assert finding.startswith("At 220\u00a0°C the candidate")
    assert "more than the baseline" in finding
    (draft,) = re.findall(r'class="live-finding">(.*?)</p>', live(client, started, draft=1)[0])
    assert draft == ""


def test_two_materials_on_one_rig_have_numbers_of_their_own(tmp_path, empty_bench):
    """As a table brought in may have them: each line and key says its material."""
    head = "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g\n"
    rows = [
        f"R,{name},220,{q},600,{1.78 * min(1.0, (top / q) ** 0.7) * (1 + 0.002 * (-1) ** n):.4f}"
        for name, top in (("soft", 10.0), ("stiff", 14.0))
        for n, q in enumerate((6, 8, 10, 12, 14, 16, 18, 20))
    ]
    with open_bench(empty_bench(tmp_path / "two.bench")) as bench:
        trial, _ = import_readings(bench, head + "\n".join(rows), "two.csv")
        with TestClient(create_app(bench), "http://localhost") as client:
            text, found, _ = live(client, trial)
            assert set(numbers(text)) == set(found["steps"]["cells"])
            assert set(numbers(text)) == {"220 R, soft", "220 R, stiff"}
            for words in found["steps"]["cells"].values():
                assert len(words) == len(found["steps"]["losses"])
            soft, stiff = (float(numbers(text)[f"220 R, {m}"][0]) for m in ("soft", "stiff"))
            assert soft < stiff - 2
            asked = {"of": "220 R, stiff"}
            said = client.get(f"/trials/{trial}/speed", params=asked, headers=HTMX).text
            assert re.search(r"<b>\d+</b> mm/s", said)
