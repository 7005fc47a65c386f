"""Data packages as JSON, and as the zips they are."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from beadworth.web.routes.api_common import (
    FILE,
    LossOf,
    answer,
    reads,
    refusals,
    writes,
)
from beadworth.web.routes.common import BenchOf, download
from beadworth.workflow import (
    DEFAULT_LICENCE,
    Comparison,
    FitDocument,
    Packages,
    PublicationOptions,
    StoredPackage,
    compare_with_package,
    export_package,
    find_package,
    fit_document,
    import_package,
    imported_packages,
    package_fit,
    unzip,
    zip_bytes,
)

router = APIRouter(prefix="/api", tags=["packages"])
ZIP: dict[int | str, dict[str, Any]] = {
    200: {"content": {"application/zip": {"schema": {"type": "string", "format": "binary"}}}}
}


@router.get(
    "/packages", **reads(Packages, "The imported data packages") | {"responses": refusals()}
)
def package_list(bench: BenchOf) -> Response:
    """As the command ``package list --json``."""
    return answer(Packages(tuple(package.in_short() for package in imported_packages(bench))))


@router.post(
    "/packages",
    **writes(StoredPackage, "Import a zipped data package, up to 4 MB", FILE, 403, 413, 422,
             created=True),
)  # fmt: skip
async def take(
    request: Request,
    bench: BenchOf,
    name: Annotated[str, Query(min_length=1, max_length=120, description="file name")],
) -> Response:
    """Stored whole or, with every reason, not at all."""
    data = await request.body()

    def store() -> StoredPackage:
        package, new = import_package(bench, unzip(data, name), name)
        return StoredPackage(package.in_short(), new)

    return answer(await run_in_threadpool(store), 201)


@router.get(
    "/packages/{package}/fit",
    **reads(FitDocument, "Ceilings with their intervals, fitted from a package's readings"),
)
def fit(bench: BenchOf, package: str, loss: LossOf = None) -> Response:
    """In the shape of a trial's own fit."""
    return answer(fit_document(package_fit(find_package(bench, package), loss)))


@router.get(
    "/packages/{package}/compare",
    **reads(Comparison, "What a rig of one's own trial delivers beyond a package's rig"),
)
def compare(
    bench: BenchOf,
    package: str,
    trial: Annotated[str, Query(description="your own trial")],
    rig: Annotated[str | None, Query(description="your rig; left out: the candidate")] = None,
    package_rig: Annotated[str | None, Query(description="left out: its candidate")] = None,
    loss: LossOf = None,
) -> Response:
    """As the command ``package compare --json``."""
    return answer(
        compare_with_package(bench, trial, package, rig=rig, package_rig=package_rig, loss=loss)
    )


@router.get(
    "/packages/{package}/file",
    summary="A package as the zip it is",
    response_class=Response,
    responses=refusals(404, 422) | ZIP,
)
def package_file(bench: BenchOf, package: str) -> Response:
    """Under its own licence."""
    found = find_package(bench, package)
    return download(
        zip_bytes(export_package(bench, found.name)), f"{found.name}.zip", "application/zip"
    )


@router.get(
    "/trials/{trial}/package",
    summary="A trial as an open data package, zipped",
    response_class=Response,
    responses=refusals(404, 422) | ZIP,
)
def trial_package(
    bench: BenchOf,
    trial: str,
    licence: Annotated[str, Query(description="SPDX identifier")] = DEFAULT_LICENCE,
    creator: Annotated[str, Query(max_length=300, description="whom to cite")] = "",
    notes: Annotated[bool, Query(description="show what was typed as a remark")] = True,
    prices: Annotated[bool, Query(description="show prices")] = True,
) -> Response:
    """As the command ``package export``."""
    bench.trial(trial)
    files = export_package(bench, trial, PublicationOptions(licence, creator, notes, prices))
    return download(zip_bytes(files), f"{trial}.zip", "application/zip")
