"""Whole print files: a higher ceiling never costs time, and shares of time add up."""

from dataclasses import replace
from pathlib import Path

import pytest
from ask_support import RIGS, named_fit
from own_prints import FOLDER

from beadworth.worth.buys import what_it_buys
from beadworth.worth.case import case_from_mapping
from beadworth.worth.replayed import Sources, ask

PRINTS = Path(__file__).resolve().parents[3] / "shared" / "prints"
NAMES = (
    "abs-e-small-box-01.gcode",
    "compact-rel-e-arcs-first-layers-01.gcode",
    "rel-e-single-wall-tower-01.gcode",
)
OWN = ("box_with_resets.gcode", "rounded_arcs.gcode", "single_wall_tower.gcode")
REAL = pytest.mark.skipif(not PRINTS.is_dir(), reason="the folder of real prints is not here")


@pytest.mark.parametrize("feeds", ["as written", "raised"])
@pytest.mark.parametrize(
    ("folder", "names"),
    [pytest.param(FOLDER, OWN, id="own"), pytest.param(PRINTS, NAMES, id="real", marks=REAL)],
)
def test_a_higher_ceiling_alone_never_costs_time(folder, names, feeds):
    case = case_from_mapping(
        {"name": "real", "baseline": "stock", "candidate": "long", "trial": "both",
         "feeds": feeds, "time": {"printer_hour": 1.0},
         "prints": [{"file": name, "per_year": 50} for name in names]}, "case",
    )  # fmt: skip
    asked = ask(
        case,
        Sources(RIGS.__getitem__, named_fit, lambda use: folder / use.file, lambda _: None),
    )
    for times in asked.prints:
        assert times.candidate.time_s <= times.baseline.time_s * (1 + 1e-9)
        assert times.candidate.low_s >= times.candidate.time_s >= times.candidate.high_s
    found = what_it_buys(asked, most_batches=10)
    assert found.hours_saved_per_year.low >= -1e-6
    for shares in (found.limits_before, found.limits_after):
        assert sum(shares.values()) == pytest.approx(1.0)
    doubled = replace(asked, amount=case.stopwatch.scaled(2.0))
    twice = what_it_buys(doubled, most_batches=10)
    # both are means of draws, ended where they are known well enough
    assert twice.hours_saved_per_year.value == pytest.approx(
        2 * found.hours_saved_per_year.value, rel=2e-3
    )
