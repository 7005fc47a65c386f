"""The program of a flow ramp: read back as the printer would, inside the limits, as foretold."""

import re
from itertools import pairwise

import pytest
from ramp_case import short_ramp

from beadworth.core import LimitError, feed_mm_s, filament_section_mm2, from_toml
from beadworth.demo import PLA, STOCK
from beadworth.ramp import RampSpec, ramp_outlook, ramp_program, sections_of
from beadworth.ramp.program import PRIME_MM3, SOAK_S
from beadworth.ramp.record import PAUSE_S, RAISE_MM
from beadworth.trial import Pace

SPEC = short_ramp(
    STOCK.name, PLA.name, temperatures_c=(230.0, 205.0), cycles=2, lowest_mm3_s=(6.0,),
    highest_mm3_s=(13.0,),
)  # fmt: skip
MADE = ramp_program(SPEC, STOCK, PLA)
SECTION = filament_section_mm2(STOCK.filament_diameter_mm)


def still_moves(text):
    """(seconds, flow) of each extrusion and dwell, as a printer runs them: E in mm, F in mm/min."""
    feed = None
    for line in text.splitlines():
        if dwell := re.fullmatch(r"G4 P(\d+)", line):
            yield int(dwell[1]) / 1000.0, 0.0
        if move := re.fullmatch(r"G1 E(-?[\d.]+)(?: F([\d.]+))?", line):
            feed = float(move[2]) / 60.0 if move[2] else feed
            yield abs(float(move[1])) / feed, float(move[1]) / abs(float(move[1])) * feed * SECTION


def test_the_printer_does_what_the_steps_say():
    moves = list(still_moves(MADE.text))
    for section in sections_of(SPEC):
        flows = [s.flow_mm3_s for s in section.steps if s.cycle == 1]
        ran = [round(q, 2) for _, q in moves]
        assert [round(q, 2) for q in flows[:5]] == ran[ran.index(round(flows[0], 2)) :][:5]
    fed = sum(t * q for t, q in moves if q > 0)
    total = sum(s.volume_mm3 for sec in sections_of(SPEC) for s in sec.steps) + 2 * PRIME_MM3
    assert fed == pytest.approx(total, rel=1e-4)


def test_the_steps_take_the_time_the_analysis_reckons_with():
    moves = list(still_moves(MADE.text))
    begin = next(i for i, (t, q) in enumerate(moves) if q == 0 and t == SOAK_S)
    end = next(i for i, (t, q) in enumerate(moves) if i > begin and q == 0 and t > SOAK_S)
    section = sections_of(SPEC)[0]
    ran = sum(t for t, _ in moves[begin + 1 : end])
    prime = PRIME_MM3 / section.steps[0].flow_mm3_s + PAUSE_S
    lift = RAISE_MM / Pace(STOCK).lift_mm_s  # a travel, no extrusion and no dwell
    assert ran - prime == pytest.approx(section.seconds - lift, abs=0.1)


def test_heaters_end_off_and_the_nozzle_only_rises():
    lines = [line.split(";")[0].strip() for line in MADE.text.splitlines()]
    heats = [line for line in lines if line.startswith(("M104", "M109"))]
    assert heats[-1] == "M104 S0"
    assert [h for h in heats if "S0" not in h] == ["M109 S230", "M109 S205"]
    heights = [float(m[1]) for line in lines if (m := re.search(r"\bZ([\d.]+)", line))]
    assert heights == sorted(heights)
    assert heights[0] == 105.0
    pause = lines.index("M0")
    assert pause < lines.index(heats[0])


def test_the_header_holds_the_record_and_the_cautions():
    head = MADE.text[: MADE.text.index("G21")]
    text = "\n".join(line.removeprefix(";").strip() for line in head.splitlines())
    record = text[text.index("RAMP RECORD") :].split("\n", 1)[1]
    assert from_toml(RampSpec, record, "header") == SPEC
    for words in ("CAUTIONS", "burns what it lands on", "HOW LONG about", "never tare"):
        assert words in text


def test_everything_outside_the_limits_is_refused_at_once():
    asked = SPEC.model_copy(
        update={"temperatures_c": (400.0,), "cup_height_mm": 300.0, "cup_capacity_ml": 10.0}
    )
    with pytest.raises(LimitError) as error:
        ramp_program(asked, STOCK, PLA)
    assert [p.what.split(";")[0].split(" (")[0] for p in error.value.problems] == [
        "400 °C is above the hot end's limit of 260 °C.",
        "400 °C is above what PLA, chalk white may see, 245 °C.",
        "balance and cup are 300 mm high",
        "the strands would fill about 34 ml",
    ]
    fast = SPEC.model_copy(update={"highest_mm3_s": (400.0,), "cup_capacity_ml": 99999.0})
    with pytest.raises(LimitError, match="faster than the extruder"):
        ramp_program(fast, STOCK, PLA)
    assert feed_mm_s(400.0, 1.75) > STOCK.extruder.max_feed_mm_s


def test_more_cycles_cost_more_and_tell_more():
    rows = ramp_outlook(SPEC, density_g_cm3=1.24)
    assert [r.cycles for r in rows] == [1, 2, 3, 4, 5]
    for one, two in pairwise(rows):
        assert two.minutes > one.minutes
        assert two.grams > one.grams
        assert two.sharp_mm3_s < one.sharp_mm3_s < one.soft_mm3_s
    two_cycles = sections_of(SPEC)
    assert rows[1].minutes == pytest.approx(sum(s.seconds for s in two_cycles) / 60)
