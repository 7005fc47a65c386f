"""Blind grades in a data package: written, read back, and no name of a grader in it."""

from datetime import date

import pytest

from beadworth.core import PackageError
from beadworth.datapackage import package_files, read_package, write_package
from beadworth.demo import PLA, STOCK
from beadworth.report.data import ReadingEntry, ReportData
from beadworth.report.sections.witness import PublishedWitness
from beadworth.trial import Reading
from beadworth.witness import Band, LookSheet, grade_rows, read_sheets

BANDS = [
    Band(
        n, code, None, "layer time", {"layer_time_s": 16.0 - 2 * n, "speed_mm_s": 60.0}, ("first",)
    )
    for n, code in enumerate("ACDEFH", start=1)
]


def sheet(grader, grades):
    given = zip((band.code for band in BANDS), grades, strict=True)
    return LookSheet(grader=grader, grades={f"{code} first": grade for code, grade in given})


@pytest.fixture(scope="module")
def files():
    sheets = [sheet("Ada at home", (0, 0, 1, 2, 3, 4)), sheet("BC", (0, 0, 0, None, 2, 3))]
    rows = grade_rows(12, "layer time", STOCK.name, PLA.name, 215.0, BANDS, sheets)
    one = PublishedWitness(
        12, STOCK.name, "layer time", "2031-04-02", 2, 2,
        read_sheets("layer time", BANDS, {}, sheets), rows=tuple(rows),
    )  # fmt: skip
    data = ReportData(
        question="How short?", rigs=(STOCK,), material=PLA, generated_at=date(2031, 4, 3),
        section_data={"witness": (one,)},
        entries=(ReadingEntry(Reading(STOCK.name, PLA.name, 215.0, 8.0, 600.0, 1.78)),),
    )  # fmt: skip
    return package_files(data)


def test_grades_come_back_as_they_were_written(files):
    back = read_package(files)
    assert len(back.grades) == 12
    assert [row.grade for row in back.grades[:6]] == [0, 0, 1, 2, 3, 4]
    assert back.grades[9].grade is None
    assert {row.layer_time_s for row in back.grades} == {16.0 - 2 * n for n in range(1, 7)}
    assert write_package(back)["grades.csv"] == files["grades.csv"]


def test_no_name_of_a_grader_leaves_the_bench(files):
    assert not any(b"Ada" in content or b"BC" in content for content in files.values())
    assert {row.grader for row in read_package(files).grades} == {"grader 1", "grader 2"}


def test_a_grade_that_is_none_is_told(files):
    spoilt = files | {"grades.csv": files["grades.csv"].replace(b",4,\n", b",7,\n", 1)}
    assert spoilt != files
    with pytest.raises(PackageError) as refused:
        read_package(spoilt)
    assert "grades.csv" in str(refused.value)
