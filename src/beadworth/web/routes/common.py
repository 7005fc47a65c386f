"""What routes share: the bench, the form that was sent, files that are handed out."""

from __future__ import annotations

import re
import threading
from collections.abc import AsyncIterator
from typing import Annotated
from urllib.parse import quote

from fastapi import Depends
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import InputError
from beadworth.web.balance_desk import BalanceDesk
from beadworth.web.jobs import Jobs
from beadworth.web.print_jobs import Desk
from beadworth.web.responses import MalformedError
from beadworth.workflow import Bench, PrintShelf

_making = threading.Lock()


async def _bench(request: Request) -> Bench:  # else each request waits for one more thread
    bench: Bench = request.app.state.bench
    return bench


def _desk(request: Request) -> Desk:
    """Made when first asked for: a bench nobody gives a print gets no folder beside it."""
    state = request.app.state
    with _making:
        if not hasattr(state, "desk"):
            shelf = PrintShelf(state.bench)
            state.desk = Desk(shelf, Jobs(at_once=2, within=shelf.folder))
    desk: Desk = state.desk
    return desk


def _publications(request: Request) -> Jobs:
    """Publications, one at a time: each keeps both cores busy by itself."""
    state = request.app.state
    with _making:
        if not hasattr(state, "publications"):
            state.publications = Jobs(at_once=1)
    jobs: Jobs = state.publications
    return jobs


def _balances(request: Request) -> BalanceDesk:
    desk: BalanceDesk = request.app.state.balances
    return desk


async def _form(request: Request) -> AsyncIterator[FormData]:
    """The form that was sent, read before the route's own thread starts."""
    try:
        form = await request.form(max_files=4, max_fields=1000)
    except HTTPException as error:
        raise MalformedError(
            f"the form cannot be read: {error.detail}.", where="request body"
        ) from None
    try:
        yield form
    finally:
        await form.close()


BalancesOf = Annotated[BalanceDesk, Depends(_balances)]
BenchOf = Annotated[Bench, Depends(_bench)]
DeskOf = Annotated[Desk, Depends(_desk)]
FormOf = Annotated[FormData, Depends(_form)]
PublicationsOf = Annotated[Jobs, Depends(_publications)]
PATIENCE_S = 0.8
"""How long an answer is waited for before its progress is shown."""


ENTRY_KEY = re.compile(r"[A-Za-z0-9_-]{8,64}")


def entry_key_of(form: FormData) -> str | None:
    """The key an entry came under, so that one sent twice is stored once; None without.

    Raises
    ------
    InputError
        What no sender of ours makes.
    """
    key = str(form.get("entry_key", ""))
    if key and not ENTRY_KEY.fullmatch(key):
        raise InputError(
            "this is no key of an entry.", "entry_key", key[:80], "8 to 64 letters and digits."
        )
    return key or None


def text_of(data: bytes, source: str) -> str:
    """Bytes as UTF-8 text (a byte-order mark is dropped).

    Raises
    ------
    InputError
        Bytes that are not UTF-8.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"byte {error.start} is not UTF-8 text.",
            where=source,
            remedy="Save the file as UTF-8 and try again; nothing was taken.",
        ) from None


def file_or_pasted(form: FormData, pasted_name: str) -> tuple[bytes | str, str]:
    """The bytes of an uploaded file, or the text that was pasted; with the name for messages.

    Raises
    ------
    InputError
        Neither was given.
    """
    upload = form.get("file")
    if isinstance(upload, UploadFile) and upload.filename:
        return upload.file.read(), upload.filename
    pasted = str(form.get("text", ""))
    if not pasted.strip():
        raise InputError(
            "nothing was pasted and no file was chosen.",
            where=pasted_name,
            remedy="Paste the text or choose a file.",
        )
    return pasted, pasted_name


def pasted_or_uploaded(form: FormData, pasted_name: str) -> tuple[str, str]:
    """As :func:`file_or_pasted`, a file as its text; InputError where it is none."""
    given, name = file_or_pasted(form, pasted_name)
    return (text_of(given, name) if isinstance(given, bytes) else given), name


def download(content: str | bytes, name: str, media_type: str) -> Response:
    """A file handed out under a name; characters outside ASCII go the standard way (RFC 6266)."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_. ") else "_" for c in name)
    return Response(
        content,
        media_type=media_type,
        headers={
            "Content-Disposition": f'attachment; filename="{plain}"; '
            f"filename*=UTF-8''{quote(name, safe='')}"
        },
    )


def see_other(address: str) -> Response:
    """After a change: go and look at what came of it."""
    return Response(status_code=303, headers={"Location": address})
