"""Layers of a chart: a mark, the rows it draws, and where.

    line("curve", x=flow, y=loss, strokeDash=look.dash, clip=True)

reads: a line through the rows of the part ``curve``. A channel is a dict (or None, to take
nothing from the picture around); any other value is a property of the mark.
"""

from __future__ import annotations

from functools import partial
from typing import Any

Layer = dict[str, Any]


def mark(kind: str, part: str | None = None, /, *, where: str | None = None, **said: Any) -> Layer:
    """A layer of marks.

    Parameters
    ----------
    kind : the mark: ``line``, ``point``
    part : the rows drawn: those whose column ``part`` holds this; left out: all
    where : a test that rows must pass besides, on ``datum``
    said : channels (dict or None) and properties of the mark (any other value)
    """
    tests = [f"datum.part === '{part}'"] if part else []
    tests += [where] if where else []
    channels = {key: value for key, value in said.items() if value is None or type(value) is dict}
    layer: Layer = {"mark": {"type": kind, **{k: v for k, v in said.items() if k not in channels}}}
    if tests:
        layer["transform"] = [{"filter": test} for test in tests]
    if channels:
        layer["encoding"] = channels
    return layer


area = partial(mark, "area")
bar = partial(mark, "bar")
line = partial(mark, "line")
point = partial(mark, "point")
rect = partial(mark, "rect")
rule = partial(mark, "rule")
text = partial(mark, "text")
tick = partial(mark, "tick")


def cross(part: str, **said: Any) -> Layer:
    """A × for each row: readings that do not count."""
    return text(part, text="×", fontSize=16, **said)
