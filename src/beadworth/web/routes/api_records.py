"""Rigs and materials as JSON."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from fastapi import APIRouter
from pydantic import BaseModel
from starlette.responses import Response

from beadworth.core import Record, from_mapping, to_mapping
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.store import Bench
from beadworth.web.routes.api_common import READS, WRITES, BodyOf, answer, refusals, takes
from beadworth.web.routes.common import BenchOf


class Rigs(BaseModel):
    """Every rig on the bench, in its present version."""

    rigs: list[Rig]


class Materials(BaseModel):
    """Every material on the bench, in its present version."""

    materials: list[Material]


def record_routes(
    noun: str,
    plural: str,
    kind: type[Record],
    all_: type[BaseModel],
    *,
    save: Callable[[Bench, Any], None],
    one: Callable[[Bench, str], Any],
    every: Callable[[Bench], Sequence[Any]],
) -> APIRouter:
    """List, read, and save one kind of record."""
    router = APIRouter(prefix="/api", tags=[plural])

    @router.get(
        f"/{plural}",
        summary=f"Every {noun} on the bench",
        response_model=all_,
        responses=refusals(),
    )
    def records(bench: BenchOf) -> Response:
        return answer({plural: [to_mapping(record) for record in every(bench)]})

    @router.post(
        f"/{plural}",
        summary=f"Put a {noun} on the bench, or a new version of one there",
        status_code=201,
        response_model=kind,
        responses=WRITES,
        openapi_extra=takes(kind.__name__),
    )
    def put(bench: BenchOf, body: BodyOf) -> Response:
        record = from_mapping(kind, body, noun)
        save(bench, record)
        return answer(to_mapping(record), 201)

    @router.get(
        f"/{plural}/{{name:path}}",
        summary=f"One {noun}, in its present version",
        response_model=kind,
        responses=READS,
    )
    def by_name(bench: BenchOf, name: str) -> Response:
        return answer(to_mapping(one(bench, name)))

    return router


router = APIRouter()
router.include_router(
    record_routes("rig", "rigs", Rig, Rigs, save=Bench.save_rig, one=Bench.rig, every=Bench.rigs)
)
router.include_router(
    record_routes(
        "material",
        "materials",
        Material,
        Materials,
        save=Bench.save_material,
        one=Bench.material,
        every=Bench.materials,
    )
)
