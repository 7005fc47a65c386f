"""Whatever a bench may hold comes back byte for byte: texts, numbers, bounds, what is missing."""

import dataclasses
from datetime import UTC, date, datetime

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from loops import some

from beadworth.capacity import Ceiling, Curve, Delivery, Family, GroupFit
from beadworth.datapackage import (
    LICENCES,
    PublicationOptions,
    package_files,
    read_package,
    write_package,
)
from beadworth.material import Material
from beadworth.report.data import ReadingEntry, ReportData
from beadworth.rig import HotEnd, Rig
from beadworth.trial import Amendment, Reading

ENTERED = datetime(2031, 4, 2, 12, 40, tzinfo=UTC)
TEXT = st.text(max_size=12)
NAME = st.text(
    st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=12
)
PLUS = st.floats(0.01, 2000, allow_nan=False)
MAYBE = st.none() | PLUS


@st.composite
def readings(draw, rigs, materials):
    tare = draw(st.none() | st.floats(0, 50))
    return Reading(
        draw(st.sampled_from(rigs)), draw(st.sampled_from(materials)), draw(st.floats(150, 400)),
        draw(PLUS), draw(st.floats(1, 1e5)), (tare or 0) + draw(st.floats(0.001, 100)),
        coupon=draw(st.none() | NAME), replicate=draw(st.none() | st.integers(1, 20)),
        tare_g=tare, diameter_mm=draw(st.none() | st.floats(0.5, 5)),
        reference=draw(st.booleans()), void=draw(st.booleans()), note=draw(st.none() | TEXT),
    )  # fmt: skip


@st.composite
def ceilings(draw, rig, material, temperature):
    bound = draw(st.sampled_from(["interval", "at-least", "at-most"]))
    low, high = sorted((draw(PLUS), draw(PLUS)))
    return Ceiling(
        rig, material, temperature, 0.02, (low + high) / 2 if bound == "interval" else None,
        None if bound == "at-most" else low, None if bound == "at-least" else high, bound,
        extrapolated=draw(st.booleans()), basis=draw(st.sampled_from(["readings", "law"])),
    )  # fmt: skip


@st.composite
def groups(draw, rig, material, temperature):
    flow = np.linspace(1.0, draw(st.floats(2, 40)), 5)
    loss = np.array(draw(st.lists(st.floats(-0.1, 1), min_size=5, max_size=5)))
    high = loss + draw(st.sampled_from([0.01, np.nan, np.inf]))
    curve = Curve(rig, material, temperature, flow, loss, loss - 0.01, high, 0.95,
                  *draw(st.sampled_from([(None, None), (1.0, 7.5)])))  # fmt: skip
    return GroupFit(rig, material, (Family("soft knee", 1.0, {}, {}),), 0.005, 9.0, None, (),
                    (curve,), (Delivery(rig, material, temperature, 3.0, 0.1, None, None,
                                        "references"),), None, ())  # fmt: skip


@st.composite
def trials(draw):
    rigs = draw(st.lists(NAME, min_size=1, max_size=3, unique=True))
    materials = draw(st.lists(NAME, min_size=1, max_size=2, unique=True))
    heats = draw(st.lists(st.floats(150, 400), min_size=1, max_size=3, unique=True))
    weighed = draw(st.lists(readings(rigs, materials), min_size=1, max_size=6))
    states = st.sampled_from(["current", "voided", "superseded"])
    entries = tuple(ReadingEntry(r, state=draw(states), reason=draw(TEXT)) for r in weighed)
    cells = [(rig, m, t) for rig in rigs for m in materials for t in heats]
    chosen = draw(st.lists(st.sampled_from(cells), max_size=4, unique=True))
    return ReportData(
        question=draw(NAME),
        rigs=tuple(
            Rig(name=name, price=draw(st.none() | st.floats(0, 1e4)), supplied_by=draw(TEXT),
                simulated=draw(st.booleans()),
                hot_end=HotEnd(melt_zone_mm=draw(st.none() | st.floats(1, 60))))
            for name in rigs
        ),
        material=None,
        materials=tuple(
            Material(name=name, density_g_cm3=draw(st.floats(0.3, 11)), min_temperature_c=190.0,
                     max_temperature_c=240.0, source=draw(st.none() | TEXT))
            for name in materials
        ),
        generated_at=draw(st.dates(date(1990, 1, 1), date(2090, 1, 1))),
        candidate=draw(st.none() | NAME),
        entries=entries,
        groups=tuple(draw(groups(*cell)) for cell in chosen),
        ceilings=tuple(draw(ceilings(*cell)) for cell in chosen),
        amendments=tuple(
            draw(st.lists(st.builds(Amendment, st.just(ENTERED), TEXT, TEXT), max_size=2))
        ),
        disclosure=draw(TEXT),
        versions=draw(st.dictionaries(NAME, NAME, max_size=2)),
        simulated=draw(st.booleans()),
    )  # fmt: skip


SHOWN = st.builds(
    PublicationOptions,
    st.sampled_from(sorted(LICENCES)),
    TEXT,
    notes=st.booleans(),
    prices=st.booleans(),
)
THOROUGH = settings(
    max_examples=some(25, long=200), deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip


@THOROUGH
@given(trials(), SHOWN)
def test_what_was_written_is_read_and_written_again_byte_for_byte(data, shown):
    files = package_files(data, shown)
    again = write_package(read_package(files))
    assert again == files


@THOROUGH
@given(trials())
def test_every_weighing_comes_back_with_its_numbers_whole(data):
    back = read_package(package_files(data)).entries
    assert len(back) == len(data.entries)
    for was, is_ in zip(data.entries, back, strict=True):
        for field in ("temperature_c", "flow_mm3_s", "filament_mm", "mass_g", "tare_g",
                      "diameter_mm", "replicate", "reference"):  # fmt: skip
            assert getattr(is_.reading, field) == getattr(was.reading, field)
        assert (is_.state == "current") == (was.state == "current" and not was.reading.void)


@given(trials())
@settings(THOROUGH, max_examples=some(10, long=30))
def test_the_day_alone_tells_two_publications_apart(data):
    later = dataclasses.replace(data, generated_at=date(2091, 2, 3))
    first, second = package_files(data), package_files(later)
    dated = {"datapackage.json", "README.md", "CITATION.cff"}
    assert {n for n in first if first[n] != second[n]} == dated
