"""A page of a journal: stages by their names of today, and those of the first release."""

from datetime import date

import pytest

from beadworth.core.errors import RecordError
from beadworth.wear.journal import FORMER_STAGES, STAGES, journal_entry

TODAY = date(2026, 11, 1)


def page(stage):
    return journal_entry({"on": "2026-01-02", "stage": stage, "title": "x"}, "page", TODAY)


@pytest.mark.parametrize("stage", STAGES)
def test_a_stage_stays_what_it_is(stage):
    assert page(stage).stage == stage


@pytest.mark.parametrize(("former", "now"), list(FORMER_STAGES.items()))
def test_a_page_of_the_first_release_opens_under_the_new_name(former, now):
    assert now in STAGES
    assert page(former).stage == now


def test_another_stage_is_refused():
    with pytest.raises(RecordError, match="stage"):
        page("launch")
