"""Witness prints: choose a question, see the print, grade it blind, open the codes, read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import (
    BeadworthError,
    InputError,
    NotFoundError,
    Place,
    from_mapping,
    to_mapping,
)
from beadworth.material import Material
from beadworth.report import threshold_charts
from beadworth.rig import Rig
from beadworth.text import parse_number, slug, whole_number
from beadworth.web.fields_witness import KIND, witness_groups
from beadworth.web.figures import figure
from beadworth.web.forms import Form, Group, collect, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, see_other
from beadworth.workflow import (
    CRITERIA,
    SUBJECTS,
    WITNESS_QUESTIONS,
    Bench,
    StoredWitness,
    Witness,
    add_look,
    comparable_witnesses,
    compare_witnesses,
    describe_settings,
    find_material,
    grading_forecast,
    journal_of_witness,
    key_of,
    looking_order,
    open_codes,
    plan_witness,
    reference_picture,
    store_witness,
    stored_witness,
    stored_witnesses,
    witness_answer,
    witness_map,
)

router = APIRouter(include_in_schema=False)
PHOTOS = range(1, 5)
NO_GRADE = "none"


@lru_cache(maxsize=8)
def _made(rig: str, material: str, asked: tuple[tuple[str, Any], ...]) -> Witness:
    """A witness for records as JSON: drawn once for page, map and record."""
    records = (
        from_mapping(Rig, json.loads(rig), "rig"),
        from_mapping(Material, json.loads(material), "material"),
    )
    return plan_witness(*records, dict(asked))


def _key(record: Rig | Material) -> str:
    return json.dumps(to_mapping(record), sort_keys=True)


def _hashable(data: Mapping[str, Any]) -> tuple[tuple[str, Any], ...]:
    return tuple(
        (name, tuple(value) if isinstance(value, list) else value)
        for name, value in sorted(data.items())
    )


def _asked(
    bench: Bench, groups: tuple[Group, ...], typed: dict[str, str]
) -> tuple[Witness, Rig, Material]:
    data = collect((KIND, *groups), typed)
    rig, material = data.pop("rig", None), data.pop("material", None)
    if not rig or not material:
        raise InputError("choose a rig and a material.", Place.of_field("witness", "rig"))
    record, polymer = bench.rig(str(rig)), find_material(bench, str(material))
    made = _made(_key(record), _key(polymer), _hashable(data))
    return made, record, polymer


@router.get("/witness")
def witness_page(request: Request, bench: BenchOf) -> Response:
    """The question, the print as it would be, and those that are recorded."""
    groups = witness_groups(bench)
    asked = "kind" in request.query_params
    form, made, status = Form(typed_in((KIND, *groups), request.query_params)), None, 200
    if asked:
        try:
            made, _, _ = _asked(bench, groups, form.typed)
        except NotFoundError:
            raise
        except BeadworthError as error:
            form, status = refused(groups, form.typed, error), status_of(error)
    context = {
        "groups": groups,
        "form": form,
        "made": made,
        "query": urlencode(form.typed),
        "asks": WITNESS_QUESTIONS,
        "map_alt": witness_map(made)[1] if made else "",
        "wide": grading_forecast(made) if made else "",
        "stored": list(reversed(stored_witnesses(bench))),
    }
    return page(request, "witness.html", context, status)


@router.get("/witness/map.svg")
def preview_map(request: Request, bench: BenchOf) -> Response:
    """The map of a witness that is not recorded yet."""
    groups = witness_groups(bench)
    made, _, _ = _asked(bench, groups, typed_in((KIND, *groups), request.query_params))
    return Response(witness_map(made)[0], media_type="image/svg+xml")


@router.post("/witness")
def record(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """Record the print with its rig; then its page."""
    groups = witness_groups(bench)
    made, rig, material = _asked(bench, groups, typed_in((KIND, *groups), sent))
    graders, looks = (_whole(sent, name) for name in ("graders", "looks"))
    stored = store_witness(bench, made, rig, material, graders, looks)
    return see_other(f"/witness/{stored.number}")


def _whole(sent: Mapping[str, Any], name: str) -> int:
    text = str(sent.get(name, ""))
    if (number := whole_number(text, digits=3)) is None:
        raise InputError(f"{text!r} is no whole number.", name, text, "Give a number like 2.")
    return number


@router.get("/witness/{number}")
def one_witness(request: Request, bench: BenchOf, number: int) -> Response:
    """One print: program and map, its looks, and what they say once the codes are open."""
    return _show(request, bench, stored_witness(bench, number))


@router.get("/witness/{number}/map.svg")
def stored_map(bench: BenchOf, number: int) -> Response:
    """The map; with settings once the codes are open."""
    found = stored_witness(bench, number)
    return Response(found.map_svg, media_type="image/svg+xml")


@router.get("/witness/{number}/program")
def stored_program(bench: BenchOf, number: int) -> Response:
    """The program as it was recorded."""
    found = stored_witness(bench, number)
    name = f"witness-{number}-{slug(found.spec.kind, 'witness')}.gcode"
    return download(found.program, name, "text/x.gcode")


@router.get("/witness/{number}/grade")
def grade_page(request: Request, bench: BenchOf, number: int) -> Response:
    """One look of one grader, bands in an order of its own; for phone and desk."""
    found = stored_witness(bench, number)
    if found.opened:
        return see_other(f"/witness/{number}")
    grader = request.query_params.get("grader", "")
    return _grade(request, found, grader.strip(), request.query_params.get("look", "1"), {})


@router.post("/witness/{number}/grade")
def enter(request: Request, bench: BenchOf, number: int, sent: FormOf) -> Response:
    """Enter a look; as typed again with what is missing, where it is not whole."""
    found = stored_witness(bench, number)
    typed = {name: value for name, value in sent.items() if isinstance(value, str)}
    try:
        add_look(bench, number, _sheet(found, typed), _photos(sent))
    except NotFoundError:
        raise
    except BeadworthError as error:
        return _grade(request, found, typed.get("grader", ""), typed.get("look", "1"), typed, error)
    return see_other(f"/witness/{number}?entered=1")


@router.post("/witness/{number}/open")
def open_(request: Request, bench: BenchOf, number: int) -> Response:
    """Open the codes."""
    try:
        open_codes(bench, number)
    except NotFoundError:
        raise
    except BeadworthError as error:
        return _show(request, bench, stored_witness(bench, number), error)
    return see_other(f"/witness/{number}#read")


@router.post("/witness/{number}/journal")
def into_journal(bench: BenchOf, number: int) -> Response:
    """Put what it says into the rig's journal."""
    found = stored_witness(bench, number)
    made = journal_of_witness(bench, found)
    return see_other(f"/journal/{quote(found.rig)}?done=added#page-{made.id}")


def _whole_or_text(text: str) -> int | str:
    """What was sent as a whole number; what is none stays as it is, for the sheet to refuse."""
    number = whole_number(text)
    return text if number is None else number


def _sheet(found: StoredWitness, typed: Mapping[str, str]) -> dict[str, Any]:
    """The form as a sheet; what was not chosen is left out and named as missing."""
    look = _whole_or_text(typed.get("look", "1"))
    data: dict[str, Any] = {"grader": typed.get("grader", ""), "look": look}
    given = {name[6:]: value for name, value in typed.items() if name.startswith("grade ")}
    data["grades"] = {
        key: None if value == NO_GRADE else _whole_or_text(value) for key, value in given.items()
    }
    masses = {name[5:]: value for name, value in typed.items() if name.startswith("mass ")}
    data["masses_g"] = {
        code: value if (mass_g := parse_number(value)) is None else mass_g
        for code, value in masses.items()
        if value.strip()
    }
    if found.spec.kind == "weighed pair":
        data["grades"] = {}
    return data


def _photos(sent: FormData) -> list[tuple[str, bytes, str]]:
    found = []
    for n in PHOTOS:
        upload = sent.get(f"photo{n}")
        if isinstance(upload, UploadFile) and upload.filename:
            words = str(sent.get(f"alt{n}", ""))
            found.append((str(sent.get(f"code{n}", "")), upload.file.read(), words))
    return found


def _grade(
    request: Request,
    found: StoredWitness,
    grader: str,
    look: str,
    typed: Mapping[str, str],
    refusal: BeadworthError | None = None,
) -> Response:
    subject = SUBJECTS.get(found.spec.kind)
    known = whole_number(look, digits=1)
    number = 1 if known is None else known
    cells = looking_order(found.bands, grader or "?", number)
    context = {
        "one": found,
        "grader": grader,
        "look": look,
        "cells": [(key_of(cell), *cell) for cell in cells],
        "codes": sorted(band.code for band in found.bands),
        "typed": typed,
        "weighed": found.spec.kind == "weighed pair",
        "criteria": CRITERIA[subject] if subject else (),
        "subject": subject,
        "problems": refusal.problems if refusal else (),
    }
    return page(request, "witness_grade.html", context, status_of(refusal) if refusal else 200)


@router.get("/witness-grade/{subject}/{grade}.svg")
def grade_picture(subject: str, grade: int) -> Response:
    """The drawing of a grade."""
    if subject not in CRITERIA or not 0 <= grade <= 4:
        raise NotFoundError(f"there is no drawing of grade {grade} of {subject!r}.", "grade", grade)
    return Response(reference_picture(subject, grade)[0], media_type="image/svg+xml")


def _show(
    request: Request, bench: Bench, found: StoredWitness, refusal: BeadworthError | None = None
) -> Response:
    answer = witness_answer(found)
    alike = comparable_witnesses(bench, found)
    against = request.query_params.get("against", "")
    other = next((one for one in alike if str(one.number) == against), None)
    compared = compare_witnesses(other, found) if other else ()
    context = {
        "alike": alike,
        "other": other,
        "compared": compared,
        "one": found,
        "asks": WITNESS_QUESTIONS[found.spec.kind],
        "graded": found.spec.kind != "cause wall",
        "answer": answer,
        "figures": [figure(chart) for chart in threshold_charts(answer.ladders)] if answer else [],
        "told": [(band, describe_settings(found.spec.kind, band)) for band in found.bands],
        "entered": request.query_params.get("entered"),
        "problems": refusal.problems if refusal else (),
        "photos": found.photos,
    }
    return page(request, "witness_one.html", context, status_of(refusal) if refusal else 200)
