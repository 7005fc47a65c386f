"""Data packages as JSON, and as the zips they are."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from beadworth.capacity import fit_to_json
from beadworth.datapackage import DEFAULT_LICENCE, Shown, unzip, zip_bytes
from beadworth.web.routes import api_shapes as shapes
from beadworth.web.routes.api_common import READS, TAKES_FILE, LossOf, answer, refusals
from beadworth.web.routes.common import BenchOf, download
from beadworth.workflow import (
    compare_with_package,
    export_package,
    find_package,
    import_package,
    imported_packages,
    package_fit,
    trial_typical,
)

router = APIRouter(prefix="/api", tags=["packages"])
ZIP: dict[int | str, dict[str, Any]] = {
    200: {"content": {"application/zip": {"schema": {"type": "string", "format": "binary"}}}}
}


class PackageShape(BaseModel):
    """A package on the bench, in short."""

    package: str = Field(description="first digits of its digest: its name here")
    digest: str = Field(description="SHA-256, hex, of everything but the date")
    question: str
    rigs: list[str]
    materials: list[str]
    temperatures_c: list[float]
    coupons: int
    licence: str = Field(description="SPDX identifier")
    creator: str | None
    published: str
    simulated: bool
    source: str
    imported_at: str


class TakenShape(PackageShape):
    """A package just given."""

    new: bool = Field(description="false where it was here already")


class PackagesShape(BaseModel):
    """Every imported package, oldest first."""

    packages: list[PackageShape]


class TypicalShape(BaseModel):
    """A trial's ceilings beside what is typical of their class."""

    model_config = ConfigDict(extra="allow")
    own: list[dict[str, Any]]
    others: list[dict[str, Any]]
    rows: list[dict[str, Any]] = Field(description="of the built-in table, each with its source")
    pools: list[dict[str, Any]]
    notes: list[str]


@router.get(
    "/packages",
    summary="The data packages brought in",
    response_model=PackagesShape,
    responses=refusals(),
)
def package_list(bench: BenchOf) -> Response:
    """As the command ``package list --json``."""
    return answer({"packages": [package.in_short() for package in imported_packages(bench)]})


@router.post(
    "/packages",
    summary="Bring in a zipped data package, up to 4 MB",
    status_code=201,
    response_model=TakenShape,
    responses=refusals(403, 413, 422),
    openapi_extra=TAKES_FILE,
)
async def take(
    request: Request,
    bench: BenchOf,
    name: Annotated[str, Query(min_length=1, max_length=120, description="file name")],
) -> Response:
    """Kept whole or, with every reason, not at all."""
    data = await request.body()

    def keep() -> dict[str, Any]:
        package, new = import_package(bench, unzip(data, name), name)
        return package.in_short() | {"new": new}

    return answer(await run_in_threadpool(keep), 201)


@router.get(
    "/packages/{package}/fit",
    summary="Ceilings with their intervals, fitted from a package's readings",
    response_model=shapes.FitShape,
    responses=READS,
)
def fit(bench: BenchOf, package: str, loss: LossOf = None) -> Response:
    """In the shape of a trial's own fit."""
    return answer(fit_to_json(package_fit(find_package(bench, package), loss)))


@router.get(
    "/packages/{package}/compare",
    summary="What a rig of one's own trial delivers beyond a package's rig",
    response_model=shapes.CompareShape,
    responses=READS,
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
    found = compare_with_package(bench, trial, package, rig=rig, package_rig=package_rig, loss=loss)
    return answer(asdict(found))


@router.get(
    "/packages/{package}/file",
    summary="A package as the zip it is",
    response_class=Response,
    responses=READS | ZIP,
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
    responses=READS | ZIP,
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
    files = export_package(bench, trial, Shown(licence, creator, notes, prices))
    return download(zip_bytes(files), f"{trial}.zip", "application/zip")


@router.get(
    "/trials/{trial}/typical",
    summary="A trial's ceilings beside what is typical of their class of hot end",
    response_model=TypicalShape,
    responses=READS,
)
def typical(bench: BenchOf, trial: str, loss: LossOf = None) -> Response:
    """As the command ``package typical --json``."""
    return answer(asdict(trial_typical(bench, trial, loss)))
