"""What looks private in a publication is named with its place before it goes out."""

from dataclasses import replace
from datetime import date

import pytest

from beadworth.datapackage import PublicationOptions, package_files
from beadworth.report import PublishedPage, dossier_html, talking_points
from beadworth.report.render import html
from beadworth.wear import JournalEntry
from beadworth.workflow import look_at, look_at_readings, look_at_records, shown_data

PLAIN = PublicationOptions()


def with_text(data, field, text):
    """The trial with a text typed into one field."""
    entry = data.entries[0]
    rig, material = data.rigs[1], data.material
    changed = {field: text}
    match field:
        case "note":
            entry = replace(entry, reading=replace(entry.reading, note=text))
            changed = {"entries": (entry, *data.entries[1:])}
        case "reason":
            entry = replace(entry, state="voided", reason=text)
            changed = {"entries": (entry, *data.entries[1:])}
        case "supplied_by" | "rig note" | "source":
            rig = rig.model_copy(update={field.removeprefix("rig "): text})
            changed = {"rigs": (data.rigs[0], rig)}
        case "fumes_note":
            changed = {"material": material.model_copy(update={"fumes_note": text})}
        case "amendment":
            changed = {"amendments": (replace(data.amendments[0], reason=text),)}
        case "build note":
            page = JournalEntry(on=date(2031, 4, 1), stage="fit", title="It is in", text=text)
            changed = {"section_data": {"journal": (PublishedPage(page, ()),)}}
    return replace(data, **changed)


WHERE = {
    "question": "question of the trial",
    "disclosure": "who supplied the hardware",
    "note": "note of coupon S01",
    "reason": "why a reading of coupon S01 no longer counts",
    "supplied_by": "rig Tern, long melt zone, supplied_by",
    "fumes_note": "material PLA, chalk white, fumes_note",
    "amendment": "amendment 1",
    "build note": "Build notes",
}


def test_a_trial_as_it_should_be_has_nothing_to_look_at(report_data):
    assert look_at(report_data, replace(PLAIN, wear=True, replays=True)) == ()


@pytest.mark.parametrize("field", WHERE)
def test_each_thing_typed_is_named_with_its_place(report_data, field):
    data = with_text(report_data, field, "ask jo@example.org, flow 20/30 mm3/s")
    where = WHERE[field].replace("S01", report_data.entries[0].reading.coupon)
    said = f"jo@example.org looks like an e-mail address: {where}"
    assert look_at(data, PLAIN, ("html",)) == (f"{said}.",)
    assert look_at(data, PLAIN) == (f"{said}; the data package has [left out] in its place.",)


def test_whatever_goes_out_as_typed_was_named(report_data, monkeypatch):
    """Page, talking points and package, with numbers, which no package takes out."""
    monkeypatch.setattr(html, "inline_svg", lambda *_: "")  # seconds of drawing
    fields = (*(set(WHERE) - {"disclosure"}), "source", "rig note")
    data = report_data
    for last, field in enumerate(fields, 10):
        data = with_text(data, field, f"ring +44 20 7946 00{last}")
    shown = shown_data(data, PLAIN)
    pages = dossier_html(shown) + talking_points(shown)
    both = pages + b"".join(package_files(data, PLAIN).values()).decode()
    for parts, text in ((("html", "talking-points"), pages), (("html", "package"), both)):
        said = " ".join(look_at(data, PLAIN, parts))
        for last, field in enumerate(fields, 10):
            number = f"+44 20 7946 00{last}"
            assert (number in said) == (number in text), (field, parts)


def test_what_is_not_shown_is_not_named(report_data):
    data = with_text(report_data, "note", "in /home/jo/coupons")
    assert look_at(data, PLAIN, ("html",))
    assert look_at(data, replace(PLAIN, notes=False)) == ()


def test_whom_to_cite_is_looked_at_in_a_package_only(report_data):
    options = replace(PLAIN, creator="Jo, shed.local")
    said = "shed.local looks like an address in a network: whom to cite."
    assert look_at(report_data, options) == (said,)
    assert look_at(report_data, options, ("html",)) == ()


def test_one_thing_in_many_places_is_one_sentence(report_data):
    rigs = [replace(e.reading, note="see /home/jo/a.csv") for e in report_data.entries[:5]]
    names = [f"note of coupon {r.coupon}" for r in rigs[:3]]
    assert look_at_readings(rigs) == (
        f"/home/jo/a.csv looks like a path of a computer: {'; '.join(names)}; 2 more places.",
    )
    assert look_at_readings(rigs[:3])[0].endswith(f"{names[2]}.")


def test_records_of_a_live_weighing_are_looked_at_too(report_data):
    known = {"source": "C:\\rigs\\tern.toml", "note": "/a/home"}
    rig = report_data.rigs[0].model_copy(update=known)
    assert look_at_records(("rig", rig)) == (
        "C:\\rigs\\tern.toml looks like a path of a computer: rig Tern, stock hot end, source; "
        "the data package has [left out] in its place.",
    )
