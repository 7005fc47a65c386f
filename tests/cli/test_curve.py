"""The loss curve in plain characters: marks where the ceilings are, within a line of 80."""

import dataclasses

import pytest
from replay_support import make_fit

from beadworth.cli.capacity import SPEEDS, usual_speeds
from beadworth.cli.curve import COLUMNS, describe_curves

FIT = ((200.0, 10.0), (220.0, 14.0))


def test_a_curve_crosses_the_loss_at_its_ceiling():
    fit = make_fit(FIT)
    lines = "\n".join(describe_curves(fit)).splitlines()
    assert max(map(len, lines)) <= 80
    assert all(ord(c) < 128 for line in lines if "|" in line for c in line)
    (level,) = (line for line in lines if "---" in line and "|" in line)
    assert level.startswith(" 2.0 % |")
    flows = [r.flow_mm3_s for r in fit.groups[0].residuals]
    low, high = min(flows), max(flows)
    marks = level.partition("|")[2]
    for mark, ceiling in zip("12", fit.ceilings, strict=True):
        column = (ceiling.flow_mm3_s - low) / (high - low) * (COLUMNS - 1)
        near = [i for i, c in enumerate(marks) if c == mark]
        assert min(abs(i - column) for i in near) <= 1.5, mark
    said = f"2 220 °C: ceiling {fit.ceilings[1].flow_mm3_s:.1f} mm³/s ("
    assert any(line.startswith(said) for line in lines)
    assert any(line.lstrip().startswith(f"{low:g}") and line.endswith("mm³/s") for line in lines)


def test_one_sided_ceilings_say_so():
    fit = make_fit(FIT)
    first, second = fit.ceilings
    fit = dataclasses.replace(fit, ceilings=(
        dataclasses.replace(first, flow_mm3_s=None, low=21.0, high=None),
        dataclasses.replace(second, flow_mm3_s=None, low=None, high=9.0),
    ))  # fmt: skip
    said = "\n".join(describe_curves(fit))
    assert "1 200 °C: ceiling at least 21.0 mm³/s" in said
    assert "2 220 °C: ceiling at most 9.0 mm³/s" in said


@pytest.mark.parametrize(("temperatures", "beads"), [(1, 10), (2, 5), (5, 2), (6, 1), (12, 1)])
def test_the_speeds_printed_are_those_of_usual_beads_at_every_temperature(temperatures, beads):
    from beadworth.capacity import speeds

    fit = make_fit(FIT)
    asked = [200.0 + 20.0 * n / max(temperatures - 1, 1) for n in range(temperatures)]
    found = speeds(fit, temperatures_c=asked).rows
    shown = usual_speeds(found)
    assert len(shown) == min(SPEEDS, temperatures * beads)
    assert (shown[0].width_mm, shown[0].layer_mm) in {(0.45, 0.2), (0.4, 0.2), (0.4, 0.16)}
    if temperatures >= 6:
        assert {(r.width_mm, r.layer_mm) for r in shown} == {(0.45, 0.2)}
