"""The next coupons: which would help most, and adding them to the sheet as an amendment."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import InputError
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.web.routes.parts import Typed, show, typed_percent
from beadworth.workflow import add_coupons, trial_next_coupons, trial_question

router = APIRouter(include_in_schema=False)
MOST = 60


@router.get("/trials/{trial}/next")
def choose(
    request: Request, bench: BenchOf, trial: str, count: Typed = None, loss: Typed = None
) -> Response:
    """The settings that would narrow the intervals most, and by how much."""
    text = (count or "6").strip()
    if not re.fullmatch(r"\d{1,3}", text) or not 1 <= int(text) <= MOST:
        raise InputError(
            f"{text!r} is not a number of coupons from 1 to {MOST}.",
            where="coupons",
            value=text,
            remedy="Type a whole number.",
        )
    snapshot = bench.snapshot(trial)
    at_loss = typed_percent(loss, "loss", 0.5, 20)
    asked = trial_next_coupons(snapshot, int(text), at_loss)
    context = {"asked": asked, "question": trial_question(snapshot, at_loss)}
    return show(request, snapshot.record, "part_next.html", "Next coupons", context)


@router.post("/trials/{trial}/amendments")
def amend(bench: BenchOf, trial: str, sent: FormOf) -> Response:
    """Add the coupons that were shown."""
    settings = _settings([str(item) for item in sent.getlist("setting")])
    add_coupons(bench, trial, settings, str(sent.get("reason", "")))
    return see_other(f"/trials/{trial}?tab=plan")


def _settings(lines: Sequence[str]) -> list[tuple[str, float, float]]:
    """``count temperature flow rig`` each, one setting per coupon."""
    settings: list[tuple[str, float, float]] = []
    for line in lines:
        found = re.fullmatch(r"(\d{1,2}) (\d{1,6}(?:\.\d+)?) (\d{1,6}(?:\.\d+)?) (.+)", line)
        if not found:
            raise InputError(
                f"{line!r} is no setting.",
                where="coupons to add",
                value=line,
                remedy="Choose the coupons again and add them.",
            )
        settings += [(found[4], float(found[2]), float(found[3]))] * int(found[1])
    if not 1 <= len(settings) <= MOST:
        raise InputError(
            f"{len(settings)} coupons cannot be added at once; 1 to {MOST} can.",
            where="coupons to add",
            value=len(settings),
            remedy="Choose the coupons again and add them.",
        )
    return settings
