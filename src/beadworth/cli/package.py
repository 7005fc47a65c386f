"""``beadworth package``: open data packages in and out, and one's own trial against one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.command import Answer, Call, command, notes, progress, to_look_at
from beadworth.cli.options import (
    CreatorOption,
    LicenceOption,
    LossOption,
    NotesOption,
    PricesOption,
)
from beadworth.cli.table import Table, tenths

if TYPE_CHECKING:
    from beadworth.workflow import ImportedPackage

app = typer.Typer(help="Exchange trials as open data, and compare with others' trials.")

OwnTrialArgument = Annotated[str, typer.Argument(metavar="TRIAL", help="Your own trial.")]
PackageArgument = Annotated[
    str, typer.Argument(metavar="PACKAGE", help="First digits of its digest, as `list` shows them.")
]


@command(app, "import", "package import their-trial.zip")
def import_(
    call: Call,
    source: Annotated[
        Path, typer.Argument(metavar="FOLDER_OR_ZIP", help="The package: its folder, or its zip.")
    ],
) -> Answer:
    """Import a data package as a read-only reference trial.

    Sizes, hashes, columns and units are checked, and the readings are fitted again: what
    they do not give is refused. Nothing is stored of a package with anything wrong.
    """
    from beadworth.core import to_json
    from beadworth.workflow import import_package, read_package_files

    with progress("Checking"):
        files = read_package_files(source)
        name = source.name or source.resolve().name
        package, new = import_package(call.bench, files, name)
    head = "Imported" if new else "Here already"
    data = to_json(package.in_short()) | {"new": new}
    return Answer(data, [f"{head}: {package.name}, {_in_words(package)}"])


@command(app, "list", "package list")
def list_(call: Call) -> Answer:
    """List the imported packages."""
    from beadworth.workflow import imported_packages, unreadable_packages

    rows = [package.in_short() for package in imported_packages(call.bench)]
    unread = unreadable_packages(call.bench)
    table = Table.of(
        "Imported packages",
        rows,
        {
            "package": "package", "question": "question", "rigs": lambda row: "; ".join(row.rigs),
            "coupons": "coupons", "licence": "licence",
            "simulated": lambda row: "yes" if row.simulated else "no", "from": "source",
        },
    )  # fmt: skip
    faults = [f"{name} cannot be read by this release. {reason}" for name, reason in unread]
    data = {"packages": rows, "unreadable": [name for name, _ in unread]}
    return Answer(data, [table, *notes(faults)])


@command(app, "export", "package export how-fast-1 --out how-fast.zip --licence CC0-1.0")
def export(
    call: Call,
    trial: Annotated[
        str, typer.Argument(metavar="TRIAL", help="Trial id, or an imported package's digits.")
    ],
    out: Annotated[Path, typer.Option(help="Folder to write; a name ending in .zip gives a zip.")],
    licence: LicenceOption = None,
    creator: CreatorOption = "",
    notes: NotesOption = True,
    prices: PricesOption = True,
) -> Answer:
    """Write a trial as an open data package (Data Package standard).

    Look through it before you send it: it holds what you typed.
    """
    from beadworth.workflow import (
        DEFAULT_LICENCE,
        PublicationOptions,
        export_package,
        look_at_package,
        write_package_files,
    )

    options = PublicationOptions(licence or DEFAULT_LICENCE, creator, notes, prices)
    with progress("Writing"):
        seen = look_at_package(call.bench, trial, options)
        files = export_package(call.bench, trial, options)
    write_package_files(files, out)
    return Answer(
        {"out": str(out), "files": sorted(files), "look_at": seen},
        [*to_look_at(seen), f"Written: {out} ({len(files)} files)"],
    )


@command(app, "compare", "package compare how-fast-1 3f2a")
def compare(
    call: Call,
    trial: OwnTrialArgument,
    package: PackageArgument,
    rig: Annotated[str | None, typer.Option(help="Your rig, where the trial has two.")] = None,
    package_rig: Annotated[
        str | None, typer.Option(help="The package's rig, where it has two.")
    ] = None,
    loss: LossOption = None,
) -> Answer:
    """Compare a rig of yours (the candidate) with a package's (the baseline).

    Both are fitted from their readings by the same functions; materials may differ, and then
    the difference is of rig and material together.
    """
    from beadworth.workflow import compare_with_package

    with progress("Comparing"):
        found = compare_with_package(
            call.bench, trial, package, rig=rig, package_rig=package_rig, loss=loss
        )
    table = Table.of(
        f"{found.candidate} less {found.baseline}, mm³/s at {100 * found.loss:g} % loss",
        found.differences,
        {"°C": "temperature_c", "difference": tenths("difference_mm3_s"), "low": tenths("low"),
         "high": tenths("high"),
         "better with probability": "probability_better"},
    )  # fmt: skip
    return Answer(found, [table, found.sentence, *notes(found.notes)])


@command(app, "typical", "package typical how-fast-1")
def typical(call: Call, trial: OwnTrialArgument, loss: LossOption = None) -> Answer:
    """Compare a trial's ceilings with what is typical of their class of hot end.

    A class is a range of heated lengths and nozzle bores. Your other trials and the imported
    packages are pooled where three or more of a class are here; fewer cannot tell.
    """
    from beadworth.workflow import trial_typical

    with progress("Fitting"):
        found = trial_typical(call.bench, trial, loss)

    def describe() -> Iterator[str]:
        for pool in found.pools:
            yield pool.sentence
        for row in found.rows:
            one = row.low_mm3_s == row.high_mm3_s
            flow = f"{row.low_mm3_s:g}" if one else f"{row.low_mm3_s:g} to {row.high_mm3_s:g}"
            yield (
                f"Table: {row.zone or 'unstated'} melt zone, {row.nozzle_mm:g} mm, {row.polymer} "
                f"at {row.temperature_c:g} °C: {row.what} {flow} mm³/s ({row.source})."
            )
        yield from notes(found.notes)

    return Answer(found, describe())


def _in_words(package: ImportedPackage) -> str:
    row = package.in_short()
    simulated = "simulated, " if row.simulated else ""
    return f"{simulated}{row.coupons} coupons of {'; '.join(row.rigs)} ({row.licence})"
