"""``beadworth dossier``: publish a trial."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.output import BenchOption, JsonOption, emit_json, progress
from beadworth.cli.package import CreatorOption, LicenceOption, NotesOption, PricesOption
from beadworth.core import InputError, Problem

if TYPE_CHECKING:
    from beadworth.workflow import Part

app = typer.Typer(help="Dossier: the published account of a trial.")


@app.callback()
def dossier() -> None:
    """Keep ``publish`` a verb of its own."""


@app.command("publish")
def publish(
    trial: Annotated[str, typer.Argument(help="Trial id, as `trial list` shows it.")],
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
    loss: Annotated[
        float | None, typer.Option(help="Loss at which ceilings are read; left out: the trial's.")
    ] = None,
    bench: BenchOption = None,
    json: JsonOption = False,
) -> None:
    """Publish a trial or an upgrade: page, PDF, figures, data package.

    With none of them asked for, all are written (but the build-up). Talking points and the
    readings as CSV always come along. Licence, whom to cite and what is shown are those of the
    data package; the other files hold remarks and prices whatever is chosen for it. Read them
    before you send them: they hold what you typed, and who supplied the hardware.
    """
    from beadworth.datapackage import DEFAULT_LICENCE, Shown
    from beadworth.store import open_bench
    from beadworth.trial import write_readings_csv
    from beadworth.workflow import dossier_data, publish_dossier

    asked: dict[Part, bool] = {"html": html, "pdf": pdf, "figures": figures, "build-up": build_up,
                               "package": package}  # fmt: skip
    parts = {part for part, wanted in asked.items() if wanted}
    parts = (parts or set(asked) - {"build-up"}) | {"talking-points"}
    shown = Shown(licence or DEFAULT_LICENCE, creator, notes, prices)
    if "package" not in parts and shown != Shown():
        raise InputError(
            Problem(
                "licence, whom to cite and what is shown are those of the data package, and none "
                "was asked for.",
                where="dossier publish",
                remedy="Add --package, or leave them out; nothing was written.",
            )
        )
    with open_bench(bench) as store, progress("Gathering") as bar:
        task = bar.task_ids[0]
        data = dossier_data(store, trial, loss)
        readings = write_readings_csv(store.current_readings(trial))
        written = publish_dossier(
            data, trial, out, parts, shown=shown,
            tell=lambda what, done, total: bar.update(
                task, description=f"Writing {what}", completed=done, total=total
            ),
        )  # fmt: skip
    file = out / f"{trial}-readings.csv"
    file.write_text(readings, encoding="utf-8")
    written["readings"] = [file]
    if json:
        emit_json(
            {part: str(files[0]) if len(files) == 1 else [str(file) for file in files]
             for part, files in written.items()}
        )  # fmt: skip
        return
    for files in written.values():
        many = f" ({len(files)} files)" if len(files) > 1 else ""
        typer.echo(f"Written: {files[0].parent if many else files[0]}{many}")
