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

    cable = _cable(port, speed, frame, request)
    for caution in CABLE_CAUTIONS:
        _tell(call, f"Note: {caution}")
    with BalanceListener(cable) as listener:
        _ask(call, "Empty the pan and tare it. Once the display is at rest, press Enter")
        collect_lines(listener, "empty")
        listener.begin("moving")
        _ask(call, "Put a piece of some grams on the pan. Once the display is at rest, press Enter")
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
        now = listener.wait(lambda state: state.reading != "", LONGEST_S)
    if not now.reading:
        raise CableError(now.trouble) if now.trouble else CableError(
            f"the balance did not come to rest in {LONGEST_S:g} s.",
            "balance",
            remedy="Keep draughts and vibration off it, and try again.",
        )  # fmt: skip
    said = f"{now.reading} g" + (f"; {now.dropped} damaged lines dropped" if now.dropped else "")
    return Answer({"mass_g": now.reading_g, "text": now.reading, "dropped": now.dropped}, [said])


def _cable(port: str, speed: str, frame: str, request: str) -> Cable:
    from beadworth.workflow import cable_of

    with progress("Listening"):
        return cable_of(port, speed, frame, request)


def _ask(call: Call, words: str) -> str:
    answer: str = typer.prompt(words, default="", show_default=False, err=call.as_json)
    return answer


def _tell(call: Call, line: str) -> None:
    typer.echo(line, err=call.as_json)


def _visible(line: str) -> str:
    return "".join(one if one.isprintable() else f"<{ord(one):02X}>" for one in line)
