"""The pages of a kind of record: list, form, history, TOML in and out.

Rigs and materials differ in their fields, not in what one does with them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import (
    BeadworthError,
    InputError,
    NotFoundError,
    Problem,
    Record,
    from_mapping,
    from_toml,
    to_mapping,
    to_toml,
)
from beadworth.web.forms import (
    Form,
    Group,
    collect,
    laid_over,
    refused,
    typed_from,
    typed_in,
)
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded, see_other
from beadworth.workflow import Bench, taken


@dataclass(frozen=True)
class Noun:
    """One kind of record: its words, its form, and how the bench keeps it."""

    noun: str
    plural: str
    sentence: str
    kind: type[Record]
    groups: tuple[Group, ...]
    save: Callable[[Bench, Any], None]
    one: Callable[[Bench, str], Any]
    all: Callable[[Bench], Sequence[Any]]
    history: Callable[[Bench, str], Sequence[Any]]
    fresh: dict[str, Any]
    """Values a new form starts with: the record's own defaults."""
    derived: Callable[[Bench, dict[str, Any]], dict[str, Any]] | None = None
    """Completes a new record's data with what its form does not show and its parent holds."""
    about: Callable[[Bench, Any], Any] | None = None
    """What the page of a record shows above its form, for the noun's own template."""
    generics: Mapping[str, Record] = field(default_factory=dict)
    """Records a new one may start from, by name."""
    whole: str = "new"
    """Last part of the address of a new record's form."""
    odd: Callable[[Bench, Any, Any], tuple[Problem, ...]] | None = None
    """What is odd about a record, asked before it is kept: bench, record, the one before it."""
    settled: Callable[[Any, Any], Any] | None = None
    """A changed record with what follows from the change: before, after."""
    uses: Callable[[Bench, str], list[str]] | None = None
    """What hangs on a record, in words; where nothing does it may be removed."""


def record_pages(noun: Noun) -> APIRouter:
    """The pages ``/{plural}`` and ``/{noun}/{name}``."""
    router = APIRouter(include_in_schema=False)

    def show_list(request: Request, bench: Bench, form: Form, status: int = 200) -> Response:
        context = {"noun": noun, "records": noun.all(bench), "form": form}
        return page(request, "records.html", context, status)

    def show_form(
        request: Request,
        form: Form,
        name: str | None,
        history: Sequence[Any],
        status: int = 200,
        about: Any = None,
        asked: bool = False,
        uses: Sequence[str] | None = None,
    ) -> Response:
        context = {
            "noun": noun, "form": form, "name": name, "history": history, "about": about,
            "asked": asked, "uses": uses,
        }  # fmt: skip
        return page(request, "record.html", context, status)

    @router.get(f"/{noun.plural}")
    def records(request: Request, bench: BenchOf) -> Response:
        return show_list(request, bench, Form({"text": ""}))

    @router.get(f"/{noun.plural}/{noun.whole}")
    def new(
        request: Request, bench: BenchOf, parent: str | None = None, generic: str | None = None
    ) -> Response:
        start = dict(noun.fresh)
        if generic is not None and generic in noun.generics:
            start = to_mapping(noun.generics[generic])
            of_it = f"generic {start.pop('name')}, not this spool's data sheet"
            start["source"] = "; ".join(filter(None, (of_it, start.get("source"))))
        if parent is not None:
            start = to_mapping(noun.one(bench, parent))
            for path in ("name", "price", "mass_g", "supplied_by", "note"):
                start.pop(path, None)
            start["parent"] = parent
        return show_form(request, Form(typed_from(noun.groups, start)), None, ())

    @router.post(f"/{noun.plural}")
    def create(request: Request, bench: BenchOf, sent: FormOf) -> Response:
        typed = typed_in(noun.groups, sent)
        try:
            data = collect(noun.groups, typed)
            data = noun.derived(bench, data) if noun.derived else data
            record = from_mapping(noun.kind, data, noun.noun)
            refuse_taken(noun, bench, typed["name"])
            if odd := questioned(noun, bench, record, sent, data):
                return show_form(
                    request, refused(noun.groups, typed, odd), None, (), 422, asked=True
                )
            noun.save(bench, record)
        except BeadworthError as error:
            form = refused(noun.groups, typed, error)
            return show_form(request, form, None, (), status_of(error))
        return see_other(f"/{noun.noun}/{quote(typed['name'])}")

    _toml_pages(router, noun, show_list)

    @router.get(f"/{noun.noun}/{{name:path}}")
    def one(request: Request, bench: BenchOf, name: str) -> Response:
        record = noun.one(bench, name)
        typed = typed_from(noun.groups, to_mapping(record))
        about = noun.about(bench, record) if noun.about else None
        history = describe_history(noun.history(bench, name))
        uses = noun.uses(bench, name) if noun.uses else None
        return show_form(request, Form(typed), name, history, about=about, uses=uses)

    @router.post(f"/{noun.noun}/{{name:path}}")
    def change(request: Request, bench: BenchOf, name: str, sent: FormOf) -> Response:
        before = noun.one(bench, name)
        typed = typed_in(noun.groups, sent) | {"name": name}
        data = laid_over(to_mapping(before), noun.groups, collect(noun.groups, typed))
        try:
            record = from_mapping(noun.kind, data, noun.noun)
            record = noun.settled(before, record) if noun.settled else record
            if odd := questioned(noun, bench, record, sent, before):
                form = refused(noun.groups, typed, odd)
                history = describe_history(noun.history(bench, name))
                return show_form(request, form, name, history, 422, asked=True)
            noun.save(bench, record)
        except BeadworthError as error:
            form = refused(noun.groups, typed, error)
            history = describe_history(noun.history(bench, name))
            return show_form(request, form, name, history, status_of(error))
        return see_other(f"/{noun.noun}/{quote(name)}?saved=1")

    return router


def _toml_pages(router: APIRouter, noun: Noun, show_list: Callable[..., Response]) -> None:
    """A record taken in and given out as TOML."""

    @router.post(f"/{noun.plural}/toml")
    def take_toml(request: Request, bench: BenchOf, sent: FormOf) -> Response:
        try:
            text, source = pasted_or_uploaded(sent, "pasted text")
            record = from_toml(noun.kind, text, source)
            noun.save(bench, record)
        except InputError as error:
            form = Form({"text": str(sent.get("text", ""))}, error.problems)
            return show_list(request, bench, form, status_of(error))
        return see_other(f"/{noun.noun}/{quote(to_mapping(record)['name'])}")

    @router.get(f"/{noun.noun}-toml/{{name:path}}")
    def give_toml(bench: BenchOf, name: str) -> Response:
        return download(to_toml(noun.one(bench, name)), f"{name}.toml", "application/toml")


SURE = "sure"
"""Name of the button that says of what is odd that it is so."""


def questioned(
    noun: Noun, bench: Bench, record: Any, sent: FormOf, before: Any
) -> InputError | None:
    """What to ask before a record is kept; None where nothing is odd, or it was confirmed.

    ``before``: the record as it is, or a new one's data, which may name the one it is made from.
    """
    if noun.odd is None or sent.get(SURE):
        return None
    if isinstance(before, dict):
        try:
            before = noun.one(bench, str(before.get("parent", "")))
        except NotFoundError:
            before = None
    found = noun.odd(bench, record, before)
    return InputError(found) if found else None


def describe_history(history: Sequence[Any]) -> list[dict[str, Any]]:
    """Each version with what it changed of the one before."""
    versions: list[dict[str, Any]] = []
    before: dict[str, Any] | None = None
    for version in history:
        now = _flat(to_mapping(version.record))
        changes = [] if before is None else _changes(before, now)
        versions.append({"at": version.at, "record": version.record, "changes": changes})
        before = now
    return versions


def _flat(data: Any, prefix: str = "") -> dict[str, Any]:
    if not isinstance(data, dict):
        return {prefix: data}
    flat: dict[str, Any] = {}
    for key, value in data.items():
        flat |= _flat(value, f"{prefix}.{key}" if prefix else key)
    return flat


def _changes(before: dict[str, Any], now: dict[str, Any]) -> list[str]:
    keys = [key for key in {**before, **now} if before.get(key) != now.get(key)]
    return [f"{key}: {before.get(key, 'unknown')} → {now.get(key, 'unknown')}" for key in keys]


def refuse_taken(noun: Noun, bench: Bench, name: str) -> None:
    """A new record must not become, unasked, a new version of one that is there."""
    try:
        noun.one(bench, name)
    except NotFoundError:
        return
    raise taken(noun.noun, name)


def fresh_values(kind: type[Record], **required: Any) -> dict[str, Any]:
    """A record's defaults as plain data; ``required`` stands in for fields without one."""
    data = to_mapping(kind.model_construct(**required))
    for name in required:
        data.pop(name, None)
    return data
