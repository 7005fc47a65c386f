"""``beadworth cause``: the pattern on a wall, or a vibration, becomes a ranked list of sources."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, Next, command, notes, progress
from beadworth.cli.load import is_record_file, load_rig
from beadworth.cli.options import RigArgument, parse_ladder, read_bytes
from beadworth.cli.table import Table
from beadworth.core import InputError
from beadworth.text import fixed, percent, signed_percent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from beadworth.workflow import CauseAnswer, ModeFound, PrintedSide, Vibration, WallRead

app = typer.Typer(help="Name the part that makes a pattern on a wall, from a photo of it.")
PrintArgument = Annotated[
    str, typer.Argument(metavar="PRINT", help="Its G-code file, or the number of a cause wall.")
]
NumberArgument = Annotated[int, typer.Argument(help="Its number, as `cause list` shows it.")]


@command(app, "walls", "cause walls my-rig.toml box.gcode", 'cause walls "My rig" 12')
def walls(call: Call, rig: RigArgument, of: PrintArgument) -> Answer:
    """List the straight walls of a print that a photo can show, with what its program says."""
    from beadworth.workflow import PrintedSides

    record = load_rig(rig, call)
    _, found = _walls(call, record, of)
    rows = [
        (n, side.name, fixed(side.wall.length_mm, 1), side.layers,
         fixed(side.wall.layer_s, 1), "; ".join(side.notes))
        for n, side in enumerate(found, start=1)
    ]  # fmt: skip
    heads = ("wall", "where", "length, mm", "layers", "layer, s", "notes")
    told = "Photograph one near, lit low from one side; then `cause photo` with its four corners."
    return Answer(PrintedSides(tuple(found)), [Table("Walls", heads, rows), told])


def _walls(call: Call, rig: Any, of: str) -> tuple[str, list[PrintedSide]]:
    from beadworth.workflow import print_walls, printed_source

    if of.isdecimal() and not Path(of).exists():
        name, source = printed_source(call.bench, None, f"witness {of}")
    else:
        name, source = Path(of).name, Path(of)
        if not source.is_file():
            raise InputError(
                "cannot be read: no such file.", of,
                remedy="Give a G-code file, or the number of a cause wall.",
            )  # fmt: skip
    with progress("Looking for walls"):
        return name, print_walls(source, rig, name)


@command(
    app,
    "photo",
    'cause photo my-rig.toml box.gcode wall.jpg --wall 1 --corners "96,1141 2303,1130 2305,82 '
    '94,70"',
    'cause photo "My rig" 12 slow.jpg fast.jpg --wall 1 --corners "96,1141 2303,1130 2305,82 '
    '94,70" --wall 9 --corners "90,1130 2290,1128 2292,75 92,72" --looked dust=no --keep',
)
def photo(
    call: Call,
    rig: RigArgument,
    of: PrintArgument,
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO...", help="One for each wall.")],
    wall: Annotated[
        list[int], typer.Option(help="Which wall it shows, as `cause walls` numbers them; repeat.")
    ],
    corners: Annotated[
        list[str],
        typer.Option(metavar="PLACES", help="Column,row in pixels of bottom left, bottom right, "
                     "top right, top left; repeat for each photo."),
    ],
    looked: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY=yes|no", help="Answer to a question; repeat."),
    ] = None,
    gauge: Annotated[
        Path | None,
        typer.Option(metavar="FILE.csv", help="Place and offset, mm, measured along the first "
                     "wall at even steps: calipers or dial indicator."),
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Record it with the rig, which must be on the bench.")
    ] = False,
) -> Answer:  # fmt: skip
    """Rank what makes the pattern, with probabilities, from photos of a print's walls."""
    from beadworth.workflow import (
        cause_view,
        pick_wall,
        place_corners,
        rank_causes,
        read_gauge,
        store_cause,
        take_photo,
    )

    if keep and is_record_file(rig):
        raise InputError(
            "a reading is recorded with a rig of the bench, not with a file.", "--keep", rig,
            "Give the rig's name, or leave out --keep.",
        )  # fmt: skip
    if not len(photos) == len(wall) == len(corners):
        raise InputError(
            f"{len(photos)} photos, {len(wall)} --wall and {len(corners)} --corners were given.",
            "command line", None, "Give --wall and --corners once for each photo, in its order.",
        )  # fmt: skip
    record = load_rig(rig, call)
    name, sides = _walls(call, record, of)
    answers = dict(_yes_or_no(word) for word in looked or [])
    row = None if gauge is None else read_gauge(read_bytes(gauge), gauge.name)
    read = []
    with progress("Reading the photos"):
        for path, number, places in zip(photos, wall, corners, strict=True):
            taken = take_photo(read_bytes(path), path.name)
            read.append(place_corners(taken, pick_wall(sides, number), places.split()))
        answer = rank_causes(record, read, answers, row)
    stored = store_cause(call.bench, record.name, name, read, answer, answers) if keep else None
    view = cause_view(answer, read, name, stored.id if stored else None)
    step = Next(("cause", "show", str(stored.id))) if stored else None
    return Answer(view, _said(answer, read), step)


def _yes_or_no(word: str) -> tuple[str, bool]:
    key, sign, value = word.partition("=")
    if not sign or value not in ("yes", "no"):
        raise InputError(f"{word!r} is no answer.", "--looked", word, "Write it as dust=no.")
    return key.strip().replace("-", " "), value == "yes"


def _causes(title: str, found: Iterable[Any]) -> Table:
    from beadworth.workflow import LISTED, describe_bounds, main_cause, sure

    return Table(
        title,
        ("cause", "probability", "period", "size, µm"),
        [(main_cause(c.name), sure(c.probability), describe_bounds(c.period, c.unit),
          describe_bounds(c.size_um, "measured" if c.measured else ""))
         for c in found if c.probability >= LISTED],
    )  # fmt: skip


def _said(answer: CauseAnswer, read: Sequence[WallRead]) -> Iterator[str | Table]:
    from beadworth.workflow import describe_bounds, sure, unseen_lines

    yield answer.verdict
    yield _causes("Causes", answer.causes)
    if answer.second:
        beside = answer.second
        yield (
            f"Beside it: {beside.name} ({sure(beside.probability)}), "
            f"{describe_bounds(beside.period, beside.unit)}"
            + (f", {describe_bounds(beside.size_um, 'µm')}." if beside.size_um else ".")
        )
    if answer.ringing:
        ring = answer.ringing
        yield (
            f"Ringing: {sure(ring.probability)}, {describe_bounds(ring.hertz, 'Hz')}, damping "
            f"ratio {describe_bounds(ring.damping)}, {describe_bounds(ring.size_um, 'µm')} at the "
            "corner."
        )
    for line in unseen_lines(answer):
        yield f"Cannot tell: {line}"
    for kind, asked in (("Look", answer.questions), ("Test", answer.tests)):
        for q in asked:
            key = q.key.replace(" ", "-")
            yield f"{kind}: {q.words} ({q.bits:.2f} bits; --looked {key}=yes or no)"
    yield from notes(note for one in read for note in one.notes)


@command(app, "list", "cause list")
def list_(
    call: Call,
    rig: Annotated[str | None, typer.Argument(help="A rig's name; left out: all.")] = None,
) -> Answer:
    """List the readings of walls on the bench."""
    from beadworth.workflow import CauseList, cause_readings

    found = cause_readings(call.bench, rig)
    table = Table.of(
        "Readings of walls",
        found,
        {"number": "id", "rig": "subject", "day": lambda one: str(one.record.on),
         "counts": lambda one: "yes" if one.state == "current" else "no",
         "what it says": lambda one: one.record.verdict},
    )  # fmt: skip
    return Answer(CauseList(tuple(found)), [table])


@command(app, "show", "cause show 12", "cause show 12 --journal")
def show(
    call: Call,
    number: NumberArgument,
    journal: Annotated[
        bool, typer.Option("--journal", help="Put it into the rig's journal too.")
    ] = False,
) -> Answer:
    """Show a reading of a wall as it was recorded."""
    from beadworth.workflow import journal_of_cause, one_cause

    found = one_cause(call.bench, number)
    if journal:
        journal_of_cause(call.bench, found)
    lines = [found.record.verdict]
    if found.state != "current":
        lines.append(f"It does not count: {found.reason}.")
    return Answer(found, [*lines, _causes(f"Causes, {found.subject}", found.record.causes)])


@command(app, "void", 'cause void 12 --reason "wrong wall"')
def void(
    call: Call,
    number: NumberArgument,
    reason: Annotated[str, typer.Option(help="Why it no longer counts.")],
) -> Answer:
    """Let a reading no longer count; it stays on the bench with the reason."""
    from beadworth.workflow import void_cause

    found = void_cause(call.bench, number, reason)
    return Answer(found, [f"Reading {number} no longer counts."])


@command(app, "modes", "cause modes shaken.csv --acceleration 1000,2000,4000", uses_bench=False)
def modes(
    call: Call,
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="time_s, x_m_s2, y_m_s2 …")],
    acceleration: Annotated[
        str, typer.Option(metavar="MM/S²", help="Accelerations to tell the ripple at.")
    ] = "500,1000,2000,4000,8000",
    speed_step: Annotated[
        float, typer.Option(metavar="MM/S", help="A change of speed to tell it of.")
    ] = 100.0,
) -> Answer:
    """Find the modes of an axis in an accelerometer's record, and what they leave on a wall."""
    from beadworth.workflow import read_vibration

    ladder = parse_ladder(acceleration, "--acceleration")
    with progress("Reading the record"):
        found = read_vibration(read_bytes(file), file.name, ladder, speed_step)
    return Answer(found, _vibration(found))


def _vibration(found: Vibration) -> Iterator[str | Table]:
    from beadworth.workflow import describe_bounds

    every = [mode for axis in found.axes for mode in axis.modes]
    yield f"{found.seconds:.1f} s at {found.rate_hz:.0f} readings a second."
    if not every:
        yield "No mode stands out of the noise. Shake or knock the axis harder."
        return
    yield Table(
        "Modes",
        ("axis", "frequency, Hz", "damping ratio", "times noise"),
        [(m.axis, describe_bounds(m.hertz), describe_bounds(m.damping), fixed(m.times_floor, 0))
         for m in every],
    )  # fmt: skip
    yield Table(
        "Ripple, µm: the most of any change of speed, and of one of "
        f"{found.speed_step_mm_s:g} mm/s",
        ("mode", *(f"{r.acceleration_mm_s2:g} mm/s²" for r in every[0].ripples)),
        [(_name(m), *(f"{r.worst_um:.0f}, {r.of_step_um:.0f}" for r in m.ripples)) for m in every],
    )
    yield Table(
        "Left of the vibration by command filters, by error of the frequency",
        ("mode", "filter", *(signed_percent(error, 0) for error in found.errors)),
        [(_name(m), f.filter, *(percent(v, 0) for v in f.left)) for m in every for f in m.filters],
    )


def _name(mode: ModeFound) -> str:
    return f"{mode.axis}, {mode.hertz.value:.1f} Hz"
