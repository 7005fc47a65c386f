"""``beadworth bench``: the store itself: open it in the browser, back up, restore, check."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated, Any

import typer

from beadworth.cli.command import Answer, Call, Next, command
from beadworth.cli.table import Table
from beadworth.core import InputError
from beadworth.text import moment

LOOPBACK = "127.0.0.1"
app = typer.Typer(help="Open, back up or check the bench, the file with all you measured.")
PortOption = Annotated[
    int,
    typer.Option(
        min=0,
        max=65535,
        help="Port to listen on; where it is in use, the next free one. 0 takes any free one.",
    ),
]


@command(app, "serve", "bench serve", "bench serve --share --trial far-stock-hot-end-go")
def serve(
    call: Call,
    port: PortOption = 8642,
    share: Annotated[
        bool,
        typer.Option(
            "--share", help="Let paired phones weigh in: opens one address of this machine for them"
        ),
    ] = False,
    share_address: Annotated[
        str | None,
        typer.Option(help="The address to open with --share. Left out: the usual one."),
    ] = None,
    trial: Annotated[
        str | None,
        typer.Option(help="With --share: print a code that pairs one phone with this trial."),
    ] = None,
    people: Annotated[
        bool,
        typer.Option("--people", help="Ask who comes in: those of `bench people`, by their role."),
    ] = False,
    address: Annotated[
        str, typer.Option(help="With --people: the address to listen on, 0.0.0.0 for all.")
    ] = LOOPBACK,
    certificate: Annotated[
        Path | None, typer.Option(help="With --people: PEM file of the certificate, for HTTPS.")
    ] = None,
    key: Annotated[Path | None, typer.Option(help="PEM file of the certificate's key.")] = None,
    name: Annotated[
        list[str] | None,
        typer.Option(help="With --people: a host name the bench is reached under; repeat it."),
    ] = None,
    behind_proxy: Annotated[
        bool,
        typer.Option("--behind-proxy", help="With --people: a proxy on this machine does HTTPS."),
    ] = False,
) -> None:
    """Open the bench in the browser: start the web app and print its address.

    It listens on this machine only (127.0.0.1): nobody is asked who they are. With --share a second
    address is open for phones, which can weigh in and add photos of one trial, nothing else. With
    --people everybody signs in, and --address opens it to a network, over HTTPS.
    """
    from beadworth.web import serve as serve_web

    if not people and (address != LOOPBACK or certificate or key or name or behind_proxy):
        raise InputError(
            "--address, --certificate, --key, --name and --behind-proxy open the bench to others, "
            "and nobody would be asked who they are.",
            "command line",
            remedy="Add --people, after `beadworth bench admit` for each.",
        )
    if not share and (share_address or trial):
        raise InputError(
            "--share-address and --trial say how to share, and --share is not given.",
            "command line",
            remedy="Add --share.",
        )
    call.bench.make()
    more: dict[str, Any] = {}
    if share:
        more = {"share": True, "share_address": share_address, "share_trial": trial}
    if people:
        more |= {"host": address, "people": True, "certificate": certificate, "key": key}
        more |= {"names": tuple(name or ()), "behind_proxy": behind_proxy}
    serve_web(call.bench, port=port, as_json=call.as_json, **more)


@command(
    app,
    "admit",
    'bench admit "A. Measurer" --role measurer',
    'bench admit "night run" --role reader --script',
)
def admit(
    call: Call,
    name: Annotated[str, typer.Argument(help="Under this name its entries stand.")],
    role: Annotated[
        str, typer.Option(help="reader (look), measurer (enter what is measured), owner (all).")
    ],
    script: Annotated[
        bool, typer.Option("--script", help="A script: a token for the HTTP interface.")
    ] = False,
) -> Answer:
    """Let a person or script in to a bench that is served with --people; prints its secret once."""
    from beadworth.workflow import admit as let_in

    made = let_in(call.bench, name, role, script=script)
    how = (
        f"Send it with every request: Authorization: Bearer {made.secret}"
        if script
        else f"Secret to sign in with: {made.secret}"
    )
    return Answer(
        made,
        [f"{made.name} is let in as {made.role}.", how, "It is shown once; only its hash is kept."],
        Next(("bench", "people"), "to see who is let in"),
    )


@command(app, "people", "bench people")
def people_(call: Call) -> Answer:
    """List the people and scripts that are let in, and who no longer is."""
    from beadworth.workflow import People, admitted

    found = admitted(call.bench)
    table = Table.of(
        "People and scripts, the last first",
        found,
        {
            "number": lambda one: one.grant.id,
            "name": lambda one: one.grant.name,
            "kind": lambda one: one.grant.kind,
            "role": lambda one: one.grant.role,
            "since": lambda one: moment(one.grant.at),
            "state": "state",
        },
    )
    return Answer(People(tuple(found)), [table if found else "Nobody was let in yet."])


@command(app, "withdraw", "bench withdraw 3")
def withdraw(
    call: Call, number: Annotated[int, typer.Argument(min=1, help="Its number in `bench people`.")]
) -> Answer:
    """Let a person or script in no longer; what they entered stays, under their name."""
    from beadworth.workflow import withdraw_admission

    name = withdraw_admission(call.bench, number)
    return Answer({"withdrawn": name}, [f"No longer let in: {name}"])


@command(app, "phones", "bench phones")
def phones(call: Call) -> Answer:
    """List the phones that were paired, and which still may weigh in."""
    from beadworth.workflow import Phones, paired_phones

    found = paired_phones(call.bench)
    table = Table.of(
        "Phones, the last first",
        found,
        {
            "number": lambda one: one.grant.id,
            "phone": lambda one: one.grant.name,
            "trial": lambda one: one.grant.trial,
            "paired": lambda one: moment(one.grant.at),
            "until": lambda one: moment(one.grant.until),
            "state": "state",
        },
    )
    paired = [one for one in found if one.state == "paired"]
    next_ = Next(("bench", "unpair", str(paired[0].grant.id)), "to unpair one") if paired else None
    return Answer(Phones(tuple(found)), [table if found else "No phone was paired yet."], next_)


@command(app, "unpair", "bench unpair 3", "bench unpair --all")
def unpair(
    call: Call,
    number: Annotated[
        int | None, typer.Argument(min=1, help="Its number in the list `bench phones`.")
    ] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Every phone, and every code not used yet.")
    ] = False,
) -> Answer:
    """Unpair a phone: from now on whatever it sends is refused; entries wait on it."""
    from beadworth.workflow import unpair_phones

    if every == (number is not None):
        raise InputError(
            "which phone is meant is not said.",
            "command line",
            remedy="Give its number (beadworth bench phones), or --all.",
        )
    names = unpair_phones(call.bench, () if number is None else (number,), every=every)
    told = [f"Unpaired: {name}" for name in names] or ["No phone was paired."]
    return Answer({"unpaired": names}, told)


@command(app, "backup", "bench backup before-upgrade.bench")
def backup(
    call: Call, to: Annotated[Path, typer.Argument(help="File to write; must not exist yet.")]
) -> Answer:
    """Copy the whole bench to a file, checked after writing; safe while it is in use."""
    report = call.bench.backup(to)
    said = "checked" if not report.findings else f"{len(report.findings)} findings"
    told = [
        f"{report.readings} readings, {report.bytes} bytes, {said}: {report.path}",
        *(f"Found: {finding}" for finding in report.findings),
    ]
    if report.findings:
        told.append(
            "The copy holds what the bench holds, and both were changed around Beadworth. Keep "
            "earlier backups."
        )
    return Answer(
        {
            "path": str(report.path),
            "readings": report.readings,
            "bytes": report.bytes,
            "findings": report.findings,
        },
        told,
        exit_code=7 if report.findings else 0,
    )


@command(app, "restore", "bench restore before-upgrade.bench --replace")
def restore(
    call: Call,
    backup_file: Annotated[Path, typer.Argument(help="File that `bench backup` wrote.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="A bench is there: keep it beside the restored one.")
    ] = False,
    damaged: Annotated[
        bool,
        typer.Option("--damaged", help="Take a backup with findings, or what can be read of it."),
    ] = False,
) -> Answer:
    """Put a backup in the bench's place, after checking it; nothing is thrown away."""
    from beadworth.workflow import default_bench_path, restore_bench

    report = restore_bench(backup_file, call.bench_name, replace=replace, damaged=damaged)
    where = str(call.bench_name or default_bench_path())
    return Answer(
        {
            "bench": where,
            "trials": report.trials,
            "readings": report.readings,
            "findings": report.findings,
        },
        [
            f"Restored {report.trials} trials, {report.readings} readings to {where}",
            *(f"Found: {finding}" for finding in report.findings),
        ],
        exit_code=0 if report.sound else 7,
    )


@command(app, "check", "bench check")
def check(call: Call) -> Answer:
    """Look for damage: the file, the digests of plans, readings without coupons.

    Of a file too damaged to be opened it says how much can still be read.
    """
    from beadworth.workflow import check_bench

    name, report = check_bench(call.bench_name)
    return Answer(
        {
            "bench": name,
            "sound": report.sound,
            "trials": report.trials,
            "readings": report.readings,
            "findings": list(report.findings),
        },
        [
            f"{name}: {report.trials} trials, {report.readings} readings",
            *(f"Found: {finding}" for finding in report.findings),
            *(("Sound.",) if report.sound else _ways_on(name)),
        ],
        exit_code=0 if report.sound else 7,
    )


def _ways_on(name: str) -> tuple[str, ...]:
    """What to do with a bench that has findings."""
    if "://" in name:
        return ("Restore a backup with the server's own tool.",)
    line = shlex.join(("beadworth", "bench", "restore", name, "--damaged", "--bench", "NEW.bench"))
    return (
        "Restore a backup: beadworth bench restore BACKUP --replace",
        f"Without one, take what can be read into a new bench: {line}",
    )
