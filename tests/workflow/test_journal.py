"""A journal on the bench: pages of a rig or a trial, taken whole, shown only where chosen."""

import io
from datetime import date

import pytest
from bench_support import stocked
from PIL import Image

from beadworth.core.errors import NotFoundError, RecordError
from beadworth.demo import STOCK
from beadworth.store.photos import photo
from beadworth.workflow.journal import (
    add_journal_page,
    journal_entries,
    published_pages,
    show_journal_page,
    supersede_journal_page,
    void_journal_page,
)

RIG = STOCK.name
TODAY = date(2026, 6, 1)
PAGE = {"on": "2026-04-02", "stage": "fit", "title": "The bracket did not clear the fan"}


def jpeg(colour="red"):
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def bench(where):
    store, trial = stocked(where)
    store.trial_of_test = trial
    with store:
        yield store


def test_pages_stand_by_the_day_they_tell_of(bench):
    add_journal_page(bench, RIG, {**PAGE, "on": "2026-04-09"}, today=TODAY)
    page = {**PAGE, "problem": "2 mm too tall", "solved": "filed", "lost_h": 1.5}
    add_journal_page(bench, RIG, page,
             [("a.jpg", jpeg(), "a bracket beside a fan")], TODAY)  # fmt: skip
    add_journal_page(bench, bench.trial_of_test, {**PAGE, "stage": "trial"}, today=TODAY)
    first, second = journal_entries(bench, RIG)
    assert (first.record.on.day, second.record.on.day) == (2, 9)
    assert first.record.photos[0].alt == "a bracket beside a fan"
    assert photo(bench, first.record.photos[0].sha256).width_px == 40
    assert len(journal_entries(bench, bench.trial_of_test)) == 1
    assert bench.check().sound


def test_only_chosen_pages_are_shown(bench):
    plain = add_journal_page(bench, RIG, PAGE, today=TODAY)
    chosen = add_journal_page(bench, RIG, {**PAGE, "shown": True, "on": "2026-04-01"}, today=TODAY)
    of_trial = add_journal_page(bench, bench.trial_of_test, {**PAGE, "shown": True}, today=TODAY)
    subjects = [bench.trial_of_test, RIG, RIG]
    assert [k.id for k in published_pages(bench.notes("journal", subjects))] == [
        chosen.id,
        of_trial.id,
    ]
    now = show_journal_page(bench, RIG, plain.id, True)
    assert now.record.shown
    assert now.id in [k.id for k in published_pages(bench.notes("journal", [RIG]))]
    void_journal_page(bench, RIG, chosen.id, "shows my kitchen")
    assert [k.id for k in published_pages(bench.notes("journal", [RIG]))] == [now.id]


def test_a_corrected_page_keeps_the_old_one_and_its_photos_where_named(bench):
    old = add_journal_page(bench, RIG, PAGE, [("a.jpg", jpeg(), "a fan")], TODAY)
    kept = [p.model_dump() for p in old.record.photos]
    new = supersede_journal_page(
        bench, RIG, old.id, {**PAGE, "title": "It cleared", "photos": kept}, "wrong title",
        [("b.png", jpeg("blue"), "a bracket")], TODAY,
    )  # fmt: skip
    assert [p.alt for p in new.record.photos] == ["a fan", "a bracket"]
    assert [(k.state, k.reason) for k in journal_entries(bench, RIG)] == [
        ("superseded", "wrong title"), ("current", ""),
    ]  # fmt: skip


def test_every_fault_of_page_and_photos_comes_at_once_and_nothing_is_kept(bench):
    bad = {"on": "2026-06-09", "stage": "fit", "title": " ", "lost_h": -1.0, "solved": "luck"}
    with pytest.raises(RecordError) as caught:
        add_journal_page(
            bench, RIG, bad, [("a.jpg", jpeg(), " "), ("b.jpg", b"no picture", "a fan")], TODAY
        )
    said = str(caught.value)
    for words in (
        "has not come yet",
        "needs a title",
        "-1 h is not from 0",
        "no problem is named",
        "a.jpg, field alt: this photo has no alternative text",
        "b.jpg: this is not a JPEG",
    ):
        assert words in said
    assert journal_entries(bench, RIG) == []
    assert bench.notes("photo") == []
    with pytest.raises(RecordError, match="stage"):
        add_journal_page(bench, RIG, {**PAGE, "stage": "glory"}, today=TODAY)
    with pytest.raises(RecordError, match="no such photo"):
        add_journal_page(
            bench, RIG, {**PAGE, "photos": [{"sha256": "0" * 64, "alt": "x"}]}, today=TODAY
        )


def test_a_journal_of_nothing_is_refused_with_what_there_is(bench):
    with pytest.raises(NotFoundError, match="Those there are: Tern, stock hot end"):
        journal_entries(bench, "Lapwing")
