"""The picture to hold beside a witness print: its plan, its bands by code, what to look at.

Codes only: a picture for graders tells no setting. Once the codes are open, the settings stand
beside them. Drawn in millimetres of an A4 sheet, in ink that survives a grey printer.
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

from beadworth.text import with_unit, xml_text
from beadworth.witness.design import Band
from beadworth.witness.make import Witness
from beadworth.witness.outline import MARK_SITES, Outline

PAGE_MM = 210.0
RIM_MM = 12.0
PLAN_MM = (96.0, 62.0)
BAND_MM = (4.6, 10.5)
"""Least and greatest height of a band in the elevation."""
BAND_WIDE_MM = 84.0
"""Width of a band in the elevation: holds the settings of a loop."""
INK, SOFT, PALE, PAPER = "#1d2430", "#5b6675", "#d9dde3", "#ffffff"
UNITS = {
    "flow_mm3_s": ("flow", "mm³/s", 1), "speed_mm_s": ("speed", "mm/s", 0),
    "width_mm": ("bead", "mm", 2), "fan": ("fan", "", 1), "layer_time_s": ("layer", "s", 1),
    "passes": ("passes", "", 0), "angle_deg": ("angle", "°", 0),
}  # fmt: skip
"""Words, unit and decimals of settings."""
SHOWN = {
    "weighed pair": ("flow_mm3_s", "speed_mm_s"),
    "melt or motion": ("flow_mm3_s", "speed_mm_s", "width_mm"),
    "overhang": ("fan", "layer_time_s"),
    "layer time": ("layer_time_s",),
    "grip": ("passes",),
    "cause wall": ("speed_mm_s",),
}
"""What tells the bands of each kind apart."""
MARKS = "Marks: the tooth nearest the front always stands; read the other four towards the back."
_GUIDES = {
    "weighed pair": "Weigh both walls, skirt off. Enter each mass by its code.",
    "melt or motion": "Grade the flat front and the folded back of every band, each by itself.",
    "overhang": "Look at the undersides of the facets, from below. Facets count from the left.",
    "layer time": "Grade the first two teeth of the wall, at every height.",
    "grip": "Grade the front. Count the bands by their marks.",
    "cause wall": "Photograph each side straight on, the four marks of its frame in the picture.",
}


def describe_setting(name: str, value: float) -> str:
    """A setting in words, as 'flow 9.8 mm³/s'."""
    word, unit, decimals = UNITS[name]
    return f"{word} {with_unit(f'{value:.{decimals}f}', unit)}"


def describe_settings(witness_kind: str, band: Band) -> str:
    """What tells a band from the others, in words."""
    said = [describe_setting(n, band.settings[n]) for n in SHOWN[witness_kind]]
    return ", ".join(said)


def witness_picture(witness: Witness, *, opened: bool = False) -> tuple[str, str]:
    """Draw a witness: an SVG and the words that stand for it.

    Parameters
    ----------
    witness : Witness
    opened : bool
        Whether settings may stand beside the codes.
    """
    bands = witness.bands
    tall = max(BAND_MM[0], min(BAND_MM[1], 120.0 / len(bands)))
    height = 46.0 + PLAN_MM[1] + 14.0 + tall * len(bands) + 34.0
    listed = "; ".join(
        f"{band.number} {band.code}" + (f" {describe_settings(witness.kind, band)}" * opened)
        for band in bands
    )
    alt = f"Map of the witness '{witness.kind}' for {witness.rig}. Bands from the bottom: {listed}."
    top = 28.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{PAGE_MM:g}mm" height="{height:.1f}mm" '
        f'viewBox="0 0 {PAGE_MM:g} {height:.1f}" role="img" font-family="sans-serif">',
        f"<title>{escape(alt)}</title>",
        f'<rect width="{PAGE_MM:g}" height="{height:.1f}" fill="{PAPER}"/>',
        _text(RIM_MM, 12, f"Witness: {witness.kind}", 5.2, weight="bold"),
        _text(RIM_MM, 18.5, f"{witness.rig}, {witness.material}, seed {witness.spec.seed}", 3.8),
        _text(RIM_MM, 24, _GUIDES[witness.kind], 3.4, colour=SOFT),
        *_plan(witness, top + 8),
        *_elevation(witness, top + PLAN_MM[1] + 22, tall, opened),
        "</svg>",
    ]
    return xml_text("\n".join(parts) + "\n"), xml_text(alt)


def _plan(witness: Witness, top: float) -> list[str]:
    """Every object's outline as it lies on the bed, its sides named."""
    design = witness.design
    layers = [one for one in design.layers if one.band == design.bands[0].number]
    outline = layers[len(layers) // 2].outline
    x0, y0, x1, y1 = outline.box_mm()
    scale = min(PLAN_MM[0] / (x1 - x0), (PLAN_MM[1] - 10) / (y1 - y0))
    left, bottom = RIM_MM + 2, top + (y1 - y0) * scale
    path = _path(outline, left - x0 * scale, bottom + y0 * scale, scale)
    names = {
        "melt or motion": ("folded back", "flat front"),
        "overhang": ("notches, bridged on top", "facets 1, 2, 3 … from the left"),
    }.get(design.kind, ("back", "front"))
    middle = left + (x1 - x0) * scale / 2
    words = PAGE_MM - RIM_MM
    side = [
        f"{x1 - x0:.0f} by {y1 - y0:.0f} mm",
        f"{len(design.layers)} layers of {design.layer_mm:g} mm",
        f"about {witness.minutes:.0f} min, {witness.mass_g:.1f} g",
        f"nozzle {witness.spec.temperature_c:g} °C",
    ]
    return [
        _text(middle, top - 2.5, names[0], 3.2, colour=SOFT, anchor="middle"),
        f'<path d="{path}" fill="none" stroke="{INK}" stroke-width="0.7"/>',
        _text(middle, bottom + 5, names[1], 3.2, colour=SOFT, anchor="middle"),
        *(_text(words, top + 6 + 6 * n, line, 3.6, anchor="end") for n, line in enumerate(side)),
    ]


def _path(outline: Outline, left: float, bottom: float, scale: float) -> str:
    """An outline as an SVG path; y turns over."""

    def at(point: tuple[float, float]) -> str:
        return f"{left + point[0] * scale:.2f} {bottom - point[1] * scale:.2f}"

    words = [f"M{at(outline.start)}"]
    here = outline.start
    for piece in outline.pieces:
        if not piece.lays:
            continue
        if piece.centre is None:
            words.append(f"L{at(piece.to)}")
        else:
            r = math.dist(here, piece.centre) * scale
            words.append(f"A{r:.2f} {r:.2f} 0 0 {1 if piece.clockwise else 0} {at(piece.to)}")
        here = piece.to
    return " ".join(words)


def _elevation(witness: Witness, top: float, tall: float, opened: bool) -> list[str]:
    """The stack of bands as it stands, the first at the bottom."""
    bands = witness.bands
    left, wide = RIM_MM + 22, BAND_WIDE_MM
    parts = [
        _text(RIM_MM, top - 3, "Bands, from the bed up", 3.6, weight="bold"),
    ]
    marked = any(band.mark is not None for band in bands)
    if marked:
        parts.append(_text(left + wide + 4, top - 3, "mark on the right side", 3.2, colour=SOFT))
    for band in bands:
        y = top + (len(bands) - band.number) * tall
        middle = y + tall / 2 + 1.3
        parts += [
            f'<rect x="{left}" y="{y:.2f}" width="{wide}" height="{tall:.2f}" fill="{PAPER}" '
            f'stroke="{INK}" stroke-width="0.35"/>',
            _text(RIM_MM, middle, f"{band.number}", 3.2, colour=SOFT),
            _text(left - 6, middle, band.code, min(5.0, tall), weight="bold", anchor="middle"),
            *_mark(band, left + wide + 4, y, tall),
        ]
        if opened:
            said = describe_settings(witness.kind, band)
            parts.append(_text(left + 2, middle, said, min(3.3, 0.7 * tall)))
    bed = top + len(bands) * tall
    parts += [
        f'<rect x="{RIM_MM}" y="{bed:.2f}" width="{PAGE_MM - 2 * RIM_MM}" height="2.2" '
        f'fill="{INK}"/>',
        _text(RIM_MM, bed + 7.5, witness.design.shuffled, 3.1, colour=SOFT),
        _text(RIM_MM, bed + 13, MARKS if marked else "", 3.1, colour=SOFT),
        _text(RIM_MM, bed + 18.5, "Print and bed are hot after the run: let them cool first.", 3.1,
              colour=SOFT),
    ]  # fmt: skip
    return parts


def _mark(band: Band, x: float, y: float, tall: float) -> list[str]:
    """Teeth of a mark, from the front: stand or do not."""
    if band.mark is None:
        return []
    parts = []
    for site in range(MARK_SITES):
        stands = site == 0 or band.mark >> (site - 1) & 1
        at, low = x + 2 + site * 6.0, y + 0.75 * tall
        high = low - 0.5 * tall
        shape = f"M{at - 1.8:.2f} {low:.2f}L{at:.2f} {high:.2f}L{at + 1.8:.2f} {low:.2f}Z"
        parts.append(
            f'<path d="{shape}" fill="{INK}"/>' if stands else
            f'<circle cx="{at:.2f}" cy="{low - 0.6:.2f}" r="0.5" fill="{SOFT}"/>'
        )  # fmt: skip
    return parts


def _text(
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    colour: str = INK,
    weight: str = "normal",
    anchor: str = "start",
) -> str:
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" font-weight="{weight}" '
        f'fill="{colour}" text-anchor="{anchor}">{escape(words)}</text>'
    )
