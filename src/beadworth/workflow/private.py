"""What looks private in what is about to be published: named with its place, changed by nobody."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import TYPE_CHECKING, Any

from beadworth.core import to_mapping
from beadworth.datapackage import PublicationOptions
from beadworth.report import section_texts
from beadworth.text import LEFT_OUT, PrivatePart, count, private_parts
from beadworth.workflow.publish import PARTS, shown_data
from beadworth.workflow.report import report_data

if TYPE_CHECKING:
    from beadworth.core import Record
    from beadworth.report import ReportData
    from beadworth.store import Bench
    from beadworth.trial import Reading
    from beadworth.workflow.publish import Part

LOOK_AT = "Look at this before you publish; only you can say whether it may go out:"
"""What stands over the lines of :func:`look_at`."""
_PLACES = 3
_RIG_ON_PAGES = frozenset({"source", "known", "note"})
"""Of a rig, what pages leave out; a data package leaves out the note alone."""
_MATERIAL_ON_PAGES = ("name", "fumes_note")
Placed = tuple[str, str]
"""Where a text stands, and the text."""


def look_at(
    data: ReportData, options: PublicationOptions, parts: Collection[Part] = PARTS
) -> tuple[str, ...]:
    """What of a trial's publication looks like a path, an e-mail address, a phone or a host.

    Parameters
    ----------
    data : ReportData
        As gathered; what the options leave out is not looked at.
    parts : collection of Part
        What is written.

    Returns
    -------
    tuple of str
        One sentence for each thing seen: what, as what it looks, and where it stands. Empty
        where there is nothing. Names of people are not recognised.
    """
    package = "package" in parts
    shown = shown_data(data, options)
    texts = [*_typed(shown, package)]
    if package:
        texts.append(("whom to cite", options.creator))
    texts += section_texts(shown, shown.section_data)
    return _sentences(texts, package)


def look_at_package(
    bench: Bench, trial: str, options: PublicationOptions | None = None
) -> tuple[str, ...]:
    """The same for the data package of a trial; nothing is said of one that was imported."""
    if all(record.id != trial for record in bench.outlines()):
        return ()
    data = report_data(bench, trial, sections=())
    package: tuple[Part, ...] = ("package",)
    return look_at(data, options or PublicationOptions(), package)


def look_at_records(*records: tuple[str, Record]) -> tuple[str, ...]:
    """The same for records that go into a data package, each with what it is: ``rig``."""
    texts = [one for kind, record in records for one in _of_record(record, kind, {"note"})]
    return _sentences(texts, package=True)


def look_at_readings(readings: Iterable[Reading]) -> tuple[str, ...]:
    """The same for a table of readings."""
    return _sentences([one for reading in readings for one in _of_reading(reading)], package=False)


def _typed(data: ReportData, package: bool) -> Iterator[Placed]:
    yield "question of the trial", data.question
    yield "who supplied the hardware", data.disclosure
    for rig in data.rigs:
        yield from _of_record(rig, "rig", {"note"} if package else _RIG_ON_PAGES)
    for material in data.materials or ((data.material,) if data.material else ()):
        hidden = {"note"}
        if not package:
            hidden = set(type(material).model_fields) - set(_MATERIAL_ON_PAGES)
        yield from _of_record(material, "material", hidden)
    for entry in data.entries:
        yield from _of_reading(entry.reading)
        yield f"why a reading of {_coupon(entry.reading)} no longer counts", entry.reason
    for number, amendment in enumerate(data.amendments, 1):
        yield f"amendment {number}", f"{amendment.what}\n{amendment.reason}"


def _of_record(record: Record, kind: str, hidden: Collection[str]) -> Iterator[Placed]:
    data = {name: value for name, value in to_mapping(record).items() if name not in hidden}
    where = f"{kind} {data['name']}"
    for field, text in _strings(data):
        yield f"{where}, {field}", text


def _strings(value: Any, field: str = "") -> Iterator[Placed]:
    if isinstance(value, str):
        yield field, value
    elif isinstance(value, dict):
        for name, inner in value.items():
            if name != "note":
                yield from _strings(inner, f"{field}.{name}".lstrip("."))
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from _strings(inner, field)


def _coupon(reading: Reading) -> str:
    if reading.coupon:
        return f"coupon {reading.coupon}"
    return f"{reading.flow_mm3_s:g} mm³/s at {reading.temperature_c:g} °C"


def _of_reading(reading: Reading) -> Iterator[Placed]:
    coupon = _coupon(reading)
    yield f"note of {coupon}", reading.note or ""
    yield f"name of {coupon}", reading.coupon or ""
    yield f"rig of {coupon}", reading.rig
    yield f"material of {coupon}", reading.material


def _sentences(texts: Iterable[Placed], package: bool) -> tuple[str, ...]:
    """One sentence for each thing seen, in order of its first place."""
    found: dict[tuple[str, str], tuple[PrivatePart, dict[str, None]]] = {}
    for where, text in texts:
        for part in private_parts(text):
            _, places = found.setdefault((part.kind, part.seen), (part, {}))
            places[where] = None
    return tuple(_sentence(part, list(places), package) for part, places in found.values())


def _sentence(part: PrivatePart, places: list[str], package: bool) -> str:
    replaced = package and part.is_left_out
    then = f"; the data package has {LEFT_OUT} in its place." if replaced else "."
    return f"{part.seen} looks like {part.words}: {_named(places)}{then}"


def _named(places: list[str]) -> str:
    more = len(places) - _PLACES
    named = "; ".join(places[:_PLACES])
    return f"{named}; {count(more, 'more place')}" if more > 0 else named
