"""The journal of a rig or a trial: a timeline, a page to write, photos from the phone."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, NotFoundError
from beadworth.text import count, number, whole_number
from beadworth.web.fields_wear import PAGE
from beadworth.web.forms import Form, collect, refused, typed_from, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.workflow import (
    LONGEST_PX,
    MEDIA_TYPE,
    PHOTO_LIMIT_BYTES,
    Bench,
    JournalEntry,
    NewPhoto,
    StoredEntry,
    add_journal_page,
    journal_entries,
    journal_subject,
    photo,
    show_journal_page,
    stored_journal_page,
    supersede_journal_page,
    void_journal_page,
)

router = APIRouter(include_in_schema=False)
PHOTOS = range(1, 5)


@router.get("/photo/{sha256}")
def give_photo(bench: BenchOf, sha256: str) -> Response:
    """A photo; its address is its digest, so a browser may keep it."""
    return Response(
        photo(bench, sha256).data,
        media_type=MEDIA_TYPE,
        headers={"Cache-Control": "private, max-age=31536000, immutable"},
    )


@router.get("/journal/{subject:path}")
def journal_page(request: Request, bench: BenchOf, subject: str) -> Response:
    """The timeline, and a page to write or correct."""
    correcting = request.query_params.get("correct", "")
    if not correcting.isdecimal():
        return _show(request, bench, subject, Form({"on": str(date.today())}))
    old = stored_journal_page(bench, subject, _number(correcting))
    typed = typed_from((PAGE,), old.record.model_dump(mode="json"))
    return _show(request, bench, subject, Form(typed), old=old)


@router.post("/journal/{subject:path}")
def change_journal(request: Request, bench: BenchOf, subject: str, sent: FormOf) -> Response:
    """A new page, a correction, or a choice about one that is there."""
    journal_subject(bench, subject)
    back = f"/journal/{quote(subject)}"
    do = str(sent.get("do", ""))
    if do:
        try:
            return see_other(f"{back}?done={_done(bench, subject, do, sent)}#now")
        except NotFoundError:
            raise
        except BeadworthError as error:
            form = Form({"on": str(date.today())})
            return _show(request, bench, subject, form, refusal=error)
    typed = typed_in((PAGE,), sent)
    data = collect((PAGE,), typed)
    data["shown"] = data.get("shown") == "yes"
    named, reason = str(sent.get("page", "")), str(sent.get("reason", ""))
    old = stored_journal_page(bench, subject, _number(named)) if named else None
    try:
        photos = _photos(sent)
        if old is None:
            made = add_journal_page(bench, subject, data, photos)
        else:
            keep = {str(value) for value in sent.getlist("keep")}
            stay = [p.model_dump() for p in old.record.photos if p.sha256 in keep]
            made = supersede_journal_page(
                bench, subject, old.id, data | {"photos": stay}, reason, photos
            )
    except NotFoundError:
        raise
    except BeadworthError as error:
        alts = [str(sent.get(f"alt{n}", "")) for n in PHOTOS]
        form = refused((PAGE,), typed, error)
        return _show(request, bench, subject, form, old=old, reason=reason, alts=alts,
                     status=status_of(error))  # fmt: skip
    return see_other(f"{back}?done=added#page-{made.id}")


def _done(bench: Bench, subject: str, do: str, sent: FormData) -> str:
    """Show, hide or void a page; the word that says what was done."""
    page_id = _number(str(sent.get("page", "")))
    if do == "void":
        void_journal_page(bench, subject, page_id, str(sent.get("reason", "")))
        return "void"
    if do in ("show", "hide"):
        show_journal_page(bench, subject, page_id, do == "show")
        return "shown" if do == "show" else "hidden"
    raise InputError(
        f"{do!r} is nothing to do with a page.", "do", do, "Use the buttons of the page."
    )


def _number(text: str) -> int:
    if (page_id := whole_number(text)) is None:
        raise InputError(
            f"{text!r} is no number of a page.", "page", text, "Use the links of the journal."
        )
    return page_id


def _photos(sent: FormData) -> list[NewPhoto]:
    """The photos of the form that were chosen, with their words."""
    found = []
    for n in PHOTOS:
        upload = sent.get(f"photo{n}")
        if isinstance(upload, UploadFile) and upload.filename:
            # The file's name is often a date or a person's: messages call it by its place.
            found.append((f"photo {n}", upload.file.read(), str(sent.get(f"alt{n}", ""))))
    return found


def _show(
    request: Request,
    bench: Bench,
    subject: str,
    form: Form,
    *,
    old: StoredEntry[JournalEntry] | None = None,
    reason: str = "",
    alts: list[str] | None = None,
    refusal: BeadworthError | None = None,
    status: int | None = None,
) -> Response:
    kind = journal_subject(bench, subject)
    every = journal_entries(bench, subject)
    pages = [kept for kept in every if kept.state == "current"]
    typed: dict[str, Any] = dict(form.typed)
    context = {
        "subject": subject,
        "kind": kind,
        "question": bench.trial(subject).question if kind == "trial" else "",
        "pages": pages,
        "gone": [kept for kept in every if kept.state != "current"],
        "summary": _summary(pages),
        "group": PAGE,
        "form": Form({"on": str(date.today()), **typed}, form.problems, form.beside),
        "old": old,
        "reason": reason,
        "alts": alts or [""] * len(PHOTOS),
        "done": request.query_params.get("done", ""),
        "refusal": refusal.problems if refusal else (),
        "limit_mb": PHOTO_LIMIT_BYTES / 1e6,
        "longest": LONGEST_PX,
    }
    code = status or (status_of(refusal) if refusal else 200)
    return page(request, "journal.html", context, code)


def _summary(pages: list[StoredEntry[JournalEntry]]) -> str:
    """How long, how many, and what went wrong, in a sentence."""
    if not pages:
        return ""
    many = count(len(pages), "page")
    first, last = pages[0].record.on, pages[-1].record.on
    said = f"{many}, {first}" + (f" to {last}" if last != first else "")
    troubles = [kept.record for kept in pages if kept.record.problem]
    if not troubles:
        return f"{said}. No problem was met."
    lost = sum(entry.lost_h or 0.0 for entry in troubles)
    met = count(len(troubles), "problem was met", "problems were met")
    return f"{said}. {met}" + (f", which cost {number(lost)} h." if lost else ".")
