"""The HTTP reference is made from the app's own description, and every route is in it."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import SimpleNamespace

import pytest

from beadworth.web import create_app

ROOT = Path(__file__).resolve().parents[2]


def tool():
    path = ROOT / "tools" / "make_http_reference.py"
    spec = importlib.util.spec_from_file_location("make_http_reference", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def described():
    return create_app(None).openapi()


def test_http_and_json_references_are_current(described, monkeypatch):
    """From the one description, in place of the one each text would make for itself."""
    made = tool()
    app = SimpleNamespace(openapi=lambda: described)
    monkeypatch.setattr(made, "create_app", lambda bench: app)
    for name, text in (("http.md", made.reference_text()), ("json.md", made.json_text())):
        current = (made.FOLDER / name).read_text() == text
        assert current, f"{name}: run python tools/make_http_reference.py"


def test_the_shapes_named_for_commands_are_published(described):
    made = tool()
    schemas = described["components"]["schemas"]
    assert {name for _, name, _ in made.COMMANDS} <= set(schemas)


def test_every_api_route_is_described_with_its_refusals(described):
    for path, verbs in described["paths"].items():
        assert path.startswith("/api/")
        for verb, route in verbs.items():
            assert route["summary"], path
            assert "421" in route["responses"], (path, verb)
            for code, answer in route["responses"].items():
                if int(code) >= 400:
                    (body,) = answer["content"].values()
                    assert body["schema"]["$ref"].endswith("/ErrorShape"), (path, code)
