"""What a trial gives the melt model: a standard uncertainty from an interval of any confidence."""

import pytest

from beadworth.capacity import Ceiling, Fit, measured_ceilings


def fit_of(*ceilings):
    return Fit(0.02, 0.95, ceilings, ())


# half-widths of a normal distribution of sigma 1 (standard tables, five digits)
@pytest.mark.parametrize(("confidence", "half"), [(0.90, 1.64485), (0.95, 1.95996), (0.6827, 1.0)])
def test_the_uncertainty_is_the_interval_over_the_width_of_its_confidence(confidence, half):
    one = Ceiling(
        "a", "PLA", 220.0, 0.02, 18.0, 18.0 - 0.5 * half, 18.0 + 0.5 * half, "interval", confidence
    )
    (found,) = measured_ceilings(fit_of(one), "a")
    assert (found.temperature_c, found.flow_mm3_s) == (220.0, 18.0)
    assert found.u_mm3_s == pytest.approx(0.5, rel=2e-4)


def test_only_ceilings_read_from_both_sides_of_the_rig_asked_for_count():
    good = Ceiling("a", "PLA", 220.0, 0.02, 18.0, 17.0, 19.0, "interval")
    others = (
        Ceiling("b", "PLA", 220.0, 0.02, 18.0, 17.0, 19.0, "interval"),
        Ceiling("a", "PETG", 230.0, 0.02, 18.0, 17.0, 19.0, "interval"),
        Ceiling("a", "PLA", 230.0, 0.02, None, 17.0, None, "at-least"),
        Ceiling("a", "PLA", 240.0, 0.02, 18.0, 17.0, 19.0, "interval", basis="law"),
    )
    found = measured_ceilings(fit_of(good, *others), "a", "PLA")
    assert [c.temperature_c for c in found] == [220.0]
    assert len(measured_ceilings(fit_of(good, *others), "a")) == 2
