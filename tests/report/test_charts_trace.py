"""The trace of a live weighing is drawn as it was read, above the flow that was asked for."""

import pytest
from chart_support import check_drawn
from ramp_case import short_ramp, short_trace

from beadworth.ramp import sections_of
from beadworth.report import NARROW_PX, WIDE_PX, trace_chart

SPEC = short_ramp()
TRACE = short_trace(SPEC)
CHART = trace_chart(TRACE, sections_of(SPEC), 4.2, 13.0)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_the_trace_is_drawn_from_its_first_row_to_its_last(px):
    check_drawn(CHART, px)
    read = [row for row in CHART.rows if row["part"] == "read"]
    assert (read[0]["minutes"], read[-1]["minutes"]) == (0.0, round(TRACE.seconds / 60, 3))
    assert read[-1]["mass_g"] == pytest.approx(TRACE.mass_g[-1], abs=1e-3)
    asked = [row["flow_mm3_s"] for row in CHART.rows if row["part"] == "asked"]
    assert (max(asked), asked[-1]) == (pytest.approx(13.92, abs=0.01), 0.0)
