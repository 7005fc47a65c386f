"""Values in question, and what is not checked for want of a value: one message each."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.fit.check import Case, Found, Missing, Rule, UnknownError
from beadworth.rig import questions


def doubts_of(case: Case) -> list[tuple[str, str]]:
    """Every value of the rig that looks like a slip: its path, and what is odd about it."""
    found = {question.path: str(question) for question in questions(case.rig)}
    hot_end = case.rig.hot_end
    end, length, cold = hot_end.liner_end_mm, hot_end.heat_break_mm, hot_end.cold_side_c
    if end is not None and length is not None and end > length:
        path = "hot_end.liner_end_mm"
        found[path] = f"{path} {end:g}, beyond the heat break of {length:g} mm"
    hot = case.temperature_c
    if cold is not None and hot is not None and cold >= hot:
        path = "hot_end.cold_side_c"
        found[path] = f"{path} {cold:g}, not below the nozzle's {hot:g} °C"
    return list(found.items())


def rule(doubts: Sequence[tuple[str, str]]) -> Rule:
    """All of them as one check; none where nothing is odd."""

    def find(_: Case) -> Found | None:
        if not doubts:
            return None
        return Found(
            float(len(doubts)),
            f"Check the unit of: {'; '.join(words for _, words in doubts)}. What rests on them is "
            "not simply said to fit.",
            limit=0.0,
            verdict="look closer",
        )

    return Rule("values in question", "values", "Values in question", find)


def _unchecked(case: Case) -> Found | None:
    """Fields without which a check is left out altogether."""
    rig, axes = case.rig, case.rig.axes
    wanting = [
        f"axes.{axis}.{name}"
        for axis in "xyz"
        if (record := getattr(axes, axis)) is not None
        for name, needed in (
            ("set_current_a", record.motor is not None),
            ("belt_tension_n", axis in "xy" and record.drive != "screw"),
        )
        if needed and getattr(record, name) is None
    ]
    if rig.extruder.motor is not None and rig.extruder.set_current_a is None:
        wanting.append("extruder.set_current_a")
    if rig.electrics.bed_heater_w and rig.electrics.bed_output_a is None:
        wanting.append("electrics.bed_output_a")
    part_fans = [n for n, fan in enumerate(rig.fans) if fan.purpose == "part"]
    if case.changed("fans"):
        wanting += [f"fans.{n}.airflow_m3_h" for n in part_fans if not rig.fans[n].airflow_m3_h]
    if wanting:
        raise UnknownError(*map(Missing, wanting))
    return None


UNCHECKED = Rule("left unchecked", "", "Left unchecked", _unchecked)
