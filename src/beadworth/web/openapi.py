"""The API described: shapes made from the answers' own types, words from their docstrings."""

from __future__ import annotations

import ast
import inspect
import textwrap
from dataclasses import fields
from functools import cache
from typing import Any, get_origin, get_type_hints

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic.json_schema import models_json_schema

from beadworth.core import shape_sources


def description(app: FastAPI) -> dict[str, Any]:
    """The API described, with the bodies our own records check."""
    if app.openapi_schema is None:
        app.openapi_schema = _description(app.title, app.version, app.description)
    return app.openapi_schema


@cache
def _description(title: str, version: str, words: str) -> dict[str, Any]:
    """Half a second of work, and the same for all applications of a process."""
    from beadworth.web.routes import routers
    from beadworth.web.routes.api_bodies import BODIES

    routes = [route for router in routers() for route in router.routes]
    schema = get_openapi(title=title, version=version, description=words, routes=routes)
    _, bodies = models_json_schema(
        [(kind, "validation") for kind in BODIES], ref_template="#/components/schemas/{model}"
    )
    schemas = schema["components"]["schemas"]
    schemas |= bodies["$defs"]
    for source in shape_sources().values():
        _say_what_keys_mean(source, schemas)
    return schema


def _say_what_keys_mean(source: type, schemas: dict[str, Any]) -> None:
    long = f"{source.__module__}.{source.__name__}".replace(".", "__")
    for name, schema in schemas.items():
        if name in (source.__name__, long) and "properties" in schema:
            for key, words in key_docs(source).items():
                if key in schema["properties"]:
                    schema["properties"][key].setdefault("description", words)


@cache
def key_docs(kind: type) -> dict[str, str]:
    """What the keys of a dataclass's JSON mean: its attributes' docstrings, on one line."""
    found: dict[str, str] = {}
    named = {one.name: one.metadata.get("json", one.name) for one in fields(kind)}
    also = {attribute: key for key, attribute in getattr(kind, "json_also", {}).items()}
    for one in fields(kind):
        if "flat" in one.metadata:
            inner = get_type_hints(kind)[one.name]
            found |= key_docs(get_origin(inner) or inner)
    body = ast.parse(textwrap.dedent(inspect.getsource(kind))).body[0]
    assert isinstance(body, ast.ClassDef)
    for before, after in zip(body.body, body.body[1:], strict=False):
        if (
            isinstance(before, ast.AnnAssign)
            and isinstance(before.target, ast.Name)
            and isinstance(after, ast.Expr)
            and isinstance(after.value, ast.Constant)
        ):
            found[named.get(before.target.id) or ""] = " ".join(str(after.value.value).split())
    for node in body.body:
        if isinstance(node, ast.FunctionDef) and node.name in also:
            found[also[node.name]] = " ".join((ast.get_docstring(node) or "").split())
    return found
