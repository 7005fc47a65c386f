"""The section on what is typical: charts, sentences and sources; absent where nothing is known."""

import dataclasses

from typical_case import OTHERS, ceiling, made

from beadworth.report.blocks import Figure, Table
from beadworth.report.render.html import dossier_html
from beadworth.report.sections.typical import SECTION, forests, typical_blocks
from beadworth.typical.classes import typical


def test_section_holds_charts_sentences_and_sources(report_data):
    found = made(15.2)
    blocks = typical_blocks(found)
    assert sum(isinstance(b, Figure) for b in blocks) == 2
    pools, table = [b for b in blocks if isinstance(b, Table)]
    assert all("no source" in row.cells[-1] for _, rows in table.groups for row in rows)
    ((name, (row,)),) = pools.groups
    assert name == "long melt zone, usual bore, PLA"
    assert (row.head, row.cells[0]) == ("220\u00a0°C", "4")
    page = dossier_html(
        dataclasses.replace(report_data, section_data={"typical": found}), [SECTION]
    )
    assert "What is typical" in page
    assert "Other trials of the class, pooled" in page


def test_fewer_than_three_trials_are_not_drawn_as_a_pool(report_data):
    blocks = typical_blocks(made(15.2, OTHERS[:2]))
    assert sum(isinstance(b, Figure) for b in blocks) == 1
    ((_, (row,)),) = next(b for b in blocks if isinstance(b, Table)).groups
    assert row.cells == ("2", "cannot tell", "cannot tell", "cannot tell")


def test_one_forest_a_class_at_the_middle_temperature():
    at = [ceiling("me", 15.0, t, source="this") for t in (210.0, 220.0, 230.0)]
    others = [
        dataclasses.replace(c, temperature_c=t) for c in OTHERS for t in (210.0, 220.0, 230.0)
    ]
    (one,) = forests(typical(at, others))
    assert one.temperature_c == 220.0


def test_whoever_gave_data_is_named_with_the_licence(report_data):
    credit = "What of Ruff? (The lime kiln, CC-BY-4.0, package df18e650)"
    found = made(15.2, [dataclasses.replace(c, credit=credit) for c in OTHERS])
    page = dossier_html(
        dataclasses.replace(report_data, section_data={"typical": found}), [SECTION]
    )
    assert page.count(credit) == 1


def test_section_is_left_out_where_nothing_was_gathered(report_data):
    assert SECTION.blocks(report_data) is None
