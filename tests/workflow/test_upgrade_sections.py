"""Fit check, bring-up and replays of an upgrade, from the bench into its dossier."""

from __future__ import annotations

import pytest

from beadworth.bringup.result import AxisResult, BringUpResult
from beadworth.demo import LONG_ZONE, STOCK
from beadworth.report.blocks import Pairs, Paragraph, Table
from beadworth.report.sections.bringup import SECTION as BRINGUP
from beadworth.report.sections.fit import SECTION as FIT
from beadworth.report.sections.replays import SECTION as REPLAYS
from beadworth.store import open_bench
from beadworth.store.prints import REPLAYED
from beadworth.workflow.bringup import store_bring_up
from beadworth.workflow.report import report_data


@pytest.fixture(scope="module")
def bench(demo_copy, tmp_path_factory):
    with open_bench(demo_copy(tmp_path_factory.mktemp("bench"))) as made:
        yield made


@pytest.fixture(scope="module")
def trial(bench):
    return next(t.id for t in bench.trials() if t.spec and t.spec.candidate)


def test_the_upgrade_is_checked_against_its_parent_and_the_unknown_is_named(bench, trial):
    blocks = FIT.blocks(report_data(bench, trial))
    said = " ".join(block.text for block in blocks if isinstance(block, Paragraph))
    assert LONG_ZONE.name in said
    assert "Not known yet:" in said
    found = report_data(bench, trial).section_data["fit"]
    waiting = [check.name for check in found.checks if check.verdict == "measure this"]
    assert waiting
    assert all(name in said for name in waiting)
    (checks,) = [block for block in blocks if isinstance(block, Table)]
    rows = {row.head: row.cells for _, rows in checks.groups for row in rows}
    assert rows["hot end temperature"][0] == "fits"
    assert rows["hot end temperature"][2] == "290 °C"
    assert not set(rows) & set(waiting)


def test_replays_of_its_rigs_stand_in_it_without_their_file_names(bench, trial):
    assert REPLAYS.blocks(report_data(bench, trial)) is None
    said = {"verdict": "1.2 % of it is over the ceiling.", "time_s": 5400.0,
            "rig": STOCK.name, "trial": trial, "material": ""}  # fmt: skip
    bench.add_note("print", "ab" * 32, {"name": "for-anna.gcode", "bytes": 1, "packed": False})
    bench.add_note(REPLAYED, "ab" * 32, said | {"verdict": "an older word"})
    bench.add_note(REPLAYED, "ab" * 32, said)
    bench.add_note(REPLAYED, "cd" * 32, said | {"rig": "another rig"})
    found, _ = REPLAYS.blocks(report_data(bench, trial))
    assert found.groups[0][0] == STOCK.name
    (row,) = found.groups[0][1]
    assert row.head == "print 1"
    assert row.cells[1] == "1.2 % of it is over the ceiling."
    assert "anna" not in repr(found)


def test_bring_up_results_stand_in_it(bench, trial):
    axis = AxisResult(
        axis="x", readings=5, steps_now=80.0, scale_error=0.002, u_scale=0.0002, zero_mm=0.01,
        u_zero_mm=0.02, scatter_mm=0.01, coverage=3.18, steps_per_mm=79.84, u_steps_per_mm=0.02,
        scale_significant=True, zero_significant=False, advice="Set 79.84 steps/mm.",
    )  # fmt: skip
    store_bring_up(bench, BringUpResult(rig=LONG_ZONE.name, axes=(axis,)), {})
    blocks = BRINGUP.blocks(report_data(bench, trial))
    pairs = dict(item for block in blocks if isinstance(block, Pairs) for item in block.items)
    assert "Set 79.84 steps/mm." in pairs["Moves of x"]
    assert "79.840 ± 0.064 steps/mm" in pairs["Moves of x"]
