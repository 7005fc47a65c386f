"""``beadworth bench``: the store itself: open it in the browser, back up, restore, check."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from beadworth.cli.output import BenchOption, JsonOption, emit_json

app = typer.Typer(help="The bench: everything measured here, in one file.")


@app.command("serve")
def serve(
    bench: BenchOption = None,
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.")] = 8642,
    json: JsonOption = False,
) -> None:
    """Open the bench in the browser: start the local web app and print its address.

    It listens on this machine only (127.0.0.1): the bench has no passwords.
    """
    from beadworth.store import open_bench
    from beadworth.web import serve as serve_web

    with open_bench(bench) as store:
        serve_web(store, port=port, as_json=json)


@app.command("backup")
def backup(
    to: Annotated[Path, typer.Argument(help="File to write; must not exist yet.")],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Copy the whole bench to a file, checked after writing; safe while it is in use."""
    from dataclasses import asdict

    from beadworth.store import open_bench

    with open_bench(bench) as store:
        report = store.backup(to)
    if json:
        emit_json({**asdict(report), "path": str(report.path)})
    else:
        typer.echo(f"{report.readings} readings, {report.bytes} bytes, checked: {report.path}")


@app.command("restore")
def restore(
    backup_file: Annotated[Path, typer.Argument(help="File that `bench backup` wrote.")],
    bench: BenchOption = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="A bench is there: keep it beside the restored one.")
    ] = False,
    json: JsonOption = False,
) -> None:
    """Put a backup in the bench's place, after checking it; nothing is thrown away."""
    from beadworth.store import default_bench_path, restore_bench

    report = restore_bench(backup_file, bench, replace=replace)
    where = bench or default_bench_path()
    if json:
        emit_json({"bench": str(where), "trials": report.trials, "readings": report.readings})
    else:
        typer.echo(f"Restored {report.trials} trials, {report.readings} readings to {where}")


@app.command("check")
def check(bench: BenchOption = None, json: JsonOption = False) -> None:
    """Look for damage: the file, the digests of plans, readings without coupons."""
    from beadworth.store import open_bench

    with open_bench(bench) as store:
        report = store.check()
        name = store.name
    if json:
        emit_json(
            {
                "bench": name,
                "sound": report.sound,
                "trials": report.trials,
                "readings": report.readings,
                "findings": list(report.findings),
            }
        )
    else:
        typer.echo(f"{name}: {report.trials} trials, {report.readings} readings")
        for finding in report.findings:
            typer.echo(f"Found: {finding}")
        typer.echo("Sound." if report.sound else "Restore a backup (beadworth bench restore).")
    if not report.sound:
        raise typer.Exit(7)
