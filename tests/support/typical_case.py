"""A trial beside others of its class; all invented."""

from beadworth.report.charts.chart import render_svg
from beadworth.typical.classes import HotEndClass, TrialCeiling, typical

LONG = HotEndClass("long", "usual")


def ceiling(trial, flow, temperature=220.0, half=0.4, **more):
    given = {
        "trial": trial, "label": f"Trial {trial}?", "rig": f"rig {trial}", "material": "PLA",
        "hot_end": LONG, "temperature_c": temperature, "flow_mm3_s": flow, "low": flow - half,
        "high": flow + half, "confidence": 0.95, "simulated": False, "source": "package",
    }  # fmt: skip
    return TrialCeiling(**given | more)


OTHERS = [ceiling(n, f) for n, f in (("a", 14.0), ("b", 15.0), ("c", 15.5), ("d", 16.2))]


def made(flow, others=OTHERS):
    return typical([ceiling("me", flow, source="this")], others)


def drawn_px(chart, width_px):
    """How wide the picture is."""
    return float(render_svg(chart, width_px=width_px).split('width="', 1)[1].split('"', 1)[0])
