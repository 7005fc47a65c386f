"""Pages of a trial over HTTP, as they are without scripts and as fragments with them."""

from __future__ import annotations

import html
import io
import re
import zipfile

import numpy as np
import pytest

from beadworth.core.records import from_mapping
from beadworth.trial import TrialSpec, read_readings_csv
from beadworth.web.responses import environment
from beadworth.workflow.trial import make_plan

HTMX = {"HX-Request": "true"}
TYPED = {
    "question": "Does the long zone deliver more?",
    "baseline": "Stilt, short zone",
    "candidate": "Stilt, long zone",
    "material": "PLA, test grey",
    "temperatures_c": "210 220",
    "flows_mm3_s": "8:20:4",
    "reference_flow_mm3_s": "4",
    "loss": "2",
    "difference_mm3_s": "1,5",
    "hours": "6",
    "collect": "plate",
    "replicates": "1",
    "references_per_block": "2",
    "filament_mm": "600",
    "seed": "1",
}
CSV_HEAD = "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g\n"


@pytest.fixture(scope="module")
def planned():
    """What the first test to need a trial planned, for those after it."""
    return {}


@pytest.fixture
def trial(stocked, spec, planned):
    if not planned:
        planned["spec"] = from_mapping(TrialSpec, spec, "test")
        planned["plan"] = make_plan(stocked, planned["spec"])
    return stocked.create_trial(planned["spec"], planned["plan"]).id


@pytest.fixture(scope="module")
def finished_bench(demo_copy, tmp_path_factory):
    """The demo's finished trial, read only."""
    from beadworth.store import open_bench

    with open_bench(demo_copy(tmp_path_factory.mktemp("demo"))) as bench:
        yield bench


@pytest.fixture
def finished(finished_bench):
    """A client on it, and the finished trial's address."""
    from fastapi.testclient import TestClient

    from beadworth.web import create_app

    (trial,) = (t.id for t in finished_bench.trials() if t.spec.candidate)
    with TestClient(create_app(finished_bench), base_url="http://127.0.0.1") as client:
        yield client, f"/trials/{trial}"


@pytest.fixture
def demo_client(demo_copy, tmp_path):
    """A client on a demo bench of its own, and the bench."""
    from fastapi.testclient import TestClient

    from beadworth.store import open_bench
    from beadworth.web import create_app

    with (
        open_bench(demo_copy(tmp_path / "demo")) as bench,
        TestClient(
            create_app(bench), base_url="http://127.0.0.1", follow_redirects=False
        ) as client,
    ):
        yield client, bench


def first_coupon(bench, trial):
    return bench.coupons(trial)[0].coupon


def test_the_first_page_leads_on(client, bench, monkeypatch):
    # the longest part of a seeding, which every copy of the demo has been through
    monkeypatch.setattr("beadworth.demo.trials.seed_worth", lambda *given: None)
    text = client.get("/").text
    assert "Put the demo on this bench" in text
    assert 'href="/rigs/new"' in text
    assert client.post("/demo").status_code == 303
    assert {trial.simulated for trial in bench.trials()} == {True}
    assert "The reed loft" in client.get("/packages").text
    again = client.get("/").text
    assert "Put the demo on this bench" not in again
    assert "simulated" in again


def test_the_cost_is_seen_before_the_plan_is_kept(client, stocked):
    early = client.post("/trials/preview", data={"question": "x"}, headers=HTMX)
    assert "shows here" in early.text
    shown = client.post("/trials/preview", data=TYPED | {"question": ""}, headers=HTMX)
    assert "<html" not in shown.text
    for word in ("Coupons", "Filament", "Ceilings known to", "figure-outlook", "JCGM 100:2008"):
        assert word in shown.text
    assert re.search(r"programs? runs? about .* min .*; your hands take", shown.text)
    assert "Read as 210, 220 °C, each with" in shown.text
    assert stocked.trials() == []
    hot = client.post("/trials/preview", data=TYPED | {"temperatures_c": "400"}, headers=HTMX)
    assert "This plan cannot be run" in hot.text
    assert "400" in hot.text
    assert "<html" in client.post("/trials/preview", data=TYPED).text


def test_a_rig_and_a_material_lead_to_a_trial_of_them(client, stocked):
    way = re.search(
        r'href="(/trials/new[^"]*)">Plan a trial<', client.get("/rig/Stilt, long zone").text
    )
    form = client.get(html.unescape(way[1])).text
    assert '<option value="Stilt, short zone" selected>' in form
    assert '<option value="Stilt, long zone" selected>' in form
    assert (
        'baseline=Stilt%2C%20short%20zone">Plan a trial<'
        in client.get("/rig/Stilt, short zone").text
    )
    assert (
        "/trials/new?material=PLA%2C%20test%20grey" in client.get("/material/PLA, test grey").text
    )
    stranger = client.get(
        "/trials/new", params={"baseline": "nobody", "material": "PLA, test grey"}
    )
    assert "nobody" not in stranger.text
    assert '<option value="PLA, test grey" selected>' in stranger.text


def test_a_plan_is_kept_made_anew_and_locked_by_the_first_weighing(client, stocked):
    made = client.post("/trials", data=TYPED)
    assert made.status_code == 303
    trial = stocked.trials()[0].id
    before = stocked.trial(trial).digest
    assert (
        f'value="{TYPED["temperatures_c"].split()[0]}' in client.get(f"/trials/{trial}/replan").text
    )
    assert client.post(f"/trials/{trial}/replan", data=TYPED | {"seed": "2"}).status_code == 303
    assert stocked.trial(trial).digest != before
    plan = {"tab": "plan"}
    assert "Open: nothing is weighed yet" in client.get(f"/trials/{trial}", params=plan).text
    coupon = first_coupon(stocked, trial)
    client.post(f"/trials/{trial}/readings", data={"coupon": coupon, "mass_g": "1,78"})
    page = client.get(f"/trials/{trial}", params=plan).text
    assert "Locked since the first weighing" in page
    refused = client.post(f"/trials/{trial}/replan", data=TYPED | {"seed": "3"})
    assert refused.status_code == 409
    assert "locked" in refused.text


def test_a_plan_that_cannot_be_is_refused_with_all_that_was_typed(client, stocked):
    bad = TYPED | {"flows_mm3_s": "8 fast", "loss": "50", "question": "Why?"}
    refused = client.post("/trials", data=bad)
    assert refused.status_code == 422
    for value in ("8 fast", "50", "Why?"):
        assert value in refused.text
    for path in ("flows_mm3_s", "loss", "question"):
        assert f'id="f-{path}-wrong"' in refused.text
    assert stocked.trials() == []


def test_weighing_without_scripts(client, stocked, trial):
    coupon, following = (c.coupon for c in stocked.coupons(trial)[:2])
    sent = client.post(
        f"/trials/{trial}/readings", data={"coupon": coupon, "mass_g": "13,78", "tare_g": "12"}
    )
    assert sent.status_code == 303
    page = client.get(sent.headers["location"]).text
    assert f"<b>{coupon}</b> 1.78 g" in page
    assert f'name="coupon" value="{following}"' in page
    assert re.search(r'name="tare_g" value="12.00"', page)


def test_before_there_is_a_curve_no_uncertainty_is_claimed(client, stocked, trial):
    reference, coupon = (c.coupon for c in stocked.coupons(trial)[:2])
    first = {"coupon": reference, "mass_g": "1.78"}
    client.post(f"/trials/{trial}/readings", data=first, headers=HTMX)
    second = {"coupon": coupon, "mass_g": "1.60"}
    said = client.post(f"/trials/{trial}/readings", data=second, headers=HTMX).text
    (loss,) = re.findall(r'<p class="answer-loss">(.*?)</p>', said)
    assert loss == "loss <b>10.11 %</b>"
    assert "Too few coupons for a curve yet" in said


@pytest.mark.parametrize(
    ("low", "words"),
    [(None, "too uncertain at this flow to judge"), (0.48, "lies between 48.0 % and 56.0 %")],
)
def test_a_curve_that_is_open_yet_judges_no_coupon(low, words):
    answer = {"coupon": "B05", "net_g": 0.56, "loss": 0.359, "u_loss": 0.015, "again": False}
    curve = {"fitted_loss": 0.52, "low": low, "high": low and 0.56, "sentence": "", "reason": "",
             "earlier": None}  # fmt: skip
    parts = environment().get_template("weigh_parts.html").module
    said = parts.answer_box("t", answer | curve)
    assert words in said
    assert "±" in said
    assert "stands out" not in said
    earlier = {"coupon": "A02", "reason": "40.0 % lighter than the others."}
    also = parts.answer_box("t", answer | curve | {"earlier": earlier})
    assert "Weigh or run A02 again." in also
    assert 'href="/trials/t/weigh?coupon=A02"' in also


def test_weighing_with_scripts_replaces_the_bench_only(client, stocked, trial):
    coupon = first_coupon(stocked, trial)
    path = f"/trials/{trial}/readings"
    answer = client.post(path, data={"coupon": coupon, "mass_g": "1.78"}, headers=HTMX)
    assert answer.text.lstrip().startswith('<div id="bench"')
    assert "on the bench" in answer.text


def test_an_entry_sent_twice_counts_once_and_another_mass_is_a_conflict(client, stocked, trial):
    coupon = first_coupon(stocked, trial)
    path, entry = f"/trials/{trial}/readings", {"coupon": coupon, "mass_g": "1,78"}
    for _ in range(2):
        assert client.post(path, data=entry, headers=HTMX).status_code == 200
    assert len(stocked.readings(trial)) == 1
    other = client.post(path, data=entry | {"mass_g": "1,70"}, headers=HTMX)
    assert other.status_code == 409
    assert len(stocked.readings(trial)) == 1


@pytest.mark.parametrize("mass", ["", "heavy", "-1", "0", "178", "1,2,3"])
def test_a_mass_that_cannot_be_stays_in_the_field_with_its_reason(client, stocked, trial, mass):
    coupon = first_coupon(stocked, trial)
    sent = {"coupon": coupon, "mass_g": mass, "tare_g": "0"}
    refused = client.post(f"/trials/{trial}/readings", data=sent, headers=HTMX)
    assert refused.status_code == 422
    assert 'id="mass-wrong"' in refused.text
    assert f'name="mass_g" value="{mass}"' in refused.text
    assert stocked.readings(trial) == []


def test_undo_is_a_void_with_its_reason_and_again_supersedes(client, stocked, trial):
    coupon = first_coupon(stocked, trial)
    path = f"/trials/{trial}/readings"
    client.post(path, data={"coupon": coupon, "mass_g": "1.78"})
    number = stocked.readings(trial)[0].reading_id
    assert client.post(f"{path}/{number}/void", data={"reason": " "}).status_code == 422
    again = client.get(f"/trials/{trial}/weigh", params={"coupon": coupon}).text
    assert f'name="supersedes" value="{number}"' in again
    sent = {"coupon": coupon, "mass_g": "1.77", "supersedes": number, "reason": "mistyped"}
    assert client.post(path, data=sent).status_code == 303
    new = stocked.readings(trial)[1].reading_id
    voided = client.post(f"{path}/{new}/void", data={"reason": "torn"}, headers=HTMX)
    assert "is void: torn" in voided.text
    assert f'name="coupon" value="{coupon}"' in voided.text
    page = client.get(f"/trials/{trial}", params={"tab": "readings"}).text
    assert "superseded: mistyped" in page
    assert "voided: torn" in page


def test_the_address_after_an_entry_does_not_offer_to_replace_it(client, stocked, trial):
    coupon = first_coupon(stocked, trial)
    path = f"/trials/{trial}/readings"
    answer = client.post(path, data={"coupon": coupon, "mass_g": "0.9"}, headers=HTMX)
    assert "0.90 g" in answer.text
    first = stocked.readings(trial)[0].reading_id
    sent = {"coupon": coupon, "mass_g": "0.91", "supersedes": first, "reason": "mistyped"}
    replaced = client.post(path, data=sent, headers=HTMX)
    reloaded = client.get(replaced.headers["HX-Replace-Url"]).text
    assert 'name="supersedes"' not in reloaded
    assert f'name="coupon" value="{coupon}"' not in reloaded
    # sent twice, since the first answer was lost: it counts once
    client.post(path, data=sent, headers=HTMX)
    assert len(stocked.readings(trial)) == 2


def test_weighing_what_is_not_there(client, stocked, trial):
    assert client.get("/trials/nothing/weigh").status_code == 404
    assert client.get(f"/trials/{trial}/weigh", params={"coupon": "Z9"}).status_code == 404
    assert client.post(f"/trials/{trial}/readings/9/void", data={"reason": "x"}).status_code == 404


def test_a_table_joins_a_trial_or_with_every_fault_named_does_not(client, stocked, trial):
    coupon = stocked.coupons(trial)[0]
    setting = f"{coupon.rig!s},{coupon.temperature_c:g},{coupon.flow_mm3_s:g}"
    assert setting
    row = f'"{coupon.rig}","PLA, test grey",{coupon.temperature_c:g},{coupon.flow_mm3_s:g},600,1.78'
    head = CSV_HEAD.strip() + ",reference\n"
    good = f"{head}{row},{int(coupon.reference)}\n"
    bad = f"{head}{row},{int(coupon.reference)}\n{row.replace('600,1.78', '600,-2')},1\n"
    refused = client.post(f"/trials/{trial}/import", data={"text": bad})
    assert refused.status_code == 422
    assert "mass_g" in refused.text
    assert "Nothing was imported" in refused.text
    assert stocked.readings(trial) == []
    files = {"file": ("kitchen.csv", good.encode(), "text/csv")}
    assert client.post(f"/trials/{trial}/import", files=files).status_code == 303
    (stored,) = stocked.readings(trial)
    assert stored.source == "kitchen.csv"
    out = client.get(f"/trials/{trial}/readings.csv")
    assert out.headers["content-type"].startswith("text/csv")
    assert read_readings_csv(out.text, "out") == stocked.current_readings(trial)


def test_a_table_is_taken_in_the_bytes_a_spreadsheet_saves(client, stocked, trial):
    """As in the terminal: UTF-8 or UTF-16 with its mark; other bytes are refused, not guessed."""
    first, second, third, *_ = stocked.coupons(trial)
    table = '{}"{}","PLA, test grey",{:g},{:g},600,1.78,{},größer\n'
    head = CSV_HEAD.strip() + ",coupon,note\n"

    def of(coupon):
        return table.format(
            head, coupon.rig, coupon.temperature_c, coupon.flow_mm3_s, coupon.coupon
        )

    for coupon, encoding in ((first, "utf-16"), (second, "utf-8-sig")):
        files = {"file": ("t.csv", of(coupon).encode(encoding), "text/csv")}
        assert client.post(f"/trials/{trial}/import", files=files).status_code == 303
    api = client.post(f"/api/trials/{trial}/import", content=of(third).encode("utf-16"))
    assert (api.status_code, api.json()["readings"]) == (200, 1)
    stored = stocked.current_readings(trial)
    assert [(r.coupon, r.note) for r in stored] == [
        (coupon.coupon, "größer") for coupon in (first, second, third)
    ]
    latin = of(first).encode("latin-1")
    files = {"file": ("t.csv", latin, "text/csv")}
    refused = client.post(f"/trials/{trial}/import", files=files)
    assert refused.status_code == 422
    assert "is not UTF-8 text" in refused.text
    refused = client.post(f"/api/trials/{trial}/import", content=latin)
    assert refused.status_code == 422
    assert refused.json()["error"]["problems"][0]["path"]["row"] == 2
    assert stocked.current_readings(trial) == stored


def test_a_bare_table_becomes_a_trial_with_its_capacity(client, bench):
    rng = np.random.default_rng(2)
    rows = [
        f"A,P,220,{q},600,{1.78 * (1 - max(0, q - 12) * 0.02) * (1 + 0.003 * rng.normal()):.3f}"
        for q in (4, 6, 8, 10, 12, 14, 16, 18)
        for _ in range(3)
    ]
    made = client.post("/trials/import", data={"text": CSV_HEAD + "\n".join(rows)})
    assert made.status_code == 303
    path = made.headers["location"].partition("#")[0]
    page = client.get(path)
    assert page.status_code == 200
    assert 'id="plan"' not in page.text
    capacity = client.get(f"{path}/capacity").text
    assert "Ceilings at 2.0 % loss" in capacity
    assert client.get(f"{path}/programs").status_code == 404


def test_programs_of_a_trial_come_with_maps_and_cautions(client, stocked, trial):
    text = client.get(f"/trials/{trial}/programs", headers=HTMX).text
    for word in ("Hot parts burn", "fumes", "Stay with the printer", "licensed people"):
        assert word in text
    archive = zipfile.ZipFile(io.BytesIO(client.get(f"/trials/{trial}/programs.zip").content))
    names = archive.namelist()
    stems = {name.rpartition(".")[0] for name in names}
    assert len(names) == 3 * len(stems)
    name = sorted(stems)[0]
    gcode = client.get(f"/trials/{trial}/programs/{name}.gcode")
    assert gcode.content == archive.read(f"{name}.gcode")
    assert client.get(f"/trials/{trial}/programs/{name}.svg").text.startswith("<svg")
    assert client.get(f"/trials/{trial}/programs/nothing.gcode").status_code == 404


def card_of(client, trial, **query):
    """The card of the trial page."""
    text = client.get(f"/trials/{trial}", params=query).text
    return text[text.index('id="card"') : text.index('id="tabs"')]


def test_the_page_of_a_trial_says_what_comes_next(client, stocked, trial):
    """The card holds the step that is due: coupons to make, the next to weigh, the speed."""
    first, second, *_ = (c.coupon for c in stocked.coupons(trial))
    assert "programs.zip" in card_of(client, trial)
    entry = {"coupon": first, "mass_g": "1.78"}
    client.post(f"/trials/{trial}/readings", data=entry)
    assert f'name="coupon" value="{second}"' in card_of(client, trial)
    for step, words in (("make", "programs.zip"), ("weigh", "Mass"), ("print", "Line width")):
        assert words in client.get(f"/trials/{trial}/step/{step}", headers=HTMX).text
        assert words in card_of(client, trial, step=step)


def test_a_trial_of_which_nothing_is_weighed_says_so(client, stocked, trial):
    page = client.get(f"/trials/{trial}/live", headers=HTMX).text
    assert "<b>No ceiling yet.</b> Weigh coupons first" in page
    assert client.get(f"/trials/{trial}/capacity").status_code == 422
    assert client.get("/trials/none").status_code == 404


def test_every_part_of_a_finished_trial_is_a_fragment_and_a_page(finished):
    client, path = finished
    for part, word in {
        "capacity": "Ceilings at",
        "speeds": "Filament feed",
        "compare": "Probability better",
        "publish": "dossier",
        "next": "Add to the sheet",
        "programs": "Before you run one",
    }.items():
        alone = client.get(f"{path}/{part}")
        assert alone.status_code == 200, part
        assert "<html" in alone.text
        fragment = client.get(f"{path}/{part}", headers=HTMX).text
        assert "<html" not in fragment
        assert word in fragment, part
        if part != "next":
            page = client.get(path, params={"tab": part}).text
            assert f'hx-get="{path}/{part}" hx-trigger="intersect once"' in page
            tab = client.get(f"{path}/tab/{part}", headers=HTMX).text
            assert "<html" not in tab
            assert tab.count('aria-current="true"') == 1
    assert client.get(f"{path}/tab/nothing").status_code == 404


def test_the_loss_can_be_chosen(finished):
    client, path = finished
    at_five = client.get(f"{path}/capacity", params={"loss": "5"}).text
    assert "Ceilings at 5.0 % loss" in at_five
    refused = client.get(f"{path}/capacity", params={"loss": "80"}, headers=HTMX)
    assert refused.status_code == 422
    assert "from 0.5 to 20" in refused.text


def test_speeds_for_other_beads(finished):
    client, path = finished
    asked = {"reserve": "20", "widths": "0,8 1", "layers": "0,4"}
    text = client.get(f"{path}/speeds", params=asked).text
    assert "20 % reserve below" in text
    assert '<td class="n">0.8</td>' in text
    bad = client.get(f"{path}/speeds", params={"widths": "wide"})
    assert bad.status_code == 422


def test_next_coupons_join_the_sheet_as_an_amendment(demo_client):
    client, bench = demo_client
    (trial,) = (t.id for t in bench.trials() if t.spec.candidate)
    before = bench.trial(trial)
    shown = client.get(f"/trials/{trial}/next", params={"count": "4"}, headers=HTMX).text
    settings = re.findall(r'name="setting" value="([^"]+)"', shown)
    assert sum(int(line.split()[0]) for line in settings) == 4
    path = f"/trials/{trial}/amendments"
    assert client.post(path, data={"setting": settings, "reason": ""}).status_code == 409
    assert client.post(path, data={"setting": "many", "reason": "x"}).status_code == 422
    made = client.post(path, data={"setting": settings, "reason": "narrow the interval"})
    assert made.status_code == 303
    after = bench.trial(trial)
    assert after.digest != before.digest
    assert len(bench.coupons(trial)) > len(before.plan.coupons) + 4
    page = client.get(f"/trials/{trial}", params={"tab": "plan"}).text
    assert "narrow the interval" in page
    assert client.get(f"/trials/{trial}/programs").status_code == 200


def test_a_superscript_is_no_number_of_a_reading(client, stocked, trial):
    """'²' is a digit to Python and no integer: it is taken as no number, not as a fault."""
    coupon = stocked.coupons(trial)[0].coupon
    sent = {"coupon": coupon, "mass_g": "1.77", "supersedes": "²"}
    assert client.post(f"/trials/{trial}/readings", data=sent).status_code == 303
    assert len(stocked.current_readings(trial)) == 1
