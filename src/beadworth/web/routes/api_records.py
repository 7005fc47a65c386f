"""Rigs and materials as JSON."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from fastapi import APIRouter
from starlette.responses import Response

from beadworth.core import Record, from_mapping
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.web.routes.api_common import BodyOf, answer, reads, refusals, writes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import Bench, Materials, Rigs


def record_routes(
    noun: str,
    kind: type[Record],
    everything: Any,
    *,
    save: Callable[[Bench, Any], None],
    one: Callable[[Bench, str], Any],
    every: Callable[[Bench], Sequence[Any]],
) -> APIRouter:
    """List, read, and save one kind of record."""
    router = APIRouter(prefix="/api", tags=[f"{noun}s"])

    @router.get(
        f"/{noun}s", **reads(everything, f"Every {noun} on the bench") | {"responses": refusals()}
    )
    def records(bench: BenchOf) -> Response:
        return answer(everything(tuple(every(bench))))

    @router.post(
        f"/{noun}s",
        **writes(kind, f"Put a {noun} on the bench, or a new version of one there", kind,
                 created=True),
    )  # fmt: skip
    def put(bench: BenchOf, body: BodyOf) -> Response:
        record = from_mapping(kind, body, noun)
        save(bench, record)
        return answer(record, 201)

    @router.get(f"/{noun}s/{{name:path}}", **reads(kind, f"One {noun}, in its present version"))
    def by_name(bench: BenchOf, name: str) -> Response:
        return answer(one(bench, name))

    return router


router = APIRouter()
for _routes in (
    record_routes("rig", Rig, Rigs, save=Bench.save_rig, one=Bench.rig, every=Bench.rigs),
    record_routes(
        "material", Material, Materials, save=Bench.save_material, one=Bench.material,
        every=Bench.materials,
    ),
):  # fmt: skip
    router.include_router(_routes)
