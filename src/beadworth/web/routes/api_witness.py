"""Witness prints as JSON: the same data as ``witness`` with ``--json``."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from beadworth.core import from_mapping
from beadworth.web.routes.api_bodies import WitnessOrder
from beadworth.web.routes.api_common import BodyOf, answer, reads, writes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    LookSheet,
    StoredEntry,
    WitnessList,
    WitnessView,
    add_look,
    find_material,
    open_codes,
    plan_witness,
    store_witness,
    stored_witness,
    stored_witnesses,
    witness_view,
)

router = APIRouter(prefix="/api", tags=["witness"])


@router.get("/witness", **reads(WitnessList, "The witness prints on the bench"))
def witnesses(bench: BenchOf) -> Response:
    """Settings and answers of those whose codes are open."""
    return answer(WitnessList(tuple(witness_view(one) for one in stored_witnesses(bench))))


@router.post(
    "/witness",
    **writes(WitnessView, "Record a witness print, replayed first", WitnessOrder, created=True),
)
def record(bench: BenchOf, body: BodyOf) -> Response:
    """As the command ``witness program … --keep --json``; its program is a page's to download."""
    order = from_mapping(WitnessOrder, body, "witness")
    rig, material = bench.rig(order.rig), find_material(bench, order.material)
    made = plan_witness(rig, material, order.spec.model_dump())
    stored = store_witness(bench, made, rig, material, order.graders, order.looks)
    return answer(witness_view(stored), 201)


@router.get("/witness/{number}", **reads(WitnessView, "One witness print"))
def one(bench: BenchOf, number: int) -> Response:
    """As the command ``witness read --json``."""
    return answer(witness_view(stored_witness(bench, number)))


@router.post(
    "/witness/{number}/looks",
    **writes(StoredEntry[LookSheet], "Enter one look of one grader", LookSheet, created=True),
)
def look(bench: BenchOf, number: int, body: BodyOf) -> Response:
    """As the command ``witness grade --json``, without photos; whole, while codes are closed."""
    return answer(add_look(bench, number, body), 201)


@router.post("/witness/{number}/open", **writes(WitnessView, "Open the codes"))
def open_(bench: BenchOf, number: int) -> Response:
    """As the command ``witness open --json``: once every planned look is in."""
    return answer(witness_view(open_codes(bench, number)))
