"""Balances by cable: connected, their lines learnt and shown in words, weighed with."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from beadworth.core import BeadworthError, CableError, ConflictError, InputError, Problem, to_json
from beadworth.trial import (
    FRAMES,
    SPEEDS_BD,
    UNIT_G,
    CabledBalance,
    ReadLine,
    describe_format,
    learn_format,
    read_line,
)
from beadworth.web.balance_desk import BalanceDesk, Learning, in_words
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BalancesOf, BenchOf, FormOf, see_other
from beadworth.workflow import (
    CABLE_CAUTIONS,
    Bench,
    cable_of,
    checked_names,
    collect_lines,
    describe_balance,
    serial_ports,
    store_balance,
    stored_balances,
)

router = APIRouter(include_in_schema=False)
NEW = {"port": "", "speed": "9600", "frame": "8N1", "request": ""}


@router.get("/balances")
def every(
    request: Request, bench: BenchOf, desk: BalancesOf, back: str = "", stored: str = ""
) -> Response:
    """The balances on the bench, and the form that connects one."""
    return _list(request, bench, desk, NEW, back=back, stored=stored)


def _list(
    request: Request,
    bench: Bench,
    desk: BalanceDesk,
    typed: dict[str, str],
    problems: Sequence[Problem] = (),
    *,
    back: str = "",
    stored: str = "",
    status: int = 200,
) -> Response:
    ports = serial_ports()
    context = {
        "balances": [(one, describe_balance(one)) for one in stored_balances(bench)],
        "checked": checked_names(bench),
        "desk": desk,
        "ports": ports,
        "typed": typed | {"port": typed["port"] or (ports[0].port if ports else "")},
        "speeds": [("find", "find it"), *((str(bd), str(bd)) for bd in SPEEDS_BD)],
        "frames": [(frame, frame) for frame in FRAMES],
        "problems": problems,
        "cautions": CABLE_CAUTIONS,
        "back": _own(back),
        "stored": stored,
    }
    return page(request, "balances.html", context, status)


def _own(address: str) -> str:
    """An address of our own to go back to; empty where it is another."""
    return address if address.startswith("/trials/") and "//" not in address else ""


@router.post("/balances/connect")
def connect(request: Request, bench: BenchOf, desk: BalancesOf, sent: FormOf) -> Response:
    """Open a port, so that its lines can be looked at and learnt."""
    typed = {name: str(sent.get(name, usual)).strip() for name, usual in NEW.items()}
    try:
        if not typed["port"]:
            raise InputError(
                "no port is named.", "port", remedy="Plug the adapter in and choose its port."
            )
        desk.end_learning()
        if desk.name:
            desk.release()
        desk.connect(cable_of(**typed, by_key=bool(sent.get("by_key"))))
    except (CableError, InputError) as error:
        return _list(request, bench, desk, typed, error.problems, status=status_of(error))
    return see_other("/balances/learn")


@router.get("/balances/learn")
def learn(request: Request, desk: BalancesOf) -> Response:
    """The step of learning that is due, and the lines as they come."""
    return _learn(request, desk.learning())


def _learn(
    request: Request, one: Learning, problems: Sequence[Problem] = (), status: int = 200
) -> Response:
    context = {
        "one": one,
        "cable": one.listener.cable,
        "words": describe_format(one.form) if one.form else [],
        "newest": _newest(one),
        "typed": {"shown": "", "unit": "", "name": ""} | one.typed,
        "units": [("", "as the lines say"), *((unit, unit) for unit in UNIT_G)],
        "problems": problems,
        "cautions": CABLE_CAUTIONS,
        **_lines(one),
    }
    return page(request, "balance_learn.html", context, status)


def _newest(one: Learning) -> str:
    """What the newest line says by the format learnt."""
    raw = one.listener.state().raw
    read = read_line(one.form, raw[-1]) if one.form and raw else None
    if one.form is None or not isinstance(read, ReadLine):
        return ""
    said = {True: ", stable", False: ", not yet stable", None: ""}[read.stable]
    return f"{one.form.text(one.form.grams(read.count))} g{said}"


def _lines(one: Learning) -> dict[str, Any]:
    now = one.listener.state()
    shown = ["".join(c if c.isprintable() else "·" for c in line) for line in now.raw]
    return {"raw": [(len(line), line) for line in shown], "trouble": in_words(now.trouble)}


@router.get("/balances/learn/lines")
def lines(request: Request, desk: BalancesOf) -> Response:
    """The newest lines alone; a page that is just being left may ask after the end."""
    try:
        found = _lines(desk.learning())
    except ConflictError as error:
        found = {"raw": [], "trouble": in_words(error.problems[0])}
    return page(request, "balance_lines.html", found)


@router.post("/balances/learn/empty")
def empty(request: Request, desk: BalancesOf) -> Response:
    """Collect lines with the pan empty."""
    one = desk.learning()
    try:
        collect_lines(one.listener, "empty")
    except CableError as error:
        return _learn(request, one, error.problems, status_of(error))
    one.listener.begin("moving")
    one.step, one.form = "loaded", None
    return see_other("/balances/learn")


@router.post("/balances/learn/loaded")
def loaded(request: Request, desk: BalancesOf, sent: FormOf) -> Response:
    """Collect lines with a piece on, and learn the format."""
    one = desk.learning()
    one.typed = {name: str(sent.get(name, "")).strip() for name in ("shown", "unit")}
    try:
        collect_lines(one.listener, "loaded")
        one.form = learn_format(
            one.listener.samples(), unit=one.typed["unit"] or None, shown=one.typed["shown"]
        )
    except (CableError, InputError) as error:
        return _learn(request, one, error.problems, status_of(error))
    one.step = "words"
    return see_other("/balances/learn")


@router.post("/balances/learn/again")
def again(desk: BalancesOf) -> Response:
    """Begin with the empty pan once more."""
    one = desk.learning()
    one.step, one.form = "empty", None
    return see_other("/balances/learn")


@router.post("/balances")
def store(request: Request, bench: BenchOf, desk: BalancesOf, sent: FormOf) -> Response:
    """Store what was learnt under a name, and weigh with it from now on."""
    one = desk.learning()
    name = one.typed["name"] = str(sent.get("name", "")).strip()
    try:
        if one.form is None:
            raise InputError("nothing is learnt yet.", "balance", remedy="Go through the steps.")
        if not name or len(name) > 80:
            raise InputError(
                f"{name!r} is no name for a balance.",
                "name",
                name,
                "Give it one, up to 80 letters.",
            )
        store_balance(bench, CabledBalance(name=name, cable=one.listener.cable, lines=one.form))
    except InputError as error:
        return _learn(request, one, error.problems, status_of(error))
    desk.use(bench, name)
    return see_other(f"/balances?{urlencode({'stored': name})}")


@router.post("/balances/use")
def use(request: Request, bench: BenchOf, desk: BalancesOf, sent: FormOf) -> Response:
    """Weigh with a balance on the bench from now on."""
    name, port = str(sent.get("name", "")), str(sent.get("port", "")).strip()
    back = _own(str(sent.get("back", "")))
    try:
        desk.use(bench, name, port or None)
    except BeadworthError as error:
        status = status_of(error)
        return _list(request, bench, desk, NEW, error.problems, back=back, status=status)
    return see_other(back or "/balances")


@router.post("/balances/release")
def release(desk: BalancesOf, sent: FormOf) -> Response:
    """Type masses again."""
    desk.release()
    return see_other(_own(str(sent.get("back", ""))) or "/balances")


@router.get("/balances/live")
def live(desk: BalancesOf) -> Response:
    """What the balance in use says now."""
    return JSONResponse(to_json(desk.now()), headers={"Cache-Control": "no-store"})
