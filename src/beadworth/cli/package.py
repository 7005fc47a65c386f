"""``beadworth package``: open data packages in and out, and one's own trial against one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.output import BenchOption, JsonOption, emit_json, print_table, progress

if TYPE_CHECKING:
    from beadworth.workflow import ImportedPackage

app = typer.Typer(help="Data package: a trial as open data, and those of others as references.")

PackageArgument = Annotated[
    str, typer.Argument(metavar="PACKAGE", help="First digits of its digest, as `list` shows them.")
]
LicenceOption = Annotated[
    str | None, typer.Option(metavar="SPDX", help="Licence of the data (default CC-BY-4.0).")
]
CreatorOption = Annotated[str, typer.Option(help="Whom to cite; left out: nobody is named.")]
NotesOption = Annotated[
    bool, typer.Option(help="Show what was typed as a remark in the data package.")
]
PricesOption = Annotated[bool, typer.Option(help="Show prices in the data package.")]


@app.command("import")
def import_(
    source: Annotated[
        Path, typer.Argument(metavar="FOLDER_OR_ZIP", help="The package: its folder, or its zip.")
    ],
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Take a data package in as a read-only reference trial.

    Sizes, hashes, columns and units are checked, and the readings are fitted again: what
    they do not give is refused. Nothing is kept of a package with anything wrong.
    """
    from beadworth.store import open_bench
    from beadworth.workflow import import_package, read_source

    with progress("Checking"):
        files = read_source(source)
        with open_bench(bench) as store:
            package, new = import_package(store, files, source.name or str(source.resolve().name))
    if json:
        emit_json(package.in_short() | {"new": new})
        return
    typer.echo(f"{'Taken in' if new else 'Here already'}: {package.name}, {_said(package)}")


@app.command("list")
def list_(bench: BenchOption = None, json: JsonOption = False) -> None:
    """List the imported packages."""
    from beadworth.store import open_bench
    from beadworth.workflow import imported_packages, unreadable_packages

    with open_bench(bench) as store:
        rows = [package.in_short() for package in imported_packages(store)]
        unread = unreadable_packages(store)
    if json:
        emit_json({"packages": rows, "unreadable": [name for name, _ in unread]})
        return
    print_table(
        "Imported packages",
        ("package", "question", "rigs", "coupons", "licence", "simulated", "from"),
        [
            (
                row["package"],
                row["question"],
                "; ".join(row["rigs"]),
                row["coupons"],
                row["licence"],
                "yes" if row["simulated"] else "no",
                row["source"],
            )
            for row in rows
        ],
    )
    for name, reason in unread:
        typer.echo(f"Note: {name} cannot be read by this release. {reason}")


@app.command("export")
def export(
    trial: Annotated[
        str, typer.Argument(metavar="TRIAL", help="Trial id, or an imported package's digits.")
    ],
    out: Annotated[Path, typer.Option(help="Folder to write; a name ending in .zip gives a zip.")],
    licence: LicenceOption = None,
    creator: CreatorOption = "",
    notes: NotesOption = True,
    prices: PricesOption = True,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Write a trial as an open data package (Data Package standard).

    Look through it before you send it: it holds what you typed.
    """
    from beadworth.datapackage import DEFAULT_LICENCE, Shown
    from beadworth.store import open_bench
    from beadworth.workflow import export_files, write_files

    shown = Shown(licence or DEFAULT_LICENCE, creator, notes, prices)
    with open_bench(bench) as store, progress("Writing"):
        files = export_files(store, trial, shown)
    write_files(files, out)
    if json:
        emit_json({"out": str(out), "files": sorted(files)})
    else:
        typer.echo(f"Written: {out} ({len(files)} files)")


@app.command("compare")
def compare(
    trial: Annotated[str, typer.Argument(metavar="TRIAL", help="Your own trial.")],
    package: PackageArgument,
    rig: Annotated[str | None, typer.Option(help="Your rig, where the trial has two.")] = None,
    package_rig: Annotated[
        str | None, typer.Option(help="The package's rig, where it has two.")
    ] = None,
    loss: Annotated[
        float | None, typer.Option(help="Loss at which both are read; left out: the trial's.")
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Compare a rig of yours (the candidate) with a package's (the baseline).

    Both are fitted from their readings by the same functions; materials may differ, and then
    the difference is of rig and material together.
    """
    from dataclasses import asdict

    from beadworth.store import open_bench
    from beadworth.workflow import compare_with_package

    with open_bench(bench) as store, progress("Comparing"):
        found = compare_with_package(
            store, trial, package, rig=rig, package_rig=package_rig, loss=loss
        )
    if json:
        emit_json(asdict(found))
        return
    print_table(
        f"{found.candidate} less {found.baseline}, mm³/s at {100 * found.loss:g} % loss",
        ("°C", "difference", "low", "high", "better with probability"),
        [
            (r.temperature_c, r.difference_mm3_s, r.low, r.high, r.probability_better)
            for r in found.differences
        ],
    )
    typer.echo(found.sentence)
    for note in found.notes:
        typer.echo(f"Note: {note}")


@app.command("typical")
def typical(
    trial: Annotated[str, typer.Argument(metavar="TRIAL", help="Your own trial.")],
    loss: Annotated[
        float | None, typer.Option(help="Loss at which ceilings are read; left out: the trial's.")
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Hold a trial's ceilings against what is typical of their class of hot end.

    A class is a range of heated lengths and nozzle bores. Your other trials and the imported
    packages are pooled where three or more of a class are here; fewer cannot tell.
    """
    from dataclasses import asdict

    from beadworth.store import open_bench
    from beadworth.workflow import trial_typical

    with open_bench(bench) as store, progress("Fitting"):
        found = trial_typical(store, trial, loss)
    if json:
        emit_json(asdict(found))
        return
    for pool in found.pools:
        typer.echo(pool.sentence)
    for row in found.rows:
        one = row.low_mm3_s == row.high_mm3_s
        flow = f"{row.low_mm3_s:g}" if one else f"{row.low_mm3_s:g} to {row.high_mm3_s:g}"
        typer.echo(
            f"Table: {row.zone or 'unstated'} melt zone, {row.nozzle_mm:g} mm, {row.polymer} at "
            f"{row.temperature_c:g} °C: {row.what} {flow} mm³/s ({row.source})."
        )
    for note in found.notes:
        typer.echo(f"Note: {note}")


def _said(package: ImportedPackage) -> str:
    row = package.in_short()
    simulated = "simulated, " if row["simulated"] else ""
    return f"{simulated}{row['coupons']} coupons of {'; '.join(row['rigs'])} ({row['licence']})"
