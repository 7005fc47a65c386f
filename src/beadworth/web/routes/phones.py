"""Weigh with a phone: the desk's page that pairs it, and what the phone itself sees."""

from __future__ import annotations

from datetime import date
from typing import Any

from fastapi import APIRouter
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, NotFoundError
from beadworth.text import whole_number
from beadworth.web.guesses import Guesses
from beadworth.web.phone_gate import COOKIE
from beadworth.web.responses import page, script_json, status_of
from beadworth.web.routes.common import BenchOf, FormOf, entry_key_of, see_other
from beadworth.web.share import Share, network_addresses, pairing_link, phones_may, whom
from beadworth.web.square import square_svg
from beadworth.workflow import (
    PHONE_LIFE,
    Bench,
    Grant,
    PairingCode,
    TrialSnapshot,
    add_journal_page,
    make_pairing_code,
    pair_phone,
    paired_phones,
    unpair_phones,
)

router = APIRouter(include_in_schema=False)


@router.get("/trials/{trial}/phone")
def desk(request: Request, bench: BenchOf, trial: str) -> Response:
    """What is open, to whom, and the phones that are paired."""
    return _desk(request, bench, trial)


@router.get("/trials/{trial}/phone/list")
def listed(request: Request, bench: BenchOf, trial: str) -> Response:
    """The phones alone: the page asks every few seconds, so that a pairing is seen at once."""
    bench.trial(trial)
    context = {"trial": trial, "phones": paired_phones(bench, trial)}
    return page(request, "phone_list.html", context)


@router.post("/trials/{trial}/phone")
def change(request: Request, bench: BenchOf, trial: str, sent: FormOf) -> Response:
    """Open the door and show a code, close it, or unpair a phone."""
    bench.trial(trial)
    share: Share = request.app.state.share
    do = str(sent.get("do", ""))
    try:
        if do == "code":
            share.open(str(sent.get("address", "")) or None)
            return _desk(request, bench, trial, code=make_pairing_code(bench, trial))
        if do == "close":
            share.close()
        elif do == "unpair":
            number = str(sent.get("phone", ""))
            unpair_phones(bench, [whole_number(number) or 0])
        else:
            raise InputError(f"{do!r} is nothing to do here.", "do", do, "Use the page's buttons.")
    except BeadworthError as error:
        return _desk(request, bench, trial, refusal=error)
    return see_other(f"/trials/{trial}/phone")


def _desk(
    request: Request,
    bench: Bench,
    trial: str,
    *,
    code: PairingCode | None = None,
    refusal: BeadworthError | None = None,
) -> Response:
    share: Share = request.app.state.share
    link = pairing_link(share.address, code) if code and share.address else ""
    context = {
        "trial": trial,
        "record": bench.trial(trial),
        "open": share.address,
        "whom": whom(share.address) if share.address else "",
        "addresses": network_addresses(),
        "code": code,
        "square": square_svg(link) if link else "",
        "until": code.until.astimezone().strftime("%H:%M") if code else "",
        "phones_may": phones_may(),
        "phones": paired_phones(bench, trial),
        "refusal": refusal.problems if refusal else (),
    }
    return page(request, "phone_desk.html", context, status_of(refusal) if refusal else 200)


@router.get("/pair")
def ask_code(request: Request) -> Response:
    """The one page of whoever has no pairing."""
    _require_phone_door(request)
    return page(request, "pair.html", {"problems": (), "typed": ""})


@router.post("/pair")
def pair(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """Use a code; wrong ones may not come faster than a person types."""
    _require_phone_door(request)
    guesses: Guesses = request.app.state.guesses
    typed = str(sent.get("code", ""))[:80]
    try:
        with guesses.one(request, "code"):
            secret, paired = pair_phone(bench, typed)
    except BeadworthError as error:
        context = {"problems": error.problems, "typed": typed}
        return page(request, "pair.html", context, status_of(error))
    answer = see_other(f"/trials/{paired.grant.trial}/weigh")
    answer.set_cookie(
        COOKIE, secret, max_age=round(PHONE_LIFE.total_seconds()), httponly=True,
        samesite="strict", secure=request.url.scheme == "https",
    )  # fmt: skip
    return answer


def _require_phone_door(request: Request) -> None:
    if not request.scope.get("phone_door", False):
        raise NotFoundError(
            "a phone is paired at the address opened for phones, not here.",
            f"{request.method} {request.url.path}",
            remedy="Open a trial and choose 'Weigh with a phone'.",
        )


def phone_context(request: Request, snapshot: TrialSnapshot) -> dict[str, Any]:
    """What the phone's page has beside the weigh-in: the sheet, to go on without a connection."""
    phone: Grant = request.scope["phone"]
    assert phone.until is not None
    coupons = [
        {
            "coupon": c.coupon,
            "setting": f"{c.temperature_c:g} °C · {c.flow_mm3_s:g} mm³/s",
            "rig": ("reference coupon · " if c.reference else "") + c.rig,
            "place": f"{c.order} of {len(snapshot.coupons)} · plate {c.plate}",
        }
        for c in snapshot.coupons
    ]
    return {
        "phone": phone,
        "until": phone.until.astimezone().strftime("%H:%M"),
        "sheet_json": script_json(coupons),
    }


@router.post("/trials/{trial}/photos")
def add_photo_page(request: Request, bench: BenchOf, trial: str, sent: FormOf) -> Response:
    """A photo becomes a page of the trial's journal; it is in no dossier until chosen there."""
    bench.trial(trial)
    upload, alt = sent.get("photo"), str(sent.get("alt", "")).strip()
    if not isinstance(upload, UploadFile) or not upload.filename:
        raise InputError("no photo was chosen.", "photo", remedy="Choose or take one.")
    data = {"on": str(date.today()), "stage": "trial", "title": f"Photo: {alt[:100]}"}
    photos = [("photo", upload.file.read(), alt)]
    add_journal_page(bench, trial, data, photos, entry_key=entry_key_of(sent))
    if request.headers.get("hx-request") == "true":
        return Response("in the journal", 201, media_type="text/plain")
    return see_other(f"/trials/{trial}/weigh")
