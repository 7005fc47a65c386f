"""The charts of what is typical: finding in the title, every mark in words, nothing clipped."""

import dataclasses

import pytest

from beadworth.dossier.blocks import Figure, Table
from beadworth.dossier.charts import NARROW_PX, WIDE_PX, render_svg
from beadworth.dossier.charts_typical import classes_of, forest_chart, typical_chart
from beadworth.dossier.page import dossier_html
from beadworth.dossier.section_typical import SECTION, forests, typical_blocks
from beadworth.worth.typical import HotEndClass, TrialCeiling, typical

LONG = HotEndClass("long", "usual")


def ceiling(trial, flow, temperature=220.0, half=0.4, **more):
    given = {
        "trial": trial, "label": f"Trial {trial}?", "rig": f"rig {trial}", "material": "PLA",
        "hot_end": LONG, "temperature_c": temperature, "flow_mm3_s": flow, "low": flow - half,
        "high": flow + half, "confidence": 0.95, "simulated": False, "source": "package",
    }  # fmt: skip
    return TrialCeiling(**given | more)


OTHERS = [ceiling(n, f) for n, f in (("a", 14.0), ("b", 15.0), ("c", 15.5), ("d", 16.2))]


def made(flow, others=OTHERS):
    return typical([ceiling("me", flow, source="this")], others)


@pytest.mark.parametrize(
    ("flow", "said"),
    [
        (15.2, "At 220\u00a0°C the ceiling lies where a further trial of its class is expected"),
        (40.0, "At 220\u00a0°C the ceiling lies above what is expected of its class"),
        (3.0, "At 220\u00a0°C the ceiling lies below what is expected of its class"),
    ],
)
def test_title_is_the_finding(flow, said):
    chart = typical_chart(made(flow), LONG, "PLA")
    assert chart.title == said


@pytest.mark.parametrize(
    ("count", "said"), [(0, "No other trial of"), (1, "Only 1 other trial"), (2, "Only 2 other")]
)
def test_title_says_when_it_cannot_be_told(count, said):
    chart = typical_chart(made(15.0, OTHERS[:count]), LONG, "PLA")
    assert chart.title.startswith(said)
    assert chart.title.endswith("so what is typical cannot be told")


def test_every_mark_is_drawn_and_common_practice_is_named_as_such():
    chart = typical_chart(made(15.2), LONG, "PLA")
    kinds = [row["kind"] for row in chart.rows]
    assert kinds.count("this trial") == 1
    assert kinds.count("other trials of the class") == 4
    assert kinds.count("expected of a further trial") == 1
    assert kinds.count("common practice, no source") == 3
    assert "Common practice is what people say, not a measurement." in chart.caption
    assert "15.2 (14.8 to 15.6) mm³/s" in chart.alt


def test_charts_of_several_classes_and_temperatures_have_names_of_their_own():
    found = made(15.2)
    assert typical_chart(found, LONG, "PLA").name == "typical-long-usual-pla"
    assert forest_chart(found.pools[0]).name == "forest-long-usual-pla-220"


def test_forest_shows_each_trial_its_weight_the_mean_and_a_further_trial():
    (pool,) = made(15.2).pools
    chart = forest_chart(pool)
    assert [row["part"] for row in chart.rows] == ["trial"] * 4 + ["mean", "further"]
    assert sum(row["weight"] for row in chart.rows) == pytest.approx(1)
    assert (
        chart.title
        == f"4 trials of this class give {pool.pooled.flow_mm3_s:.1f} mm³/s at 220\u00a0°C"
    )
    assert "rig a: 14.0 (13.6 to 14.4)" in chart.alt


def test_other_rigs_of_the_user_are_not_named_in_what_is_published():
    own = [dataclasses.replace(c, source="own") for c in OTHERS]
    chart = forest_chart(made(15.2, own).pools[0])
    assert chart.rows[0]["name"] == "another trial here (a)"
    for name in ("rig a", "rig b", "Trial a"):
        assert name not in str(chart.spec) + chart.alt + chart.caption


def test_rigs_of_one_name_are_told_apart():
    alike = [dataclasses.replace(c, rig="Ruff", trial=f"{n}00d5") for n, c in enumerate(OTHERS)]
    names = [row["name"] for row in forest_chart(made(15.2, alike).pools[0]).rows]
    assert names[0] == "Ruff (000d5)"
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("width", [WIDE_PX, NARROW_PX])
def test_pictures_are_as_wide_as_the_page_allows(width):
    found = made(15.2)
    for chart in (typical_chart(found, LONG, "PLA", width_px=width),
                  forest_chart(found.pools[0], width_px=width)):  # fmt: skip
        svg = render_svg(chart)
        drawn = float(svg.split('width="', 1)[1].split('"', 1)[0])
        assert drawn <= width + 8


def test_section_holds_charts_sentences_and_sources(dossier_data):
    found = made(15.2)
    blocks = typical_blocks(found)
    assert sum(isinstance(b, Figure) for b in blocks) == 2
    pools, table = [b for b in blocks if isinstance(b, Table)]
    assert all("no source" in row.cells[-1] for _, rows in table.groups for row in rows)
    ((name, (row,)),) = pools.groups
    assert name == "long melt zone, usual bore, PLA"
    assert (row.head, row.cells[0]) == ("220\u00a0°C", "4")
    page = dossier_html(dataclasses.replace(dossier_data, extras={"typical": found}), [SECTION])
    assert "What is typical" in page
    assert "Other trials of the class, pooled" in page


def test_fewer_than_three_trials_are_not_drawn_as_a_pool(dossier_data):
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


def test_whoever_gave_data_is_named_with_the_licence(dossier_data):
    credit = "What of Ruff? (The lime kiln, CC-BY-4.0, package df18e650)"
    found = made(15.2, [dataclasses.replace(c, credit=credit) for c in OTHERS])
    page = dossier_html(dataclasses.replace(dossier_data, extras={"typical": found}), [SECTION])
    assert page.count(credit) == 1


def test_section_is_left_out_where_nothing_was_gathered(dossier_data):
    assert SECTION.blocks(dossier_data) is None
    assert classes_of(typical([ceiling("me", 15.0, hot_end=None)], [])) == []
