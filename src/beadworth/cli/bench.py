"""``beadworth bench``: the store itself: open it in the browser, back up, restore, check."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from beadworth.cli.command import Answer, Call, command

app = typer.Typer(help="Open, back up or check the bench, the file with all you measured.")
PortOption = Annotated[
    int,
    typer.Option(
        help="Port to listen on; where it is in use, the next free one. 0 takes any free one."
    ),
]


@command(app, "serve", "bench serve")
def serve(call: Call, port: PortOption = 8642) -> None:
    """Open the bench in the browser: start the local web app and print its address.

    It listens on this machine only (127.0.0.1): the bench has no passwords.
    """
    from beadworth.web import serve as serve_web

    serve_web(call.bench, port=port, as_json=call.as_json)


@command(app, "backup", "bench backup before-upgrade.bench")
def backup(
    call: Call, to: Annotated[Path, typer.Argument(help="File to write; must not exist yet.")]
) -> Answer:
    """Copy the whole bench to a file, checked after writing; safe while it is in use."""
    report = call.bench.backup(to)
    return Answer(
        {
            "path": str(report.path),
            "readings": report.readings,
            "bytes": report.bytes,
            "findings": report.findings,
        },
        [f"{report.readings} readings, {report.bytes} bytes, checked: {report.path}"],
    )


@command(app, "restore", "bench restore before-upgrade.bench --replace")
def restore(
    call: Call,
    backup_file: Annotated[Path, typer.Argument(help="File that `bench backup` wrote.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="A bench is there: keep it beside the restored one.")
    ] = False,
) -> Answer:
    """Put a backup in the bench's place, after checking it; nothing is thrown away."""
    from beadworth.workflow import default_bench_path, restore_bench

    report = restore_bench(backup_file, call.bench_name, replace=replace)
    where = str(call.bench_name or default_bench_path())
    return Answer(
        {"bench": where, "trials": report.trials, "readings": report.readings},
        [f"Restored {report.trials} trials, {report.readings} readings to {where}"],
    )


@command(app, "check", "bench check")
def check(call: Call) -> Answer:
    """Look for damage: the file, the digests of plans, readings without coupons."""
    report, name = call.bench.check(), call.bench.name
    return Answer(
        {
            "bench": name,
            "sound": report.sound,
            "trials": report.trials,
            "readings": report.readings,
            "findings": list(report.findings),
        },
        [
            f"{name}: {report.trials} trials, {report.readings} readings",
            *(f"Found: {finding}" for finding in report.findings),
            "Sound." if report.sound else "Restore a backup (beadworth bench restore).",
        ],
        exit_code=0 if report.sound else 7,
    )
