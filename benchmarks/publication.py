"""A whole publication of the demo upgrade, each part in seconds, against drawing its charts once.

python benchmarks/publication.py

The reference is vl-convert drawing the same 12 charts to PNG, once each, 1640 pixels wide: what
any maker of pictures would have to do for one size on one ground.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from machine import machine

from beadworth.demo import seed
from beadworth.report.charts.chart import render_png
from beadworth.report.render.figure_files import write_figures
from beadworth.report.render.figures import pictures
from beadworth.store import open_bench
from beadworth.workflow.publish import publish_dossier
from beadworth.workflow.report import report_data

FIGURES = 12
AIM_S = 30.0


Spent = tuple[float, float]
"""Seconds on the clock, and of both processors together."""


def timed(work: Callable[[], Any]) -> tuple[Spent, Any]:
    start, used = time.perf_counter(), time.process_time()
    made = work()
    return (time.perf_counter() - start, time.process_time() - used), made


def main() -> None:
    on = machine("typst", "vl-convert-python")
    rows: list[tuple[str, int, Spent]] = []
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        with open_bench(home / "demo.bench") as bench:
            seed(bench)
            trial = next(t.id for t in bench.trials() if t.spec and t.spec.candidate)
            spent, data = timed(lambda: report_data(bench, trial))
        rows.append(("what the bench knows, fitted", 0, spent))
        for part in ("html", "pdf", "talking-points", "package"):
            spent, made = timed(lambda part=part: publish_dossier(data, trial, home / part, {part}))
            rows.append((part, sum(map(len, made.values())), spent))
        chosen = pictures(data)[:FIGURES]
        spent, files = timed(lambda: write_figures(data, home / "figures", chosen=chosen))
        rows.append((f"{FIGURES} figures, 4 sizes on 3 grounds", len(files), spent))
        whole = tuple(sum(row[2][n] for row in rows) for n in (0, 1))
        every = pictures(data)
        spent, files = timed(lambda: write_figures(data, home / "all", chosen=every[FIGURES:]))
        more = (f"the other {len(every) - FIGURES} figures of the demo", len(files), spent)
        reference, _ = timed(lambda: [render_png(one.chart) for one in chosen])
    print(f"{on}; one run, nothing warm.\n")
    print("| part | files | s | processor s |\n| --- | --: | --: | --: |")
    table = [*rows, ("the whole", sum(row[1] for row in rows), whole), more,
             (f"reference: vl-convert, {FIGURES} PNG once each", FIGURES, reference)]  # fmt: skip
    for name, many, (clock, used) in table:
        print(f"| {name} | {many or ''} | {clock:.1f} | {used:.1f} |")
    print(
        f"\nThe whole ÷ reference: {whole[0] / reference[0]:.1f}. The aim is {AIM_S:g} s on two "
        f"cores: {'met' if whole[0] <= AIM_S else 'not met'}."
    )


if __name__ == "__main__":
    main()
