"""Rigs and a polymer that charts of a change are drawn for, and what holds for every chart."""

import json
from pathlib import Path
from xml.etree import ElementTree

from beadworth.core.records import from_toml, parse_toml
from beadworth.material.library import generic
from beadworth.report.charts.chart import render_svg
from beadworth.rig import Rig, upgrade

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STOCK = from_toml(Rig, (EXAMPLES / "rig-stilt-stock.toml").read_text(), "stock")
LONG = upgrade(STOCK, parse_toml((EXAMPLES / "upgrade-long-zone.toml").read_text(), "up"))
WEAK = LONG.model_copy(
    update={
        "name": "Stilt, worn drive",
        "extruder": STOCK.extruder.model_copy(update={"grip_force_n": 8.0}),
    }
)
RIGS = (STOCK.name, LONG.name)
PLA = generic("PLA")
COLOURS_OF_ITS_OWN = ("#", "rgb", '"blue', '"red')


def check_drawn(chart, px):
    """It draws, fits its column, leaves colour to the theme, and says what it shows."""
    root = ElementTree.fromstring(render_svg(chart, width_px=px, title=False))
    assert float(root.attrib["width"]) <= px + 6
    drawn = chart.draw(px)
    spec = json.dumps(drawn)
    assert not [word for word in COLOURS_OF_ITS_OWN if word in spec.replace(drawn["$schema"], "")]
    assert chart.title
    assert not chart.title.endswith(".")
    assert len(chart.alt) > 40
    assert "nan" not in spec.lower().replace("nanometre", "")


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two ``#rrggbb`` colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    high, low = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance of sRGB, 0 to 1 (WCAG 2.2; linear segment as in IEC 61966-2-1)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
