"""What walls showed, in a dossier and as open data; the name of the print stays on the bench."""

from datetime import date

import pytest

from beadworth.cause import CauseReading, cause_rows
from beadworth.core import PackageError
from beadworth.datapackage import package_files, read_package, write_package
from beadworth.demo import PLA, STOCK
from beadworth.report.data import ReadingEntry, ReportData
from beadworth.report.sections.cause import SECTION, PublishedCause
from beadworth.trial import Reading

WALL = {
    "photo_sha256": "a" * 64, "alt": "A printed wall.", "side": "front, layers 1 to 40, 50 mm/s",
    "corners": ((0.0, 1.0), (1.0, 1.0), (1.0, 0.0), (0.0, 0.0)), "layer_px": 6.2,
    "length_mm": 110.0, "layer_mm": 0.3, "speed_mm_s": 50.0, "acceleration_mm_s2": 3000.0,
    "corner_mm_s": 8.0, "filament_per_mm": 0.05, "loop_filament_mm": 26.0, "layer_s": 9.1,
    "direction_deg": 0.0,
}  # fmt: skip
TOOTH = {
    "name": "belt tooth, x", "probability": 0.93, "unit": "mm of travel",
    "period": {"value": 2.0, "low": 1.99, "high": 2.01},
    "size_um": {"value": 19.2, "low": 7.7, "high": 45.4},
}  # fmt: skip


def reading(**more):
    second = {"name": "screw turn, z", "probability": 0.7, "unit": "mm of height",
              "period": {"value": 4.0, "low": 3.98, "high": 4.02}}  # fmt: skip
    return CauseReading.model_validate({
        "on": date(2031, 4, 2), "print_name": "secret-project.gcode",
        "verdict": "Most likely: belt tooth, x (93 %).",
        "causes": (TOOTH, {"name": "none of these", "probability": 0.065},
                   {"name": "drive tooth", "probability": 0.005}),
        "second": second, "ringing_probability": 0.1, "walls": (WALL,),
        "cannot_tell": ("idler turn, y: stands still along this wall.",), "simulated": True,
        **more,
    })  # fmt: skip


def data(*found):
    return ReportData(
        question="Which part?", rigs=(STOCK,), material=PLA, generated_at=date(2031, 4, 3),
        section_data={"cause": found},
        entries=(ReadingEntry(Reading(STOCK.name, PLA.name, 215.0, 8.0, 600.0, 1.78)),),
    )  # fmt: skip


def published():
    rows = tuple(cause_rows(7, STOCK.name, reading()))
    return PublishedCause(7, STOCK.name, reading(), rows)


def test_a_dossier_says_what_the_wall_showed():
    blocks = SECTION.blocks(data(published()))
    text = repr(blocks)
    for words in (
        f"What the wall showed, {STOCK.name}", "Most likely: belt tooth, x (93 %).",
        "screw turn, z, beside", "2.00 mm of travel (1.99 to 2.01)", "19.2 µm (7.7 to 45.4)",
        "Cannot tell: idler turn, y: stands still along this wall.", "invented",
        "Read 2031-04-02 from 1 photo: front, layers 1 to 40, 50 mm/s.",
    ):  # fmt: skip
        assert words in text, words
    assert "secret-project" not in text
    assert "drive tooth" not in text, "under one per cent"
    assert SECTION.blocks(data()) is None


def test_a_dossier_parts_sizes_that_were_measured_from_those_of_light():
    def told(*causes):
        return repr(SECTION.blocks(data(PublishedCause(7, STOCK.name, reading(causes=causes), ()))))

    measured = TOOTH | {"measured": True, "probability": 0.998}
    other = TOOTH | {"name": "pulley turn, x", "probability": 0.02}
    assert " Sizes hang on a lamp that nobody measured" in told(TOOTH)
    alone = told(measured)
    assert "19.2 µm (7.7 to 45.4), measured" in alone
    assert "lamp" not in alone
    assert "over 99 %" in alone, "as page and terminal say it"
    assert " Other sizes hang on a lamp that nobody measured" in told(measured, other)


def test_a_dossier_parts_ringing_alone_from_ringing_beside():
    alone = {"name": "ringing", "probability": 0.12, "unit": "Hz"}
    text = repr(
        SECTION.blocks(data(PublishedCause(7, STOCK.name, reading(causes=(TOOTH, alone)), ())))
    )
    assert "ringing alone" in text
    assert "'ringing'" not in text


def test_causes_come_back_from_a_package_as_they_were_written():
    files = package_files(data(published()))
    back = read_package(files)
    assert [row.cause for row in back.causes] == [
        "belt tooth, x", "none of these", "drive tooth", "screw turn, z",
    ]  # fmt: skip
    assert back.causes == published().rows
    assert back.causes[3].beside
    assert write_package(back)["causes.csv"] == files["causes.csv"]
    assert not any(b"secret-project" in content for content in files.values())


def test_ringing_is_a_row_of_its_own():
    ringing = {
        "probability": 0.9, "hertz": {"value": 48.0, "low": 47.0, "high": 49.0},
        "damping": {"value": 0.05, "low": 0.04, "high": 0.06},
        "size_um": {"value": 12.0, "low": 6.0, "high": 24.0},
    }  # fmt: skip
    rows = cause_rows(1, "r", reading(second=None, ringing=ringing, ringing_probability=0.9))
    assert (rows[-1].cause, rows[-1].place, rows[-1].beside) == ("ringing", 1, True)
    assert (rows[-1].period, rows[-1].period_unit, rows[-1].size_um) == (48.0, "Hz", 12.0)
    both = cause_rows(1, "r", reading(ringing=ringing, ringing_probability=0.9))
    assert [row.place for row in both if row.beside] == [1, 2]


def test_a_probability_that_is_none_is_told():
    files = package_files(data(published()))
    spoilt = files | {"causes.csv": files["causes.csv"].replace(b"0.93", b"1.93", 1)}
    assert spoilt != files
    with pytest.raises(PackageError) as refused:
        read_package(spoilt)
    assert "causes.csv" in str(refused.value)
