"""What many prints say together: how many are over, for how long, which are the worst."""

import pytest

from beadworth.replay import summarize_survey


def row(name, **values):
    usual = {"file": f"/p/{name}.gcode", "problem": None, "time_s": 3600.0, "max_mm3_s": 9.0,
             "over_ceiling_s": 0.0, "sustained": 0, "bursts": 0, "missing_mm3": 0.0,
             "shows": None}  # fmt: skip
    return usual | values


ROWS = [
    row("under"),
    row("burst", bursts=3, over_ceiling_s=0.0, missing_mm3=0.4, shows="cannot"),
    row("will-little", sustained=1, over_ceiling_s=30.0, missing_mm3=41.0, shows="will"),
    row("will-much", sustained=2, over_ceiling_s=20.0, missing_mm3=99.0, shows="will"),
    row("may", sustained=1, over_ceiling_s=70.0, missing_mm3=500.0, shows="may"),
    {"file": "/p/broken.gcode", "problem": "the gz data end in the middle"},
]


def test_the_prints_over_their_ceiling_are_counted_and_the_worst_come_first():
    found = summarize_survey(ROWS, known=True)
    assert (found.prints, found.broken, found.over, found.will, found.may, found.unknown) == (
        5, 1, 4, 2, 1, 0
    )  # fmt: skip
    assert [one.name for one in found.worst] == [
        "will-much.gcode", "will-little.gcode", "may.gcode", "burst.gcode",
    ]  # fmt: skip
    assert (found.time_s, found.over_ceiling_s) == (18_000.0, 120.0)
    assert found.sentence == (
        "4 of 5 prints in 5 h are over the ceiling, for 2 min in all (0.7 % of the time); 2 will "
        "show, 1 may show."
    )


@pytest.mark.parametrize(
    ("rows", "known", "says"),
    [
        (ROWS[:1], True, "1 print in 1 h, all of them always under the ceiling."),
        (
            ROWS[:1],
            False,
            "1 print in 1 h; without a capacity it is not known whether the hot end gives them.",
        ),
        (
            ROWS[:2],
            True,
            "1 of 2 prints in 2 h is over the ceiling, for 0.0 s in all (0.0 % of the time); none "
            "of it can show.",
        ),
        (
            [row("old", sustained=1, over_ceiling_s=36.0, missing_mm3=None)],
            True,
            "1 of 1 print in 1 h is over the ceiling, for 36 s in all (1.0 % of the time); 1 not "
            "known to show.",
        ),
        (
            [*ROWS[:1], row("cold", ceiling_known=False)],
            True,
            "2 prints in 2 h, none known to be over the ceiling. Of 1 print it is not known: below "
            "the temperatures weighed.",
        ),
        ([], True, "0 prints in 0.0 s, all of them always under the ceiling."),
    ],
)
def test_each_answer_in_words(rows, known, says):
    assert summarize_survey(rows, known=known).sentence == says


def test_only_so_many_are_told_one_by_one():
    many = [row(f"p{n}", bursts=1, missing_mm3=float(n)) for n in range(40)]
    found = summarize_survey(many, known=True)
    assert (found.over, len(found.worst)) == (40, 15)
    assert found.worst[0].name == "p39.gcode"
