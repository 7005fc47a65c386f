"""Colours, type and spacing: the one place both the page and the charts take them from.

The palette is our own: writing ink for what was there before, the colour of hot
polymer for what is new, on plain paper. Series colours keep a different
lightness each, so that they stay apart in grey and to colour-blind eyes; every
series also has its own dash and point shape. The dossier carries :func:`tokens_css`
inside, and the web app serves it.

A chart spec names no colour. It names mark *styles* and leaves scales to their
ranges; :func:`theme` gives the Vega-Lite configuration that fills them in. In a
page the inlined picture is drawn in the light colours and :func:`recolour_css`
maps each of them to its token, so that one picture follows light, dark and print.
"""

from __future__ import annotations

from typing import Any, Literal

Mode = Literal["light", "dark", "print"]

COLOURS: dict[Mode, dict[str, str]] = {
    "light": {
        "paper": "#fafaf7",
        "sheet": "#f1f2ec",
        "ink": "#17212c",
        "ink-soft": "#4f5964",
        "rule": "#d4d5cc",
        "rule-strong": "#7a8490",
        "accent": "#234e82",
        "caution": "#993c25",
        "caution-paper": "#fbeedf",
        "series-1": "#1d3b61",
        "series-2": "#b04d0a",
        "series-3": "#166845",
        "series-4": "#a5417f",
        "series-5": "#46280c",
        "heat-1": "#f4e6d3",
        "heat-2": "#e6cbac",
        "heat-3": "#d7ae88",
        "heat-4": "#9d4f2f",
        "heat-5": "#82361f",
        "heat-6": "#652218",
        "heat-ink-low": "#18222d",
        "heat-ink-high": "#fbfbf8",
    },
    "dark": {
        "paper": "#12181d",
        "sheet": "#1b2128",
        "ink": "#e8e8e2",
        "ink-soft": "#a9b2b8",
        "rule": "#333b44",
        "rule-strong": "#77818b",
        "accent": "#8bc6ef",
        "caution": "#f6b575",
        "caution-paper": "#372419",
        "series-1": "#aed7f5",
        "series-2": "#e28339",
        "series-3": "#73d4ac",
        "series-4": "#e581bc",
        "series-5": "#bba3e8",
        "heat-1": "#33231c",
        "heat-2": "#4f3325",
        "heat-3": "#6f462b",
        "heat-4": "#c08a44",
        "heat-5": "#d9a649",
        "heat-6": "#f0c45a",
        "heat-ink-low": "#f1ece4",
        "heat-ink-high": "#14100b",
    },
    "print": {},
}
# Paper is white and ink is black when printed; everything else as in the light.
COLOURS["print"] = COLOURS["light"] | {
    "paper": "#ffffff",
    "sheet": "#f6f6f3",
    "ink": "#000001",
    "caution-paper": "#fdf6ee",
}

SERIES = tuple(f"series-{n}" for n in range(1, 6))
HEAT = tuple(f"heat-{n}" for n in range(1, 7))
# Second coding of a series, so that colour is never the only one. The order goes
# with SERIES: an unbroken line and a disc for the first.
DASHES: tuple[tuple[int, ...], ...] = ((1, 0), (7, 3), (2, 3), (9, 3, 2, 3), (4, 2))
SHAPES = ("circle", "diamond", "triangle-up", "square", "cross")

FIGURE_FONT = "Arial, Liberation Sans, Helvetica, sans-serif"
"""One set of letter widths on every system, so that a picture laid out here fits there."""

_SCALES = {
    "font-prose": "ui-serif, serif",
    "font-data": "system-ui, sans-serif",
    "font-code": "ui-monospace, monospace",
    "text-small": "0.8125rem",
    "text-body": "1.0625rem",
    "text-lead": "clamp(1.25rem, 1.1rem + 0.8vw, 1.5rem)",
    "text-title": "clamp(1.625rem, 1.3rem + 1.7vw, 2.375rem)",
    "text-figure": "clamp(1.75rem, 1.45rem + 1.4vw, 2.5rem)",
    "space-1": "0.25rem",
    "space-2": "0.5rem",
    "space-3": "1rem",
    "space-4": "1.75rem",
    "space-5": "3rem",
    "space-6": "5rem",
    "measure": "38rem",
    "margin-column": "9rem",
}


def theme(mode: Mode = "light", *, type_scale: float = 1.0, transparent: bool = True) -> Any:
    """The Vega-Lite ``config`` object every chart is drawn with.

    Parameters
    ----------
    mode : 'light', 'dark' or 'print'
    type_scale : float, > 0
        Factor on all type and line widths, for large figures.
    transparent : bool
        No background (the page shows through) instead of the mode's paper.
    """
    colour = COLOURS[mode]

    def px(size: float) -> float:
        return round(size * type_scale, 2)

    text = {"font": FIGURE_FONT, "fontSize": px(12), "color": colour["ink"]}
    return {
        "background": None if transparent else colour["paper"],
        "padding": px(4),
        "font": FIGURE_FONT,
        "view": {"stroke": None},
        "range": {
            "category": [colour[name] for name in SERIES],
            "ordinal": [colour[name] for name in HEAT],
            "symbol": list(SHAPES),
        },
        "axis": {
            "domainColor": colour["rule-strong"],
            "domainWidth": px(1),
            "tickColor": colour["rule-strong"],
            "tickSize": px(4),
            "gridColor": colour["rule"],
            "gridWidth": px(0.7),
            "labelColor": colour["ink-soft"],
            "labelFontSize": px(12),
            "labelPadding": px(4),
            "titleColor": colour["ink-soft"],
            "titleFontSize": px(12),
            "titleFontWeight": "normal",
            "titlePadding": px(8),
        },
        "header": {
            "labelColor": colour["ink"],
            "labelFontSize": px(13),
            "labelFontWeight": "bold",
            "labelPadding": px(6),
            "title": None,
        },
        "legend": {
            "labelColor": colour["ink"],
            "labelFontSize": px(12),
            "labelLimit": 0,
            "title": None,
            "symbolSize": px(90),
            "symbolStrokeWidth": 0,
            "symbolStrokeColor": colour["rule-strong"],
            "orient": "top",
            "direction": "horizontal",
            "columnPadding": px(16),
        },
        "title": {
            "color": colour["ink"],
            "subtitleColor": colour["ink-soft"],
            "fontSize": px(16),
            "subtitleFontSize": px(12),
            "anchor": "start",
            "frame": "bounds",
            "offset": px(12),
        },
        "text": {"color": colour["ink"], "fontSize": px(12)},
        "point": {"size": px(46), "filled": True, "opacity": 1},
        "line": {"strokeWidth": px(2)},
        "rule": {"color": colour["ink"], "strokeWidth": px(1.5)},
        "style": {
            "band": {"opacity": 0.18},
            "reading": {"opacity": 0.85},
            "reference": {"filled": False, "fill": colour["paper"], "strokeWidth": px(1.4)},
            "voided": {"filled": False, "stroke": colour["rule-strong"], "strokeWidth": px(1.4)},
            "zero": {"color": colour["ink-soft"], "strokeDash": [2, 2], "strokeWidth": px(1)},
            "level": {"color": colour["rule-strong"], "strokeWidth": px(1)},
            "note": text | {"color": colour["ink-soft"]},
            "value": text,
            "label": text | {"fontSize": px(12)},
            "bar": {"color": colour["series-1"]},
            "total": {"color": colour["rule-strong"]},
            "heat-cell": {"stroke": colour["paper"], "strokeWidth": px(2)},
            # a part of a whole has an edge of its own: the first step is next to the paper's colour
            "share": {"stroke": colour["rule-strong"], "strokeWidth": px(1)},
            "heat-low": text | {"color": colour["heat-ink-low"], "fontSize": px(13)},
            "heat-high": text | {"color": colour["heat-ink-high"], "fontSize": px(13)},
            "cell": {"stroke": None},
        },
    }


def tokens_css() -> str:
    """The design tokens as CSS custom properties: light, dark, and print.

    ``data-mode="light"`` or ``"dark"`` on the root element overrides the
    system's preference; print always takes the print colours.
    """
    light = _block(COLOURS["light"])
    dark = _block(COLOURS["dark"])
    scales = "".join(f"  --{name}: {value};\n" for name, value in _SCALES.items())
    return (
        f":root {{\n  color-scheme: light dark;\n{scales}{light}}}\n"
        ":root[data-mode='light'] {\n  color-scheme: light;\n}\n"
        f":root[data-mode='dark'] {{\n  color-scheme: dark;\n{dark}}}\n"
        "@media (prefers-color-scheme: dark) {\n"
        f":root:not([data-mode='light']) {{\n{dark}}}\n}}\n"
        "@media print {\n"
        ":root, :root[data-mode], :root:not([data-mode='light']) {\n"
        f"  color-scheme: light;\n{_block(COLOURS['print'])}}}\n}}\n"
    )


def recolour_css(scope: str = ".chart") -> str:
    """Rules that turn the light colours of an inlined SVG into tokens.

    A rule of a style sheet wins over a presentation attribute, so a picture
    drawn once follows the page's mode and still stands alone when copied out.
    """
    return "".join(
        f'{scope} [{attribute}="{value}"]{{{attribute}:var(--{name})}}\n'
        for name, value in COLOURS["light"].items()
        for attribute in ("fill", "stroke")
    )


def _block(colours: dict[str, str]) -> str:
    return "".join(f"  --{name}: {value};\n" for name, value in colours.items())
