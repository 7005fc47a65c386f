"""Whatever numbers a case may hold, the answer is one: no crash, nothing that JSON cannot say."""

import json
import math

from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from loops import some
from worth_support import asked

from beadworth.core import to_json
from beadworth.core.errors import BeadworthError
from beadworth.worth.answer import work_out
from beadworth.worth.buys import what_it_buys

NUMBER = st.sampled_from([0.0, 1e-9, 0.5, 1.0, 3.7, 1e3, 1e6, 1e12]) | st.floats(0, 1e4)
ESTIMATE = (
    NUMBER
    | st.builds(lambda v, u: {"value": v, "u": u}, NUMBER, st.floats(1e-9, 1e6))
    | st.builds(lambda a, w: {"low": a, "high": a + w}, NUMBER, st.floats(1e-6, 1e6))
    | st.builds(
        lambda a, w, p: {"low": a, "value": a + w * p, "high": a + w},
        NUMBER,
        st.floats(1e-6, 1e6),
        st.floats(0, 1),
    )
)
SHARE = st.floats(0, 0.95) | st.just({"low": 0.0, "high": 0.9})
COST = st.fixed_dictionaries(
    {},
    optional=dict.fromkeys(
        ("parts", "brackets", "tools", "resale", "fitting_hours", "fitting_hour"), ESTIMATE
    ),
)
TIME = st.fixed_dictionaries({}, optional={"printer_hour": ESTIMATE}) | st.fixed_dictionaries(
    {"waiting_hour": ESTIMATE, "waiting_share": SHARE}
)
RUNNING = st.fixed_dictionaries(
    {
        "energy_kwh": NUMBER,
        "power_w": st.floats(0, 9e3),
        "failed": SHARE,
        "candidate_failed": SHARE,
        "filament_kg": ESTIMATE,
    },
) | st.just({})
SECONDS = st.floats(0.1, 1e6)


@given(
    COST,
    TIME,
    RUNNING,
    st.tuples(SECONDS, SECONDS),
    st.tuples(SECONDS, SECONDS),
    st.floats(0.0, 0.9),
    st.floats(0.01, 240.0),
)
# a case costs half a second: what fails is told as found, not made smaller
@settings(max_examples=some(8, long=50), phases=(Phase.reuse, Phase.generate))
def test_any_case_gets_an_answer(cost, time, running, before, after, relative, months):
    case = {"cost": cost, "time": time, "running": running, "months": months}
    try:
        made = asked(case, before=before, after=after, relative=relative)
    except BeadworthError:
        return  # refused in our own words: an amount below 0, a range beyond its bounds
    found = what_it_buys(made, most_batches=4)
    json.dumps(to_json(found), allow_nan=False)
    for result in (found.hours_saved_per_year, found.cost):
        assert result.low <= result.value <= result.high
        assert all(math.isfinite(v) for v in (result.low, result.value, result.high))
    months_back = found.break_even.months
    if months_back.value is not None:
        assert months_back.low <= months_back.value
        assert months_back.high is None or months_back.value <= months_back.high
    if found.break_even.status == "interval":
        assert None not in (months_back.value, months_back.low, months_back.high)
    assert found.sentence.endswith(".")
    assert "nan" not in found.sentence
    assert "inf" not in found.sentence.replace("information", "")
    if found.verdict == "worth it":
        assert found.net.low > 0
    whole = work_out(made)
    json.dumps(to_json(whole), allow_nan=False)
    assert {"do nothing", "B"} <= {row.name for row in whole.table.rows}
