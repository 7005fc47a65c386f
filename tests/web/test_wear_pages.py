"""The wear log and the journal in the browser and as JSON."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta

import pytest
from page_words import plain
from PIL import Image

from beadworth.store.photos import photo
from beadworth.store.prints import PrintShelf
from beadworth.web.guard import BODY_LIMIT_BYTES
from beadworth.workflow.journal import journal_entries
from beadworth.workflow.wear import add_wear, wear_entries, wear_log

RIG = "Stilt, short zone"
URL = "/wear/Stilt, short zone"
DAY = "2026-03-01"


def picture(kind="JPEG", **more):
    out = io.BytesIO()
    Image.new("RGB", (90, 60), "red").save(out, kind, **more)
    return out.getvalue()


@pytest.fixture
def told(stocked, client):
    """A log with hours, a check that steps, failures and a reminder."""
    for n in range(12):
        day = str(date(2026, 3, 1) + timedelta(days=7 * n))
        add_wear(stocked, RIG, {"on": day, "kind": "hours", "hours_h": 30.0 + 2 * n})
        value = [0.060, 0.062, 0.059, 0.061, 0.060, 0.063, 0.061, 0.058, 0.060, 0.061, 0.06, 0.09]
        add_wear(stocked, RIG, {"on": day, "kind": "check", "what": "play at the bed",
                                "place": "x", "value": value[n], "unit": "mm"})  # fmt: skip
        if n % 2:
            add_wear(stocked, RIG, {"on": day, "kind": "replacement", "what": "nozzle",
                                    "because": "failed"})  # fmt: skip
    add_wear(stocked, RIG, {"on": DAY, "kind": "reminder", "what": "y belt", "every_days": 30})
    return stocked


def test_an_empty_log_says_what_to_do(client, stocked):
    day = date.today()
    text = client.get(URL).text
    assert "Nothing is logged yet" in text
    assert any(f'value="{d}"' in text for d in (day, date.today()))  # midnight may pass meanwhile
    assert client.get("/wear/Lapwing").status_code == 404


def test_the_page_tells_rate_charts_lives_and_what_is_due(client, told):
    text = plain(client.get(URL).text)
    assert "6 failures in 492 h" in text
    assert "y belt : due now, over by" in text
    assert "0.09 is above the upper limit" in text
    assert "6 failures, 0 still running" in text
    # the last replacement came with the last hours, so nothing runs since
    assert "2 signals, the first of each kind: 2026-05-17, 0.09 is above" in text


def test_an_upgraded_rig_leads_to_the_log_before_it(client, told):
    assert "Before the upgrade" in client.get("/wear/Stilt, long zone").text
    assert "Before the upgrade" not in client.get(URL).text


def test_the_first_page_names_what_is_due(client, told):
    text = plain(client.get("/").text)
    assert "Due on your rigs" in text
    assert "Stilt, short zone : y belt, due now, over by" in text
    # nobody looks after a simulated rig: its log ends on the day it was written
    told.save_rig(told.rig(RIG).model_copy(update={"simulated": True}))
    assert "Due on your rigs" not in client.get("/").text


def test_an_entry_is_logged_corrected_and_let_not_count(client, stocked):
    sent = client.post(URL, data={"form": "hours", "on": DAY, "hours_h": "12,5"})
    assert sent.status_code == 303
    (kept,) = wear_log(stocked, RIG)
    assert kept.record.hours_h == 12.5
    page = client.get(URL, params={"correct": kept.id}).text
    assert 'value="12.5"' in page
    assert f"Correct entry {kept.id}" in page
    client.post(URL, data={"form": "hours", "on": DAY, "hours_h": "13", "entry": kept.id,
                           "reason": "misread"})  # fmt: skip
    assert [e.hours_h for e in wear_entries(stocked, RIG)] == [13.0]
    now = wear_log(stocked, RIG)[-1]
    refused = client.post(URL, data={"do": "void", "entry": now.id, "reason": " "})
    assert refused.status_code == 422
    client.post(URL, data={"do": "void", "entry": now.id, "reason": "twice"})
    assert wear_entries(stocked, RIG) == []
    text = plain(client.get(URL).text)
    assert "Voided: twice" in text
    assert "Superseded: misread" in text


def test_a_refusal_keeps_what_was_typed_beside_its_fields(client, stocked):
    bad = {"form": "check", "on": str(date.today() + timedelta(days=3)), "what": "play at the bed",
           "value": "abc", "unit": "N"}  # fmt: skip
    refused = client.post(URL, data=bad)
    assert refused.status_code == 422
    assert 'value="abc"' in refused.text
    assert 'id="check-f-value"' in refused.text
    refused = client.post(URL, data=bad | {"value": "0,1"})
    assert "is recorded in mm, not in N" in refused.text
    refused = client.post(URL, data=bad | {"value": "0,1", "unit": "mm"})
    assert "has not come yet" in refused.text
    assert wear_log(stocked, RIG) == []


def test_what_is_wrong_leads_to_its_field_by_the_name_the_form_gives_it(client, stocked):
    logged = client.post(URL, data={"form": "hours", "on": DAY, "hours_h": "ten"}).text
    paged = client.post(f"/journal/{RIG}", data={"on": DAY}).text
    for page, place, label in (
        (logged, "hours-f-hours_h", "Print hours"),
        (paged, "f-title", "In a line"),
    ):
        assert f'<a href="#{place}">{label}</a>' in page
        assert f'id="{place}"' in page
        assert "field " not in plain(re.search(r'class="problems">.*?</ul>', page, re.S)[0])


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"form": "none"},
        {"form": "change", "on": DAY},
        {"form": "hours", "entry": "x"},
        {"form": "hours", "entry": "99999999999999999999"},
        {"do": "void", "entry": "-1"},
    ],
)
def test_stray_requests_are_refused(client, stocked, data):
    assert client.post(URL, data=data).status_code == 422
    assert client.post(URL, data={"do": "void", "entry": "77", "reason": "x"}).status_code == 404


def test_a_chart_is_held_against_what_is_asked(client, told):
    asked = {"check": "play at the bed, x", "baseline": "6", "target": "0,06", "since": DAY}
    text = plain(client.get(URL, params=asked).text)
    assert "around the target 0.0600, from the first 6 readings" in text
    text = plain(client.get(URL, params=asked | {"more": "yes"}).text)
    assert "a step of 0.0300 from the reading before" in text
    refused = client.get(URL, params=asked | {"baseline": "many", "since": "spring"})
    assert refused.status_code == 422
    assert "many" in refused.text
    assert "is not a day" in refused.text


def test_before_and_after_a_day(client, told):
    text = plain(client.get(URL, params={"compare": "play at the bed", "day": "2026-05-10"}).text)
    assert "No change resolved" in text
    assert client.get(URL, params={"compare": "play at the bed", "day": "x"}).status_code == 422
    at = wear_log(told, RIG)[-3].id
    text = plain(client.get(URL, params={"compare": "play at the bed", "at": at}).text)
    assert "before and after" in text
    assert client.get(URL, params={"compare": "play at the bed", "at": 999}).status_code == 404
    assert client.get(URL, params={"compare": "squareness", "day": DAY}).status_code == 422


def test_hours_from_a_print_of_this_rig_are_offered(client, stocked):
    shelf = PrintShelf(stocked)
    with shelf.receiving("bracket.gcode") as upload:
        upload.write(b"G1 X10 E1 F600\n")
        stored = upload.keep()
    assert "bracket.gcode" not in client.get(URL).text
    shelf.store_verdict(stored, {"verdict": "ok", "time_s": 5400.0, "rig": RIG})
    assert "bracket.gcode, 1 h 30 min" in client.get(URL).text
    client.post(URL, data={"form": "hours", "on": DAY, "from_print": stored.id, "copies": "4"})
    assert wear_entries(stocked, RIG)[0].hours_h == pytest.approx(6.0)


JOURNAL = "/journal/Stilt, short zone"
PAGE = {"on": DAY, "stage": "fit", "title": "It touched the fan", "problem": "2 mm too tall",
        "solved": "filed", "lost_h": "1,5"}  # fmt: skip


def test_a_page_is_written_with_photos_from_a_phone(client, stocked):
    exif = Image.Exif()
    exif[0x010F], exif[0x0112] = "Invented Optics", 6
    files = {"photo1": ("IMG_at_home.jpg", picture(exif=exif), "image/jpeg"),
             "photo2": ("", b"", "application/octet-stream")}  # fmt: skip
    sent = client.post(JOURNAL, data=PAGE | {"alt1": "a bracket & a fan"}, files=files)
    assert sent.status_code == 303
    (kept,) = journal_entries(stocked, RIG)
    digest = kept.record.photos[0].sha256
    text = client.get(JOURNAL).text
    assert 'alt="a bracket &amp; a fan"' in text
    assert "IMG_at_home" not in text
    assert "1 problem was met, which cost 1.5 h." in text
    given = client.get(f"/photo/{digest}")
    assert given.headers["content-type"] == "image/jpeg"
    assert given.headers["x-content-type-options"] == "nosniff"
    assert b"Invented Optics" not in given.content
    assert Image.open(io.BytesIO(given.content)).size == (60, 90)
    assert client.get("/photo/" + "0" * 64).status_code == 404


def test_a_photo_larger_than_other_bodies_is_taken_here_and_only_here(client, stocked):
    noise = Image.merge("RGB", [Image.effect_noise((1050, 1050), 90) for _ in "rgb"])
    out = io.BytesIO()
    noise.save(out, "JPEG", quality=100, subsampling=0)  # few pixels, many bytes
    large = out.getvalue()
    assert len(large) > BODY_LIMIT_BYTES
    files = {"photo1": ("a.jpg", large, "image/jpeg")}
    assert client.post(JOURNAL, data=PAGE | {"alt1": "noise"}, files=files).status_code == 303
    assert client.post(URL, data={"form": "hours"}, files=files).status_code == 413
    assert client.post("/api/photos", content=large).status_code == 201


def test_a_page_refused_keeps_what_was_typed_and_nothing_else(client, stocked):
    files = {"photo1": ("a.jpg", b"no photo", "image/jpeg")}
    refused = client.post(JOURNAL, data=PAGE | {"title": "", "alt1": "a fan"}, files=files)
    assert refused.status_code == 422
    assert "a page needs a title" in refused.text or "title" in refused.text
    assert "photo 1</b>: this is not a JPEG" in refused.text
    assert 'value="a fan"' in refused.text
    assert "2 mm too tall" in refused.text
    assert journal_entries(stocked, RIG) == []


def test_a_number_too_long_for_an_entry_is_none(client, stocked):
    """Digits that Python itself refuses to read."""
    long = "9" * 5000
    assert client.get(URL, params={"correct": long}).text == client.get(URL).text
    assert client.get(JOURNAL, params={"correct": long}).status_code == 422


def test_a_page_is_shown_corrected_and_let_not_count(client, stocked):
    files = {"photo1": ("a.jpg", picture(), "image/jpeg")}
    client.post(JOURNAL, data=PAGE | {"alt1": "a fan"}, files=files)
    (kept,) = journal_entries(stocked, RIG)
    client.post(JOURNAL, data={"do": "show", "page": kept.id})
    now = journal_entries(stocked, RIG)[-1]
    assert now.record.shown
    assert "Shown in dossiers" in client.get(JOURNAL).text
    page = client.get(JOURNAL, params={"correct": now.id}).text
    digest = now.record.photos[0].sha256
    assert digest in page
    client.post(JOURNAL, data=PAGE | {"title": "It cleared", "page": now.id, "keep": digest,
                                      "reason": "wrong title", "shown": "yes"})  # fmt: skip
    last = journal_entries(stocked, RIG)[-1]
    assert (last.record.title, last.record.shown, len(last.record.photos)) == (
        "It cleared",
        True,
        1,
    )
    client.post(JOURNAL, data={"do": "void", "page": last.id, "reason": "another rig"})
    text = plain(client.get(JOURNAL).text)
    assert "Voided: another rig" in text
    assert photo(stocked, digest)
    assert client.post(JOURNAL, data={"do": "burn", "page": last.id}).status_code == 422


def test_what_is_typed_stays_text(client, stocked):
    nasty = "<script>alert(1)</script>"
    client.post(JOURNAL, data=PAGE | {"title": nasty, "text": nasty, "problem": nasty})
    client.post(URL, data={"form": "change", "on": DAY, "kind": "failure", "what": nasty,
                           "note": nasty})  # fmt: skip
    client.post(URL, data={"form": "hours", "on": DAY, "hours_h": "5"})
    for address in (JOURNAL, URL):
        assert nasty not in client.get(address).text


def test_the_journal_of_a_trial(client, stocked, spec):
    client.post("/api/trials", json=spec)
    trial = stocked.trials()[0].id
    assert client.get(f"/journal/{trial}").status_code == 200
    client.post(f"/journal/{trial}", data=PAGE | {"stage": "trial"})
    assert len(journal_entries(stocked, trial)) == 1
    assert client.get("/journal/none").status_code == 404


def test_the_same_as_json(client, stocked, refusal):
    at = {"rig": RIG}
    made = client.post("/api/wear", params=at, json={"on": DAY, "kind": "hours", "hours_h": 640.0})
    assert made.status_code == 201
    found = client.get("/api/wear/summary", params=at).json()
    assert found["rate"]["high_per_h"] == pytest.approx(3.0 / 640, rel=2e-3)
    refusal(client.post("/api/wear", params=at, json={"on": DAY, "kind": "hours", "hours_h": -1}),
            422, "record", mentions=["-1 h is negative"])  # fmt: skip
    refusal(client.get("/api/wear", params={"rig": "none"}), 404, "not-found")
    number = made.json()["id"]
    put = client.post("/api/wear", params=at | {"instead_of": number, "reason": "misread"},
                      json={"on": DAY, "kind": "hours", "hours_h": 64.0})  # fmt: skip
    assert put.json()["supersedes"] == number
    client.post("/api/wear/void", params=at | {"entry": put.json()["id"], "reason": "no"})
    states = [e["state"] for e in client.get("/api/wear", params=at).json()["entries"]]
    assert states == ["superseded", "voided"]

    digest = client.post("/api/photos", content=picture("PNG")).json()["sha256"]
    refusal(client.post("/api/photos", content=b"none"), 422, "input", mentions=["not a JPEG"])
    page = {"on": DAY, "stage": "receipt", "title": "What came",
            "photos": [{"sha256": digest, "alt": "a box"}]}  # fmt: skip
    subject = {"subject": RIG}
    made = client.post("/api/journal", params=subject, json=page)
    assert made.status_code == 201
    pages = client.get("/api/journal", params=subject).json()["pages"]
    assert pages[0]["entry"]["photos"][0]["sha256"] == digest
    number = made.json()["id"]
    client.post("/api/journal/void", params=subject | {"entry": number, "reason": "no"})
    assert client.get("/api/journal", params=subject).json()["pages"][0]["state"] == "voided"


def test_charts_and_comparisons_as_json(client, told, refusal):
    at = {"rig": RIG}
    stated = {"check": "play at the bed, x", "baseline": 6, "target": 0.06, "more_rules": True}
    (series,) = client.get("/api/wear/summary", params=at | stated).json()["series"]
    assert series["individuals"]["baseline"]["count"] == 6
    assert {s["rule"] for s in series["individuals"]["signals"]} >= {"jump"}
    asked = at | {"check": "play at the bed"}
    found = client.get("/api/wear/compare", params=asked | {"on": "2026-05-10"}).json()
    assert (found["kind"], found["resolved"], found["unit"]) == ("unpaired", False, "mm")
    refusal(
        client.get("/api/wear/compare", params=asked),
        422,
        "input",
        mentions=["the change is not named"],
    )
    refusal(client.get("/api/wear/compare", params=asked | {"at": 999}), 404, "not-found")
    refusal(
        client.get("/api/wear/compare", params=at | {"check": "x", "on": DAY}), 404, "not-found"
    )


def test_ways_to_the_log_stand_on_the_rigs_page(client, stocked):
    text = client.get(f"/rig/{RIG}").text
    assert 'href="/wear/Stilt%2C%20short%20zone"' in text
    assert 'href="/journal/Stilt%2C%20short%20zone"' in text
