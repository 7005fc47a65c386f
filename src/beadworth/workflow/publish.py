"""A whole publication into a folder: page, PDF, figures, open data, talking points, readings."""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from beadworth.core import InputError, make_folder, write_file, written_whole
from beadworth.datapackage import (
    DEFAULT_LICENCE,
    LICENCES,
    PublicationOptions,
    check_licence,
    without_prices,
)

if TYPE_CHECKING:
    from beadworth.report import ReportData
    from beadworth.store import Bench
    from beadworth.trial import Reading

__all__ = [
    "DEFAULT_LICENCE",
    "LICENCES",
    "PARTS",
    "Part",
    "PublicationOptions",
    "check_licence",
    "export_package",
    "publish_dossier",
    "publish_trial",
    "shown_data",
    "shown_readings",
    "zip_folder",
]
Part = Literal["html", "pdf", "figures", "build-up", "package", "talking-points"]
PARTS: tuple[Part, ...] = get_args(Part)
Tell = Callable[[str, int, int], None]
"""Told what is being made, and how much of how much is done."""


def shown_data(data: ReportData, options: PublicationOptions) -> ReportData:
    """What of a trial page, PDF, figures and talking points show under some options."""
    from beadworth.capacity import Span

    hidden = {key for key in ("wear", "replays") if not getattr(options, key)}
    sections = {key: one for key, one in data.section_data.items() if key not in hidden}
    if not options.notes:
        if lives := sections.get("live"):
            sections["live"] = tuple(replace(one, note="") for one in lives)
        entries = (
            replace(one, reason="", reading=replace(one.reading, note=None)) for one in data.entries
        )
        data = replace(data, entries=tuple(entries))
    if not options.prices:
        sections.pop("worth", None)
        if fit := sections.get("fit"):
            checks = tuple(check for check in fit.checks if check.name != "price")
            sections["fit"] = replace(fit, checks=checks)
        data = replace(
            data,
            rigs=tuple(without_prices(rig) for rig in data.rigs),
            differences=tuple(
                replace(one, money_per_mm3_s=Span(None, None, None)) for one in data.differences
            ),
        )
    return replace(data, section_data=sections)


def shown_readings(readings: Iterable[Reading], options: PublicationOptions) -> list[Reading]:
    """The readings as a table shows them under some options."""
    return [one if options.notes else replace(one, note=None) for one in readings]


def publish_dossier(
    data: ReportData,
    name: str,
    folder: Path,
    parts: Collection[Part],
    *,
    options: PublicationOptions | None = None,
    tell: Tell | None = None,
) -> dict[str, list[Path]]:
    """Write what was asked for.

    Parameters
    ----------
    data : ReportData
    name : str
        How the files are called: the trial's id.
    folder : Path
        Made where it is not there; files of the same names are written over.
    parts : collection of Part
        ``build-up`` goes with ``figures``.
    options : PublicationOptions, optional
        What is shown, in every part; licence and whom to cite are those of the data package.
    tell : callable, optional

    Returns
    -------
    dict of str to list of Path
        The files of each part.

    Raises
    ------
    InputError
        A licence not known here, before anything is written.
    """
    options = options or PublicationOptions()
    if "package" in parts:
        check_licence(options.licence)
    data = shown_data(data, options)

    def said(what: str, done: int = 0, total: int = 1) -> None:
        if tell:
            tell(what, done, total)

    make_folder(folder)
    written: dict[str, list[Path]] = {}

    def keep(part: str, ending: str, content: bytes) -> None:
        file = folder / f"{name}{ending}"
        write_file(file, content)
        written[part] = [file]

    if "html" in parts:
        from beadworth.report import dossier_html

        said("page")
        keep("html", ".html", dossier_html(data).encode("utf-8"))
    if "pdf" in parts:
        from beadworth.report import dossier_pdf

        said("PDF")
        keep("pdf", ".pdf", dossier_pdf(data))
    if "talking-points" in parts:
        from beadworth.report import talking_points

        keep("talking-points", "-talking-points.md", talking_points(data).encode("utf-8"))
    if "package" in parts:
        from beadworth.datapackage import package_files

        said("data package")
        home = folder / f"{name}-data"
        written["package"] = []
        for inner, content in package_files(data, options).items():
            file = home / inner
            make_folder(file.parent)
            write_file(file, content)
            written["package"].append(file)
    if "figures" in parts or "build-up" in parts:
        from beadworth.report import write_figures

        written["figures"] = write_figures(
            data,
            folder / f"{name}-figures",
            build_up="build-up" in parts,
            tell=lambda done, total: said("figures", done, total),
        )
    said("done", 1, 1)
    return written


_NO_DATE = (1980, 1, 1, 0, 0, 0)


def zip_folder(folder: Path, file: Path) -> None:
    """Everything in a folder as a zip, one file at a time, with no dates of its own."""
    with written_whole(file) as part, zipfile.ZipFile(part, "w") as made:
        for inner in sorted(path for path in folder.rglob("*") if path.is_file()):
            entry = zipfile.ZipInfo(inner.relative_to(folder).as_posix(), _NO_DATE)
            # pictures are packed already
            packed = inner.suffix in {".png", ".pdf", ".jpg"}
            entry.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            with inner.open("rb") as source, made.open(entry, "w") as sink:
                shutil.copyfileobj(source, sink, 1 << 20)


def publish_trial(
    bench: Bench,
    trial: str,
    parts: Collection[Part],
    options: PublicationOptions,
    file: Path,
    tell: Tell | None = None,
) -> Path:
    """Publish a trial of the bench into a zip, its readings as CSV among the files."""
    from beadworth.trial import write_readings_csv
    from beadworth.workflow.report import report_data

    inside = file.with_suffix("")
    publish_dossier(report_data(bench, trial), trial, inside, parts, options=options, tell=tell)
    readings = write_readings_csv(shown_readings(bench.current_readings(trial), options))
    write_file(inside / f"{trial}-readings.csv", readings)
    zip_folder(inside, file)
    return file


def export_package(
    bench: Bench, name: str, options: PublicationOptions | None = None
) -> dict[str, bytes]:
    """The package of a trial on the bench, or of an imported one as it came.

    Raises
    ------
    NotFoundError
        Neither a trial nor a package of that name.
    InputError
        A choice of what to show for a package that is somebody else's.
    """
    from beadworth.datapackage import package_files, write_package
    from beadworth.workflow.packages import find_package, imported_packages
    from beadworth.workflow.report import report_data

    trials = {record.id for record in bench.outlines()}
    if name in trials or not any(
        p.digest.startswith(name.lower()) for p in imported_packages(bench)
    ):
        return package_files(report_data(bench, name), options)
    if options is not None and options != PublicationOptions():
        raise InputError(
            "an imported package keeps the licence and words of whoever made it.",
            f"package {name}",
            None,
            "Export it without options.",
        )
    return write_package(find_package(bench, name).contents)
