"""``beadworth balance``: a balance by cable, its lines learnt once and stored under a name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from beadworth.cli.command import Answer, Call, Next, command, notes, progress
from beadworth.cli.table import Table

if TYPE_CHECKING:
    from beadworth.trial import Cable

app = typer.Typer(help="Connect a balance by cable, and read it.")
LONGEST_S = 20.0

PortArgument = Annotated[str, typer.Argument(help="Serial port, as `balance ports` lists it.")]
SpeedOption = Annotated[
    str, typer.Option(help="Baud, or find: listens at the usual ones, up to 45 s.")
]
FrameOption = Annotated[str, typer.Option(help="Data bits, parity and stop bits: 8N1, 7E1, 7O1.")]
RequestOption = Annotated[
    str, typer.Option(help=r"What asks for a line, \r and \n put in; left out: it sends by itself.")
]


@command(app, "ports", "balance ports", uses_bench=False)
def ports(call: Call) -> Answer:
    """List the serial ports of this computer now."""
    from beadworth.workflow import serial_ports

    found = serial_ports()
    if not found:
        lines: list[str | Table] = ["This computer has no serial port now. Plug the adapter in."]
    else:
        lines = [Table.of("Ports", found, {"port": "port", "description": "description"})]
    return Answer({"ports": found}, lines)


@command(app, "listen", "balance listen /dev/ttyUSB0 --speed find", uses_bench=False)
def listen(
    call: Call,
    port: PortArgument,
    speed: SpeedOption = "9600",
    frame: FrameOption = "8N1",
    request: RequestOption = "",
    seconds: Annotated[float, typer.Option(help="How long.")] = 5.0,
) -> Answer:
    """Show the lines that come from a port, as they are."""
    from beadworth.core import CableError
    from beadworth.workflow import BalanceListener

    cable = _cable(port, speed, frame, request)
    with BalanceListener(cable) as listener:
        now = listener.wait(lambda _: False, seconds)
        if now.trouble and not now.lines:
            raise CableError(now.trouble)
    shown = [f"{len(line):3d}  {_visible(line)}" for line in now.raw]
    return Answer(
        {"cable": cable, "lines": now.raw},
        [f"{cable.speed_bd} baud, {cable.frame}. Characters, then the line:", *shown],
        Next(("balance", "learn", "My balance", port), "if these look like lines of the balance"),
    )


@command(
    app,
    "learn",
    'balance learn "My balance" /dev/ttyUSB0',
    r'balance learn "My balance" COM4 --speed 2400 --frame 7E1 --request "P\r\n"',
)
def learn(
    call: Call,
    name: Annotated[str, typer.Argument(help="A name of your own for the balance.")],
    port: PortArgument,
    speed: SpeedOption = "9600",
    frame: FrameOption = "8N1",
    request: RequestOption = "",
    by_key: Annotated[
        bool, typer.Option("--by-key", help="It sends a line only when its key is pressed.")
    ] = False,
    unit: Annotated[
        str | None, typer.Option(help="Unit on the display, where the lines have none.")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Store without asking.")] = False,
) -> Answer:
    """Learn the lines of a balance from a few of them, show the format in words, and store it."""
    from beadworth.trial import CabledBalance, learn_format
    from beadworth.workflow import (
        CABLE_CAUTIONS,
        BalanceListener,
        collect_lines,
        describe_balance,
        store_balance,
    )

    cable = _cable(port, speed, frame, request, by_key)
    pressed = ", then press its key three times" if by_key else ""
    for caution in CABLE_CAUTIONS:
        _tell(call, f"Note: {caution}")
    with BalanceListener(cable) as listener:
        _ask(call, f"Empty the pan and tare it. Once the display is at rest, press Enter{pressed}")
        collect_lines(listener, "empty")
        listener.begin("moving")
        _ask(call, "Put a piece of some grams on the pan. Once the display is at rest, press "
                   f"Enter{pressed}")  # fmt: skip
        collect_lines(listener, "loaded")
        samples = listener.samples()
    shown = _ask(call, "What does the display show now, for example 12.34 (Enter alone: skip)")
    balance = CabledBalance(
        name=name, cable=cable, lines=learn_format(samples, unit=unit, shown=shown)
    )
    words = describe_balance(balance)
    for line in words:
        _tell(call, line)
    if not (yes or typer.confirm(f"Is that so? Store it as {name}", err=call.as_json)):
        return Answer({"stored": False, "balance": balance, "words": words}, ["Nothing stored."])
    store_balance(call.bench, balance)
    return Answer(
        {"stored": True, "balance": balance, "words": words},
        [f"Stored as {name}."],
        Next(("balance", "read", name)),
    )


@command(app, "list", "balance list")
def list_(call: Call) -> Answer:
    """List the balances on the bench."""
    from beadworth.workflow import stored_balances

    found = stored_balances(call.bench)
    table = Table.of(
        "Balances",
        found,
        {"name": "name", "port": "cable.port", "baud": "cable.speed_bd", "unit": "lines.unit"},
    )
    first = Next(("balance", "ports"), "to connect one")
    return Answer({"balances": found}, [table], None if found else first)


@command(app, "show", 'balance show "My balance"')
def show(call: Call, name: Annotated[str, typer.Argument(help="A balance's name.")]) -> Answer:
    """Say in words how a balance is connected and how its lines are read."""
    from beadworth.workflow import CABLE_CAUTIONS, describe_balance, find_balance

    balance = find_balance(call.bench, name)
    words = describe_balance(balance)
    return Answer(
        {"balance": balance, "words": words, "cautions": CABLE_CAUTIONS},
        [*words, *notes(CABLE_CAUTIONS)],
    )


@command(app, "read", 'balance read "My balance"')
def read(
    call: Call,
    name: Annotated[str, typer.Argument(help="A balance's name.")],
    port: Annotated[str | None, typer.Option(help="Port, where it is another one today.")] = None,
) -> Answer:
    """Wait until the pan is at rest, and print the reading."""
    from beadworth.core import CableError
    from beadworth.workflow import listen_to

    with listen_to(call.bench, name, port) as listener:
        if listener.cable.by_key:
            _tell(call, "Once the display is at rest, press the key of the balance.")
        now = listener.wait(lambda state: state.reading != "", LONGEST_S)
    if not now.reading and listener.cable.by_key:
        raise CableError(f"no line that is at rest came in {LONGEST_S:g} s.", "balance",
                         remedy="Press its key once the display is at rest.")  # fmt: skip
    if not now.reading:
        raise CableError(now.trouble) if now.trouble else CableError(
            f"the balance did not come to rest in {LONGEST_S:g} s.",
            "balance",
            remedy="Keep draughts and vibration off it, and try again.",
        )  # fmt: skip
    said = f"{now.reading} g" + (f"; {now.dropped} damaged lines dropped" if now.dropped else "")
    return Answer({"mass_g": now.reading_g, "text": now.reading, "dropped": now.dropped}, [said])


def _cable(port: str, speed: str, frame: str, request: str, by_key: bool = False) -> Cable:
    from beadworth.workflow import cable_of

    with progress("Listening"):
        return cable_of(port, speed, frame, request, by_key)


def _ask(call: Call, words: str) -> str:
    answer: str = typer.prompt(words, default="", show_default=False, err=call.as_json)
    return answer


def _tell(call: Call, line: str) -> None:
    typer.echo(line, err=call.as_json)


def _visible(line: str) -> str:
    return "".join(one if one.isprintable() else f"<{ord(one):02X}>" for one in line)


@command(
    app,
    "check",
    'balance check "My balance" repeatability 1.784 1.783 1.784 1.785 1.784 --step 0.001',
    'balance check "My balance" drift 0=1.784 10=1.785 20=1.785 30=1.786',
    'balance check "My balance" linearity 0=0.000 1=1.001 2=2.001 5=5.002',
    'balance check "My balance" repeatability --cable',
)
def check(
    call: Call,
    name: Annotated[str, typer.Argument(help="The balance, under a name of your own.")],
    kind: Annotated[str, typer.Argument(help="repeatability, drift or linearity.")],
    values: Annotated[
        list[str] | None,
        typer.Argument(
            help="What it shows, g. Drift: MINUTES=SHOWN. Linearity: KNOWN=SHOWN, 0 is the empty "
            "pan; with --cable the known masses alone."
        ),
    ] = None,
    step: Annotated[
        float | None, typer.Option(help="Smallest step of the display, g; left out: as known.")
    ] = None,
    on: Annotated[str | None, typer.Option(help="Day, YYYY-MM-DD; left out: today.")] = None,
    note: Annotated[str, typer.Option(help="A note stored with it.")] = "",
    cable: Annotated[
        bool, typer.Option("--cable", help="Take the values from the balance, piece by piece.")
    ] = False,
    minutes: Annotated[
        float, typer.Option(help="How long a drift is watched over the cable.")
    ] = 30.0,
    port: Annotated[str | None, typer.Option(help="Port, where it is another one today.")] = None,
) -> Answer:
    """Record a check of a balance, by hand or over its cable: a plan's budget then takes it."""
    from beadworth.cli.balance_checks import values_by_cable
    from beadworth.workflow import (
        add_balance_check,
        describe_check,
        listen_to,
        parse_check_values,
    )

    if cable:
        with listen_to(call.bench, name, port) as listener:
            at, shown = values_by_cable(call, listener, kind, values or [], minutes)
    else:
        at, shown = parse_check_values(kind, values or [])
    entry = add_balance_check(
        call.bench,
        {
            "balance": name, "kind": kind, "on": on, "shown_g": shown, "at": at, "step_g": step,
            "by_cable": cable, "note": note,
        },
    )  # fmt: skip
    words = describe_check(entry.record)
    return Answer(
        {"id": entry.id, "check": entry.record, "words": words},
        [f"Check {entry.id}, {entry.record.on}.", *words],
        Next(("balance", "checks", name), "for what a plan takes of it"),
    )


@command(app, "checks", 'balance checks "My balance"')
def checks(
    call: Call, name: Annotated[str, typer.Argument(help="The balance the checks are of.")]
) -> Answer:
    """List the checks of a balance, and say what a plan's budget takes of them."""
    from beadworth.trial import describe_weighing
    from beadworth.workflow import checked_balance, checks_of, describe_check

    found = checked_balance(call.bench, name)
    entries = checks_of(call.bench, name)
    table = Table.of(
        f"Checks of {name}",
        entries,
        {
            "no.": "id", "day": "record.on", "kind": "record.kind",
            "finding": lambda entry: describe_check(entry.record)[0], "state": "state",
        },
    )  # fmt: skip
    taken = describe_weighing(found)
    return Answer(
        {"checks": entries, "balance": found, "words": taken}, [table, f"A plan takes: {taken}."]
    )


@command(app, "void", 'balance void "My balance" 12 --reason "a draught"')
def void(
    call: Call,
    name: Annotated[str, typer.Argument(help="The balance the check is of.")],
    number: Annotated[int, typer.Argument(help="Number of the check.")],
    reason: Annotated[str, typer.Option(help="Why it does not count; stored with it.")],
) -> Answer:
    """Let a check no longer count; it stays, with the reason."""
    from beadworth.workflow import void_balance_check

    void_balance_check(call.bench, name, number, reason)
    return Answer(
        {"id": number, "state": "voided", "reason": reason},
        [f"Check {number} no longer counts: {reason}"],
    )
