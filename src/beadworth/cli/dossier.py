"""``beadworth dossier``: publish a trial."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.command import Answer, Call, command, progress, to_look_at
from beadworth.cli.options import (
    CreatorOption,
    LicenceOption,
    LossOption,
    NotesOption,
    PricesOption,
    TrialArgument,
)
from beadworth.core import InputError, write_file

if TYPE_CHECKING:
    from beadworth.workflow import Part

app = typer.Typer(help="Publish a trial: page, PDF, figures, open data.")


@app.callback()
def dossier() -> None:
    """Keep ``publish`` a verb of its own."""


@command(
    app,
    "publish",
    "dossier publish how-fast-1 --out published",
    "dossier publish how-fast-1 --out published --package --licence CC0-1.0",
)
def publish(
    call: Call,
    trial: TrialArgument,
    out: Annotated[Path, typer.Option(help="Folder to write into.")],
    html: Annotated[
        bool, typer.Option("--html", help="The page, one self-contained file.")
    ] = False,
    pdf: Annotated[bool, typer.Option("--pdf", help="The same typeset, A4.")] = False,
    figures: Annotated[
        bool, typer.Option("--figures", help="Every chart for video and posts, in four sizes.")
    ] = False,
    build_up: Annotated[
        bool,
        typer.Option("--build-up", help="Figures, and each as 25 pictures in which marks appear."),
    ] = False,
    package: Annotated[bool, typer.Option("--package", help="The open data package.")] = False,
    licence: LicenceOption = None,
    creator: CreatorOption = "",
    notes: NotesOption = True,
    prices: PricesOption = True,
    wear: Annotated[bool, typer.Option("--wear", help="Show the rigs' wear logs.")] = False,
    replays: Annotated[
        bool, typer.Option("--replays", help="Show what replays said of your prints.")
    ] = False,
    loss: LossOption = None,
) -> Answer:
    """Publish a trial or an upgrade: page, PDF, figures, data package.

    With none of them asked for, all are written (but the build-up). Talking points and the
    readings as CSV always come along. What is shown holds for every file; licence and whom to
    cite are those of the data package. Read them before you send them: they hold what you typed,
    and who supplied the hardware. What looks like a path, an e-mail address, a phone
    number or an address in a network is named, and nothing is changed.
    """
    from beadworth.trial import write_readings_csv
    from beadworth.workflow import (
        DEFAULT_LICENCE,
        PublicationOptions,
        look_at,
        publish_dossier,
        report_data,
        shown_readings,
    )

    chosen: dict[Part, bool] = {"html": html, "pdf": pdf, "figures": figures,
                                "build-up": build_up, "package": package}  # fmt: skip
    parts = {part for part, wanted in chosen.items() if wanted}
    parts = (parts or set(chosen) - {"build-up"}) | {"talking-points"}
    options = PublicationOptions(
        licence or DEFAULT_LICENCE, creator, notes, prices, wear, replays
    )  # fmt: skip
    if "package" not in parts and (licence is not None or creator):
        raise InputError(
            "licence and whom to cite are those of the data package, and none was asked for.",
            where="dossier publish",
            remedy="Add --package, or leave them out; nothing was written.",
        )
    with progress("Gathering") as show:
        data = report_data(call.bench, trial, loss)
        seen = look_at(data, options, parts)
        weighed = shown_readings(call.bench.current_readings(trial), options)
        readings = write_readings_csv(weighed)
        made = publish_dossier(
            data, trial, out, parts, options=options,
            tell=lambda what, done, total: show(
                description=f"Writing {what}", completed=done, total=total
            ),
        )  # fmt: skip
    file = out / f"{trial}-readings.csv"
    write_file(file, readings)
    made["readings"] = [file]

    def describe() -> Iterator[str]:
        yield from to_look_at(seen)
        for files in made.values():
            many = f" ({len(files)} files)" if len(files) > 1 else ""
            yield f"Written: {files[0].parent if many else files[0]}{many}"

    data_written: dict[str, object] = {
        part: str(files[0]) if len(files) == 1 else [str(file) for file in files]
        for part, files in made.items()
    }
    return Answer(data_written | {"look_at": seen}, describe())
