"""A case of worth that its charts and its section are drawn for, and what holds for its charts."""

import functools
import json
import re

import vl_convert
from worth_support import asked

from beadworth import worth
from beadworth.report.charts.chart import with_theme

CASE = {
    "cost": {"parts": {"low": 100.0, "high": 140.0}, "fitting_hours": {"value": 5.0, "u": 1.0},
             "fitting_hour": 20.0},
    "time": {"printer_hour": {"value": 1.5, "u": 0.2}},
    "criteria": [
        {"name": "cost", "better": "less", "worst": 1000.0, "best": 0.0},
        {"name": "hours saved", "unit": "h/year", "worst": 0.0, "best": 200.0},
    ],
    "options": [
        {"name": "wider nozzle", "cost": 10.0,
         "effects": {"hours saved": {"low": 0.0, "high": 8.0, "evidence": "predicted"}}},
        {"name": "dear and idle", "cost": 900.0,
         "effects": {"hours saved": {"value": 1.0, "evidence": "claimed"}}},
        {"name": "hearsay", "cost": 50.0},
    ],
}  # fmt: skip


def work_out(request):
    """What is answered to a case, worked out once for all processes of a run."""
    return worth.work_out(request)


@functools.cache
def found():
    """What is answered to this one."""
    return work_out(asked(CASE, relative=0.05))


def check_drawn(chart, width_px, capfd):
    """It draws without a warning, fits its column, and says what it shows."""
    spec = with_theme(chart, width_px=width_px)
    svg = vl_convert.vegalite_to_svg(spec, vl_version="6.4", show_warnings=True)
    out, err = capfd.readouterr()
    assert (out + err).strip() == ""
    drawn = float(re.search(r'width="([\d.]+)"', svg)[1])
    assert 0.75 * width_px < drawn < 1.06 * width_px
    assert chart.title
    assert chart.alt
    assert not re.search(r"#[0-9a-f]{6}", json.dumps(chart.draw(width_px)))
    assert json.loads(json.dumps(chart.rows, allow_nan=False)) == chart.rows
