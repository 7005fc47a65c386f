"""Worth in the browser and as JSON: a case from the form, weights and profiles tried and kept."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
from urllib.parse import quote

import numpy as np
import pytest
from fastapi.testclient import TestClient
from page_words import plain

from beadworth.store import open_bench
from beadworth.trial import Reading
from beadworth.web import create_app
from beadworth.workflow.worth import stored_worth, stored_worths

SECTION = np.pi / 4 * 1.75**2
SHORT, LONG, PLA = "Stilt, short zone", "Stilt, long zone", "PLA, test grey"


def beads(flow, count):
    section = (0.45 - 0.2) * 0.2 + np.pi / 4 * 0.2**2
    lines = ["G21", "G90", "M83", "M104 S220", "G1 X20 Y20 Z0.2 F6000"]
    for n in range(count):
        x = 20.0 + 120.0 * ((n + 1) % 2)
        lines.append(f"G1 X{x:.3f} E{120.0 * section / SECTION:.5f} F{flow / section * 60:.1f}")
    return ("\n".join(lines) + "\n").encode()


def make_ready(bench, client, rigs, material):
    """Two rigs weighed in one trial, and one print given; the ids of trial and print."""
    for rig in rigs:
        bench.save_rig(rig)
    bench.save_material(material)
    rng = np.random.default_rng(5)
    rows = [
        Reading(rig, PLA, 220.0, float(q), 600.0,
                1.79 * min(1.0, c / q) * (1 + 0.002 * float(rng.normal())))
        for rig, c in ((SHORT, 7.5), (LONG, 12.0))
        for q in range(3, 17)
        for _ in range(2)
    ]  # fmt: skip
    trial = bench.create_trial_from_readings("How far do both zones go?", rows, "test")
    print_id = client.post("/api/prints?name=panel.gcode", content=beads(11.0, 300)).json()["id"]
    return {"trial": trial.id, "print": print_id}


@pytest.fixture(scope="module")
def made(tmp_path_factory, empty_bench):
    """Files of two benches to copy, made when first needed: ready for a case, and with one."""
    folder = tmp_path_factory.mktemp("made")
    ids = {}

    def copied(stage, to, records):
        if not ids:
            with open_bench(empty_bench(folder / "ready")) as bench, on(bench) as client:
                ids.update(make_ready(bench, client, **records))
                bench.backup(folder / "ready.copy")
                page = follow(client, client.post("/worth", data=form(ids)))
                assert page.status_code == 200
                bench.backup(folder / "kept.copy")
        shutil.copy(folder / f"{stage}.copy", to)
        return ids

    return copied


def on(bench):
    return TestClient(create_app(bench), base_url="http://127.0.0.1", follow_redirects=False)


@pytest.fixture
def bench_of(made, tmp_path, records):
    with contextlib.ExitStack() as stack:

        def opened(stage):
            given = {"rigs": records["rigs"], "material": records["material"]}
            ids = made(stage, tmp_path / "test.bench", given)
            return {**ids, "bench": stack.enter_context(open_bench(tmp_path / "test.bench"))}

        yield opened


@pytest.fixture
def ready(bench_of):
    """Two rigs weighed in one trial, and one print given; the ids of trial and print."""
    return bench_of("ready")


@pytest.fixture
def kept(bench_of):
    """The same with a case stored from the form."""
    return bench_of("kept")


@pytest.fixture
def client(request):
    """A client on the bench a test asked for; on an empty one where it asked for none."""
    named = [name for name in ("kept", "ready") if name in request.fixturenames]
    bench = (
        request.getfixturevalue(named[0])["bench"] if named else request.getfixturevalue("bench")
    )
    with on(bench) as made:
        if named:  # prints stay with the application, not on the bench
            made.post("/api/prints?name=panel.gcode", content=beads(11.0, 300))
        yield made


def form(ready, **more):
    return {
        "baseline": SHORT, "candidate": LONG, "trial": ready["trial"], "currency": "EUR",
        "months": "24", "feeds": "as written", "name": "zones",
        f"per_year.{ready['print']}": "2000", f"per_year.{ready['print']}.low": "1500",
        f"per_year.{ready['print']}.high": "2500", "cost.fitting_hours.low": "2",
        "cost.fitting_hours.high": "4", "cost.fitting_hour": "15", "time.printer_hour": "1,5",
        **more,
    }  # fmt: skip


def follow(client, response):
    """Wait for the replays as a browser without scripts does: by asking again."""
    for _ in range(200):
        if response.status_code == 303:
            return client.get(response.headers["location"])
        again = re.search(r'href="(/worth/working[^"]+)"', response.text)
        assert again, response.text
        response = client.get(again[1].replace("&amp;", "&"))
    raise AssertionError("never done")


def test_a_case_from_the_form_says_hours_first(kept, client):
    page = client.get("/worth/case?name=zones")
    answer = re.search(r'id="answer">(.*?)</p>', page.text)[1]
    assert answer.startswith("It saves")
    assert "Worth it if you print more than" in answer
    text = plain(page.text)
    for part in ("What limits your prints", "Who it is for", "Other options", "do nothing"):
        assert part in text
    case = stored_worth(kept["bench"], "zones").case
    assert case.time.printer_hour.value == 1.5  # a decimal comma
    assert case.prints[0].per_year.low == 1500
    assert 'role="img"' in page.text
    assert "zones" in plain(client.get("/worth").text)


def test_the_form_is_filled_from_an_address_as_other_pages_lead_here(ready, client):
    text = client.get(f"/worth?baseline={SHORT}&candidate={LONG}&trial={ready['trial']}").text
    for name in (LONG, ready["trial"]):
        assert f'<option value="{name}" selected>' in text
    assert f'<option value="{SHORT}" selected>' not in text  # the upgrade says so
    other = client.get(f"/worth?baseline={LONG}&candidate={SHORT}").text
    assert other.count(f'<option value="{SHORT}" selected>') == 1
    compare = client.get(f"/trials/{ready['trial']}/compare").text
    assert f"trial={ready['trial']}#h-new" in compare


def test_everything_wrong_in_the_form_is_said_at_once(ready, client):
    wrong = form(ready, **{"cost.parts": "cheap", "cost.fitting_hours.high": "1",
                           "time.printer_hour": "-2"})  # fmt: skip
    page = client.post("/worth", data=wrong)
    assert page.status_code == 422
    text = plain(page.text)
    assert "3 things to correct" in text
    for said in ("cheap", "no interval", "-2 is not from 0"):
        assert said in text
    assert 'value="cheap"' in page.text  # what was typed is still there
    assert page.text.count('aria-invalid="true"') == 9  # three boxes each
    assert stored_worths(ready["bench"]) == []


def test_what_is_missing_goes_by_the_name_the_form_gives_it(ready, client):
    empty = {k: v for k, v in form(ready).items() if k not in ("baseline", "candidate", "name")}
    text = plain(client.post("/worth", data=empty).text)
    assert "2 things to correct" in text
    assert "Which upgrade? : This is needed. Choose one." in text.replace("?:", "? :")
    one = {k: v for k, v in form(ready).items() if k not in ("candidate", "name")}
    text = plain(client.post("/worth", data=one).text)
    assert "Upgraded rig : This is needed. Choose one." in text.replace("rig:", "rig :")


def test_three_questions_are_enough(ready, client):
    text = client.get("/worth").text
    unfolded = re.sub(r"<details.*?</details>", "", text, flags=re.S)
    boxes = re.findall(r'<(?:input|select|textarea)[^>]* name="([^"]+)"', unfolded)
    assert boxes == ["upgrade", "prints_a_year", "hour"]
    assert f'<option value="{LONG}" selected>' in unfolded  # the one upgrade there is
    sent = {"upgrade": LONG, "prints_a_year": "250", "hour": "1,5"}
    follow(client, client.post("/worth", data=sent | {"cost.parts": "40"}))
    case = stored_worth(ready["bench"], f"{LONG} against {SHORT}").case
    assert (case.baseline, case.candidate) == (SHORT, LONG)
    assert case.trial == ready["trial"]
    assert case.candidate_trial is None
    assert [use.per_year.middle for use in case.prints] == [250.0]
    assert case.time.printer_hour.middle == 1.5


def test_what_is_wrong_with_the_three_stands_beside_them(ready, client):
    sent = {"upgrade": LONG, "prints_a_year": "many", "hour": "-2", "cost.parts": "40"}
    text = client.post("/worth", data=sent).text
    for path in ("prints_a_year", "hour"):
        assert f'id="f-{path}-wrong"' in text
    none = client.post("/worth", data={"upgrade": LONG, "cost.parts": "40"}).text
    assert 'id="f-prints_a_year-wrong"' in none


def test_no_print_counted_is_refused_with_a_remedy(ready, client):
    none = {k: v for k, v in form(ready).items() if not k.startswith("per_year")}
    page = client.post("/worth", data=none)
    assert page.status_code == 422
    assert "1 to 200 of your own prints" in plain(page.text)


def test_weights_and_profiles_are_tried_without_being_kept(kept, client):
    page = client.get(
        "/worth/case?name=zones&weight.cost=1&weight.hours+saved=9&profile.0.hours=40"
    )
    text = plain(page.text)
    assert "Calculated, not stored" in text
    assert "90.0 %" in text or "90 %" in text
    assert stored_worth(kept["bench"], "zones").case.profiles == ()
    assert "Tried" not in plain(client.get("/worth/case?name=zones").text)


def test_weights_and_profiles_are_kept_on_demand(kept, client):
    sent = {"weight.cost": "1", "weight.hours saved": "3", "profile.1.hours": "50",
            "profile.1.hour": "2", "profile.1.months": "12"}  # fmt: skip
    assert client.post("/worth/case?name=zones", data=sent).status_code == 303
    case = stored_worth(kept["bench"], "zones").case
    busy = case.profiles[1]
    assert busy.hours_per_week.middle == pytest.approx(50)
    assert busy.hours_per_week.low < 50 < busy.hours_per_week.high
    assert busy.time.printer_hour.value == 2
    assert busy.months == 12
    assert {c.name: c.weight for c in case.criteria} == {"cost": 1.0, "hours saved": 3.0}


SCALES = {
    "scale.cost.worst": "200", "scale.cost.best": "0",
    "scale.hours saved.worst": "0", "scale.hours saved.best": "100",
}  # fmt: skip


def test_scales_are_stated_on_the_page_and_taken_back(kept, client):
    """A score needs a scale of every criterion and three options that stand."""
    for name, cost, hours in (("screw drive", "80", "20"), ("guide", "30", "9")):
        sent = {"name": name, "cost": cost, "evidence": "claimed", "effects.hours saved": hours}
        assert client.post("/worth/option?name=zones", data=sent).status_code == 303
    query = "&".join(f"{k.replace(' ', '+')}={v}" for k, v in SCALES.items())
    before = plain(client.get("/worth/case?name=zones").text)
    assert "No score: state what counts as worst and as best of cost and hours saved." in before
    tried = plain(client.get(f"/worth/case?name=zones&{query}").text)
    assert "Calculated, not stored" in tried
    assert "No score: state" not in tried
    assert client.post("/worth/case?name=zones", data=SCALES).status_code == 303
    case = stored_worth(kept["bench"], "zones").case
    assert {c.name: (c.worst, c.best) for c in case.criteria} == {
        "cost": (200.0, 0.0), "hours saved": (0.0, 100.0)
    }  # fmt: skip
    text = client.get("/worth/case?name=zones").text
    assert 'name="scale.cost.worst" value="200"' in text
    half = client.get("/worth/case?name=zones&scale.cost.worst=100&scale.cost.best=")
    assert half.status_code == 422
    assert "the scale of cost needs two values that differ, worst and best" in plain(half.text)
    client.post("/worth/case?name=zones", data=dict.fromkeys(SCALES, ""))
    case = stored_worth(kept["bench"], "zones").case
    assert {(c.worst, c.best) for c in case.criteria} == {(None, None)}
    for name in ("screw drive", "guide"):
        client.post("/worth/option?name=zones", data={"remove": name})


@pytest.mark.parametrize(
    ("query", "said"),
    [("weight.cost=0", "weight of cost"), ("weight.cost=much", "weight of cost"),
     ("profile.0.hours=0", "hours of printing a week"), ("profile.2.months=-1", "months")],
)  # fmt: skip
def test_a_weight_of_nothing_is_refused_beside_the_kept_case(kept, client, query, said):
    page = client.get(f"/worth/case?name=zones&{query}")
    assert page.status_code == 422
    assert said in plain(page.text)
    assert "It saves" in plain(page.text)


def test_an_option_is_added_and_taken_away(kept, client):
    sent = {"name": "screw drive", "what": "on the bed", "cost": "80", "evidence": "claimed",
            "effects.hours saved.low": "5", "effects.hours saved.high": "20"}  # fmt: skip
    assert client.post("/worth/option?name=zones", data=sent).status_code == 303
    (option,) = stored_worth(kept["bench"], "zones").case.options
    assert option.effects["hours saved"].low == 5
    assert option.effects["hours saved"].evidence == "claimed"
    text = plain(client.get("/worth/case?name=zones").text)
    assert "screw drive" in text
    page = client.post("/worth/option?name=zones", data={**sent, "cost": "dear"})
    assert page.status_code == 422
    assert "a price in words" in plain(page.text)
    client.post("/worth/option?name=zones", data={"remove": "screw drive"})
    assert stored_worth(kept["bench"], "zones").case.options == ()


def test_the_case_as_text_is_changed_without_replaying(kept, client):
    page = client.get("/worth/edit?name=zones")
    text = stored_worth(kept["bench"], "zones").case
    from beadworth.core.records import to_toml

    toml = to_toml(text)
    assert "per_year" in page.text
    moved = client.post("/worth/edit?name=zones", data={"text": toml.replace("= 24.0", "= 36.0")})
    assert moved.status_code == 303
    assert stored_worth(kept["bench"], "zones").case.months == 36
    bad = client.post("/worth/edit?name=zones", data={"text": toml.replace("= 24.0", '= "two"')})
    assert bad.status_code == 422
    assert "Line" in plain(bad.text)
    other = toml.replace('name = "zones"', 'name = "zones raised"').replace(
        'feeds = "as written"', 'feeds = "raised"'
    )
    follow(client, client.post("/worth/edit?name=zones", data={"text": other}))
    assert stored_worth(kept["bench"], "zones raised").case.feeds == "raised"
    file = client.get("/worth/file?name=zones")
    assert "attachment" in file.headers["content-disposition"]


def test_a_case_that_is_not_there_is_a_page_that_says_so(client):
    page = client.get("/worth/case?name=none")
    assert page.status_code == 404
    assert "none yet" in page.text
    assert client.get("/worth/working?job=99").status_code == 404


# JSON


def test_the_api_answers_like_the_command(kept, client, refusal):
    case = {
        "name": "by api", "baseline": SHORT, "candidate": LONG, "trial": kept["trial"],
        "currency": "EUR", "prints": [{"print": kept["print"], "per_year": 100}],
        "time": {"printer_hour": 2.0},
    }  # fmt: skip
    found = client.post("/api/worth", json=case)
    assert found.status_code == 200
    data = found.json()
    for name in ("hours_saved_per_year", "cost", "break_even_prints"):
        assert set(data[name]) == {"value", "low", "high"}
    assert data["cost"]["value"] == 40.0
    assert len(client.get("/api/worth").json()["cases"]) == 1
    assert client.post("/api/worth?keep=true", json=case).json() == data
    names = [item["name"] for item in client.get("/api/worth").json()["cases"]]
    assert names == ["by api", "zones"]
    one = client.get("/api/worth/case?name=by+api").json()
    assert one["answer"] == json.loads(json.dumps(data))
    assert one["case"]["prints"][0]["per_year"] == {"value": 100.0}
    refusal(
        client.post("/api/worth", json={**case, "cost": {"parts": "dear"}, "months": 0}),
        422, "record", mentions=("a price in words", "months"),
    )  # fmt: skip
    refusal(client.post("/api/worth", json={**case, "baseline": "none"}), 404, "not-found")
    refusal(client.get(f"/api/worth/case?name={quote('no, none')}"), 404, "not-found")


def test_a_file_on_this_machine_is_not_read_for_a_page(kept, client, refusal):
    case = {
        "name": "peek", "baseline": SHORT, "candidate": LONG, "currency": "EUR",
        "prints": [{"file": "/etc/hostname", "per_year": 1}],
    }  # fmt: skip
    refusal(client.post("/api/worth", json=case), 422, "input", mentions=("by their id",))
