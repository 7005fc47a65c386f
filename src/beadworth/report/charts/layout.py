"""How a chart is laid out: one plot, or panels side by side; layers over one table of rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from beadworth.report.charts.chart import Row, Spec
from beadworth.report.charts.encodings import Channel, narrow
from beadworth.report.charts.marks import Layer

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.4.0.json"


def plot_px(width_px: float) -> float:
    """How wide the plot is beside an axis of numbers."""
    return panels(1, width_px)[1]


def panels(
    count: int, width_px: float, left_px: float = 58.0, gap_px: float = 34.0
) -> tuple[int, float]:
    """How many panels side by side, and how wide each: ``(columns, panel_px)``."""
    most = 1 if narrow(width_px) else 3
    count = max(1, count)
    rows = -(-count // most)
    columns = -(-count // rows)
    free = width_px - left_px - 12.0 - gap_px * (columns - 1)
    return columns, round(free / columns, 1)


def panel(*layers: Layer, width: float, height: Any, **encoding: Channel | None) -> Spec:
    """Layers over each other, back to front; ``encoding`` holds for all of them."""
    made: Spec = {"width": width, "height": height}
    if encoding:
        made["encoding"] = encoding
    return {**made, "layer": list(layers)}


def plot(
    rows: Sequence[Row], *layers: Layer, width: float, height: Any, **encoding: Channel | None
) -> Spec:
    """A chart of one plot."""
    return _spec(rows, **panel(*layers, width=width, height=height, **encoding))


def single(rows: Sequence[Row], layer: Layer, *, width: float, height: Any) -> Spec:
    """A chart of one plot with one mark."""
    return _spec(rows, width=width, height=height, **layer)


def stacked(rows: Sequence[Row], *panels: Spec, spacing: float, **more: Any) -> Spec:
    """Plots one under the other."""
    return _spec(rows, spacing=spacing, vconcat=list(panels), **more)


def facets(
    rows: Sequence[Row],
    by: str,
    order: Sequence[str],
    inner: Spec,
    *,
    columns: int,
    spacing: float = 30,
    resolve: str | None = "independent",
    **header: Any,
) -> Spec:
    """A panel for each value of the column ``by``, in order, each headed by it.

    ``resolve`` says what becomes of the horizontal axes: ``independent`` gives each panel one.
    """
    made = _spec(
        rows,
        facet={"field": by, "type": "nominal", "sort": list(order),
               "header": {"labelAnchor": "start", **header}},
        columns=columns,
        spacing=spacing,
        spec=inner,
    )  # fmt: skip
    return made | ({"resolve": {"axis": {"x": resolve}}} if resolve else {})


def _spec(rows: Sequence[Row], **parts: Any) -> Spec:
    return {"$schema": SCHEMA, "data": {"values": list(rows)}, **parts}
