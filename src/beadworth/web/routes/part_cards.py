"""Part cards: list, make, change, take away, and put on a rig."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import (
    BeadworthError,
    InputError,
    NotFoundError,
    from_mapping,
    from_toml,
    to_mapping,
    to_toml,
)
from beadworth.rig import PartCard, PartKind
from beadworth.text import number
from beadworth.web.fields_parts import KINDS, card_groups, chosen_at
from beadworth.web.forms import (
    Form,
    collect,
    laid_over,
    refused,
    typed_from,
    typed_in,
)
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded, see_other
from beadworth.web.routes.record_pages import SURE, describe_history
from beadworth.workflow import (
    Bench,
    card_of_rig,
    questions_about_part,
    remove_part,
    rigs_with_part,
    taken,
)

router = APIRouter(include_in_schema=False)


@router.get("/parts")
def every(request: Request, bench: BenchOf) -> Response:
    """Every card, by kind."""
    return _list(request, bench, Form({"text": ""}))


def _list(request: Request, bench: Bench, form: Form, status: int = 200) -> Response:
    cards, rigs = bench.parts(), bench.rigs()
    context = {
        "kinds": [(kind, [card for card in cards if card.kind == kind]) for kind in KINDS],
        "facts": {card.name: facts_of(card) for card in cards},
        "users": {card.name: rigs_with_part(rigs, card.name) for card in cards},
        "form": form,
    }
    return page(request, "part_cards.html", context, status)


def facts_of(card: PartCard) -> str:
    """The few figures of a card, in a line."""
    told = []
    if card.price is not None:
        told.append(f"{number(card.price, 6)} {card.currency or ''}".strip())
    if card.mass_g is not None:
        told.append(f"{number(card.mass_g)} g")
    if card.hot_end:
        told += _with_unit(card.hot_end.melt_zone_mm, "mm melt zone")
        told += _with_unit(card.hot_end.nozzle_mm, "mm nozzle")
        told += _with_unit(card.hot_end.temperature_limit_c, "°C at most")
    if card.extruder:
        told += [card.extruder.drive] if card.extruder.drive else []
        told += _with_unit(card.extruder.max_feed_mm_s, "mm/s at most")
    if card.guide:
        told += [card.guide.kind] if card.guide.kind else []
    if card.kind == "guides":
        told.append(f"for {' and '.join(card.axes)}")
    if card.fan:
        told.append(f"for the {card.fan.purpose}")
        told += _with_unit(card.fan.airflow_m3_h, "m³/h")
    return ", ".join(told) or "nothing recorded yet"


def _with_unit(value: float | None, unit: str) -> list[str]:
    return [] if value is None else [f"{number(value)} {unit}"]


@router.get("/parts/new")
def new(request: Request, bench: BenchOf, kind: str = "hot end", rig: str = "") -> Response:
    """The form of a card, empty or from what a rig's record says of its part."""
    chosen = _kind(kind)
    data = card_of_rig(bench, rig, chosen) if rig else {}
    typed = typed_in(card_groups(chosen), {}) | {
        path: text for path, text in typed_from(card_groups(chosen), data).items() if text
    }
    return _form(request, chosen, Form(typed), axes=data.get("axes", ["x"]))


@router.post("/parts/new")
def make(request: Request, bench: BenchOf, sent: FormOf, kind: str = "hot end") -> Response:
    """Put a card on the bench."""
    return _take(request, bench, sent, _kind(kind), None)


@router.post("/parts/toml")
def take_toml(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """A card from TOML; one of a name that is there becomes its next version."""
    try:
        text, source = pasted_or_uploaded(sent, "pasted text")
        card = from_toml(PartCard, text, source)
        bench.save_part(card)
    except InputError as error:
        form = Form({"text": str(sent.get("text", ""))}, error.problems)
        return _list(request, bench, form, status_of(error))
    return see_other(f"/part/{quote(card.name, safe='')}")


@router.get("/part-toml")
def give_toml(bench: BenchOf, name: str) -> Response:
    """A card as TOML, to take away."""
    return download(to_toml(bench.part(name)), f"{name}.toml", "application/toml")


@router.post("/part-remove")
def remove(bench: BenchOf, name: str) -> Response:
    """Take a card away that no rig was made from."""
    remove_part(bench, name)
    return see_other("/parts")


@router.get("/part/{name:path}")
def one(request: Request, bench: BenchOf, name: str) -> Response:
    """A card: what it says, who uses it, what it can be put on."""
    card = bench.part(name)
    typed = typed_from(card_groups(card.kind), to_mapping(card))
    return _form(request, card.kind, Form(typed), card=card, bench=bench, axes=card.axes)


@router.post("/part/{name:path}")
def change(request: Request, bench: BenchOf, name: str, sent: FormOf) -> Response:
    """A card's next version."""
    card = bench.part(name)
    return _take(request, bench, sent, card.kind, card)


def _kind(text: str) -> PartKind:
    kinds: dict[str, PartKind] = {kind: kind for kind in KINDS}
    if text not in kinds:
        raise NotFoundError(
            f"{text!r} is no kind of part.", "kind", text, f"Choose one of: {', '.join(kinds)}."
        )
    return kinds[text]


def _take(
    request: Request, bench: Bench, sent: FormOf, kind: PartKind, card: PartCard | None
) -> Response:
    groups = card_groups(kind)
    typed = typed_in(groups, sent) | ({"name": card.name} if card else {})
    axes = [axis for axis in "xyz" if sent.get(f"axis.{axis}")] or ["x"]
    try:
        data: dict[str, Any] = collect(groups, typed)
        if card:
            data = laid_over(to_mapping(card), groups, data)
        data |= {"kind": kind} | ({"axes": axes} if kind == "guides" else {})
        made = from_mapping(PartCard, data, "part")
        if card is None and made.name in [other.name for other in bench.parts()]:
            raise taken("part", made.name)
        odd = questions_about_part(made, card)
        if odd and not sent.get(SURE):
            form = refused(groups, typed, InputError(odd))
            return _form(request, kind, form, 422, card=card, bench=bench, axes=axes, asked=True)
        bench.save_part(made)
    except BeadworthError as error:
        form = refused(groups, typed, error)
        return _form(request, kind, form, status_of(error), card=card, bench=bench, axes=axes)
    saved = f"?{urlencode({'saved': 1})}" if card else ""
    return see_other(f"/part/{quote(made.name, safe='')}{saved}")


def _form(
    request: Request,
    kind: PartKind,
    form: Form,
    status: int = 200,
    *,
    card: PartCard | None = None,
    bench: Bench | None = None,
    axes: Sequence[str] = ("x",),
    asked: bool = False,
) -> Response:
    rigs = bench.rigs() if bench and card else []
    context = {
        "kind": kind, "groups": card_groups(kind), "form": form, "card": card, "axes": axes,
        "asked": asked, "rigs": [rig.name for rig in rigs],
        "users": rigs_with_part(rigs, card.name) if card else [],
        "facts": facts_of(card) if card else "",
        "slot": chosen_at(kind),
        "history": describe_history(bench.part_history(card.name)) if bench and card else (),
    }  # fmt: skip
    return page(request, "part_card.html", context, status)
