"""``beadworth dossier``: publish a trial."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from beadworth.cli.output import BenchOption, JsonOption, emit_json, progress

app = typer.Typer(help="Dossier: the published account of a trial.")


@app.callback()
def dossier() -> None:
    """Keep ``publish`` a verb of its own."""


@app.command("publish")
def publish(
    trial: Annotated[str, typer.Argument(help="Trial id, as `trial list` shows it.")],
    out: Annotated[Path, typer.Option(help="Folder to write into.")],
    loss: Annotated[
        float | None, typer.Option(help="Loss at which ceilings are read; left out: the trial's.")
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write the dossier: one self-contained HTML page, and the readings as CSV beside it.

    Read it before you send it: it holds what you typed, and who supplied the hardware.
    """
    from beadworth.bench import open_bench
    from beadworth.bench.account import dossier_data
    from beadworth.dossier.page import dossier_html
    from beadworth.trial import write_readings_csv

    with open_bench(bench) as store, progress("Publishing"):
        page = dossier_html(dossier_data(store, trial, loss))
        readings = write_readings_csv(store.current_readings(trial))
    out.mkdir(parents=True, exist_ok=True)
    files = {"html": out / f"{trial}.html", "readings": out / f"{trial}-readings.csv"}
    files["html"].write_text(page, encoding="utf-8")
    files["readings"].write_text(readings, encoding="utf-8")
    if json:
        emit_json({name: str(path) for name, path in files.items()})
    else:
        for path in files.values():
            typer.echo(f"Written: {path}")
