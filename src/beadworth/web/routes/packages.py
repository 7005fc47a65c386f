"""Data packages of others: brought in, looked at, held against one's own trials."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, FitError, InputError
from beadworth.report import (
    ceiling_chart,
    ceiling_words,
    classes_of,
    comparison_chart,
    forest_chart,
    forests,
    typical_chart,
)
from beadworth.web.figures import Figure, figure
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, see_other
from beadworth.web.routes.parts import show
from beadworth.workflow import (
    LICENCES,
    TABLE,
    Bench,
    ImportedPackage,
    class_of,
    compare_with_package,
    export_package,
    find_package,
    import_package,
    imported_packages,
    package_fit,
    package_rig_label,
    trial_typical,
    unreadable_packages,
    unzip,
    zip_bytes,
)

router = APIRouter(include_in_schema=False)
NameOf = Annotated[str, Query(max_length=200)]


@dataclass(frozen=True)
class Own:
    """A rig of one of the user's trials that has a curve."""

    key: str
    words: str
    trial: str
    rig: str


@router.get("/packages")
def package_list(request: Request, bench: BenchOf) -> Response:
    """What was brought in, a place to bring another, and the table of typical flows."""
    return _list_page(request, bench)


def _list_page(request: Request, bench: Bench, error: BeadworthError | None = None) -> Response:
    context = {
        "packages": imported_packages(bench),
        "unread": unreadable_packages(bench),
        "problems": error.problems if error else (),
        "table": TABLE,
    }
    return page(request, "packages.html", context, status_of(error) if error else 200)


@router.post("/packages")
def take(request: Request, bench: BenchOf, form: FormOf) -> Response:
    """A zip given by the form; refused whole with every reason, or kept."""
    upload = form.get("file")
    try:
        if not isinstance(upload, UploadFile) or not upload.filename:
            raise InputError("no file was chosen.", "file", remedy="Choose the package's zip.")
        data, name = upload.file.read(), upload.filename
        package, _ = import_package(bench, unzip(data, name), name)
    except InputError as error:
        return _list_page(request, bench, error)
    return see_other(f"/packages/{package.name}")


@router.get("/packages/{name}")
def package_page(
    request: Request,
    bench: BenchOf,
    name: str,
    own: NameOf = "",
    rig: NameOf = "",
) -> Response:
    """One package: what it holds, under which licence, and one's own rig against it."""
    package = find_package(bench, name)
    contents = package.contents
    fit = package_fit(package)
    choices = own_rigs(bench)
    fitted = dict.fromkeys(group.rig for group in fit.groups)
    known = [r.name for r in contents.rigs if r.name in fitted]
    theirs = list(dict.fromkeys([*known, *fitted]))
    classes = [(r.name, str(class_of(r) or "not stated")) for r in contents.rigs]
    context: dict[str, Any] = {
        "package": package,
        "contents": contents,
        "licence": LICENCES[contents.licence],
        "ceilings": fit.ceilings,
        "ceiling_words": ceiling_words,
        "classes": classes,
        "figure_of_ceilings": _ceilings(package),
        "own_rigs": choices,
        "their_rigs": theirs,
        "chosen": own or next((o.key for o in choices), ""),
        "rig": rig if rig in theirs else theirs[-1],
        "found": None,
        "refused": (),
    }
    status = 200
    if own:
        try:
            context |= _compared(bench, package, choices, own, context["rig"])
        except (FitError, InputError) as error:
            context["refused"], status = error.problems, status_of(error)
    return page(request, "package.html", context, status)


def own_rigs(bench: Bench) -> list[Own]:
    """Every rig of every trial that has readings, newest trial first."""
    made = []
    for trial in bench.outlines():
        for rig in trial.weighed:
            made.append(Own(f"{trial.id}|{rig}", f"{rig}: {trial.question}", trial.id, rig))
    return made


def _ceilings(package: ImportedPackage) -> Figure | None:
    read = [c for c in package.contents.ceilings if c.basis == "readings"]
    law = [c for c in package.contents.ceilings if c.basis == "law"]
    if len({c.temperature_c for c in read}) < 2:
        return None
    there = dict.fromkeys(c.rig for c in read)
    known = [rig.name for rig in package.contents.rigs if rig.name in there]
    rigs = list(dict.fromkeys([*known, *there]))
    return figure(ceiling_chart(read, law, rigs=rigs))


def _compared(
    bench: Bench, package: ImportedPackage, choices: list[Own], own: str, rig: str
) -> dict[str, Any]:
    mine = next((o for o in choices if o.key == own), None)
    if mine is None:
        raise InputError(
            "this is no rig of a trial of yours.", "own rig", own, "Choose one listed."
        )
    found = compare_with_package(bench, mine.trial, package.name, rig=mine.rig, package_rig=rig)
    drawn = figure(
        comparison_chart(
            found.differences, baseline=package_rig_label(package, rig), candidate=mine.rig
        )
    )
    return {"found": found, "difference_figure": drawn}


@router.get("/trials/{trial}/typical")
def typical(request: Request, bench: BenchOf, trial: str) -> Response:
    """A trial's ceilings beside what is typical of their class."""
    with bench.reading():
        snapshot = bench.snapshot(trial)
        found = trial_typical(bench, snapshot)
    figures = [
        figure(typical_chart(found, hot_end, polymer)) for hot_end, polymer in classes_of(found)
    ]
    figures += [figure(forest_chart(pool)) for pool in forests(found)]
    context = {"found": found, "figures": figures}
    return show(request, snapshot.record, "part_typical.html", "What is typical", context)


@router.get("/packages/{name}/file")
def package_file(bench: BenchOf, name: str) -> Response:
    """The package as a zip, to hand on under its own licence."""
    package = find_package(bench, name)
    return download(
        zip_bytes(export_package(bench, package.name)), f"{package.name}.zip", "application/zip"
    )
