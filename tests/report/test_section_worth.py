"""The section on worth: hours first, nothing left out, absent without a case."""

from __future__ import annotations

from worth_case import asked, found, work_out

from beadworth.report.blocks import Figure, Table
from beadworth.report.sections.worth import SECTION


class Data:
    def __init__(self, found):
        self.section_data = {} if found is None else {"worth": found}


def test_the_section_says_hours_first_and_leaves_nothing_out():
    blocks = SECTION.blocks(Data(found()))
    assert blocks[0].text.startswith("It saves")
    tables = [block for block in blocks if isinstance(block, Table)]
    assert len(tables) == 4
    assert sum(isinstance(block, Figure) for block in blocks) == 5
    options = tables[-1]
    assert "cost 50" in options.caption
    names = [row.head for _, rows in options.groups for row in rows]
    assert set(names) == {"B", "do nothing", "wider nozzle", "dear and idle", "hearsay"}


def test_the_dossier_opens_with_for_whom_it_pays():
    from beadworth.report.summary import who_for

    said = who_for(Data(found()))
    assert said[0] == found().worth.sentence
    assert said[1].startswith("Worth it for")


def test_without_a_case_there_is_no_section():
    assert not SECTION.blocks(Data(None))


def test_figures_that_cannot_be_drawn_are_left_out():
    bare = work_out(asked({"time": {}, "cost": {"parts": 100.0}}))
    blocks = SECTION.blocks(Data(bare))
    assert (
        sum(isinstance(block, Figure) for block in blocks) == 2
    )  # no score without scales, so no ranking either
