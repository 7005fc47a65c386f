"""Fits that a whole run shares: whatever of it fits the same readings again is handed the first.
Answers of worth cases, drawings of charts, draws of the melt model and a new bench's tables
likewise.

``weigh`` of the capacity model takes a second and most tests are of pages, commands and packages
that only need *a* capacity. Where this is installed (the tests' own processes and all that is
forked by the nursery) its answer is kept by what it was asked, in files that every process of the
run reads, and it is worked out with the effort of the balance, a fifth of the usual; answers of
worth cases with a tenth of the draws.

Tests of the model itself, and of documents that quote its figures, ask for ``own_fits`` or
``full_fits``; ``--long`` gives every test the usual effort.
"""

from __future__ import annotations

import functools
import hashlib
import importlib
import json
import os
import pickle
import sys
import threading
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import loops

FOLDER, EFFORT = "BEADWORTH_TEST_FITS", "BEADWORTH_TEST_EFFORT"
"""Environment, which processes inherit: where fits are kept; ``quick``, ``full`` or ``own``."""
ASKING = (
    "beadworth.capacity.fitting.fit",
    "beadworth.capacity.reading.next_coupons",
    "beadworth.capacity.reading.odd_of_pair",
)
"""Modules that call ``weigh``."""
BATCH = {"quick": 2_500}
"""Draws of a batch of a worth case by effort; the usual number at the others."""
WORKING_OUT = ("beadworth.workflow.worth_cases", "beadworth.worth")
"""Modules that call ``work_out``, or hand it on to those that import it when called."""


def install() -> None:
    """Let every module that calls ``weigh`` call the shared one."""
    from beadworth.capacity.model import posterior_fit
    from beadworth.melt import prediction
    from beadworth.report.charts import chart
    from beadworth.store import opening
    from beadworth.worth import answer, monte_carlo

    for name in ASKING:
        module: Any = importlib.import_module(name)
        assert module.weigh is posterior_fit.weigh, f"{name} calls another weigh"
        module.weigh = shared(posterior_fit.weigh)
    work_out = shared_worth(answer.work_out)
    for name in WORKING_OUT:
        module = importlib.import_module(name)
        assert module.work_out is answer.work_out, f"{name} calls another work_out"
        module.work_out = work_out
    chart.svg_of_json = shared_drawing(chart.svg_of_json)
    prediction.draw_ceilings_mm3_s = shared_draws(prediction.draw_ceilings_mm3_s)
    opening.bring_up = shared_tables(opening.bring_up)
    BATCH.update(full=monte_carlo.BATCH, own=monte_carlo.BATCH)
    _switch(os.environ[EFFORT])


def shared(weigh: Callable[..., Any]) -> Callable[..., Any]:
    """``weigh`` with its answers kept."""

    @functools.wraps(weigh)
    def ask(group: Any, loss: float, **options: Any) -> Any:
        from beadworth.capacity.model.sampling import FULL, QUICK

        how = os.environ[EFFORT]
        if how == "own":
            return weigh(group, loss, **options)
        options = {"effort": FULL} | options
        if how == "quick" and options["effort"] == FULL:  # said by the caller or not
            options["effort"] = QUICK
        made = _once(_digest(group, loss, options), lambda: weigh(group, loss, **options))
        return replace(made, group=group)  # whose readings are told apart by identity

    return ask


def shared_worth(work_out: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """``work_out`` with its answers kept: two seconds for the demo's case.

    Without full effort it draws until one digit of the uncertainty stands still, not two.
    """
    from beadworth.worth import buys, to_plain

    one_digit = threading.local()
    propagate = buys.propagate

    @functools.wraps(propagate)
    def draw(*model: Any, **options: Any) -> Any:
        return propagate(*model, **options | getattr(one_digit, "options", {}))

    buys.propagate = draw

    def made(asked: Any, quick: bool) -> Any:
        one_digit.options = {"digits": 1} if quick else {}
        try:
            return work_out(asked)
        finally:
            one_digit.options = {}

    @functools.wraps(work_out)
    def ask(asked: Any) -> Any:
        how = os.environ[EFFORT]
        if how == "own":
            return work_out(asked)
        text = how + asked.case.model_dump_json() + json.dumps(to_plain(asked))
        name = hashlib.sha256(text.encode()).hexdigest()
        return _once(name, lambda: made(asked, how == "quick"))

    return ask


def shared_drawing(svg_of_json: Callable[[str], str]) -> Callable[[str], str]:
    """``svg_of_json`` with its drawings kept: a tenth of a second each, of charts of the demo."""

    @functools.wraps(svg_of_json)
    def ask(spec: str) -> str:
        if os.environ[EFFORT] == "own":
            return svg_of_json(spec)
        layout = sys.modules.get("beadworth.report.render.figure_layout")
        fonts = layout is not None and layout._fonts.cache_info().currsize  # known to the renderer
        text = f"{fonts} {spec}"
        return _once(hashlib.sha256(text.encode()).hexdigest(), lambda: svg_of_json(spec))

    return ask


def shared_draws(draw: Callable[..., Any]) -> Callable[..., Any]:
    """``draw_ceilings_mm3_s`` with its draws kept: a rig's prediction stands on many pages."""

    @functools.wraps(draw)
    def ask(ways: Any, grips_n: Any, material: Any, *terms: Any, **options: Any) -> Any:
        if os.environ[EFFORT] == "own":
            return draw(ways, grips_n, material, *terms, **options)
        said = repr((material, terms, options)).encode()
        name = hashlib.sha256(b"\0".join([ways.tobytes(), grips_n.tobytes(), said])).hexdigest()
        return _once(name, lambda: draw(ways, grips_n, material, *terms, **options)).copy()

    return ask


def shared_tables(bring_up: Callable[..., None]) -> Callable[..., None]:
    """``bring_up`` that makes the tables of a new file as the migrations made them once.

    They take a tenth of a second. Tests of the store (``own``) run them each time.
    """
    from sqlalchemy import create_engine
    from sqlalchemy.pool import StaticPool

    def statements() -> list[str]:
        made = create_engine("sqlite://", poolclass=StaticPool)
        bring_up(made, "in memory", None)
        with made.connect() as connection:
            lines = list(connection.connection.dbapi_connection.iterdump())
        made.dispose()
        return [line for line in lines if line not in ("BEGIN TRANSACTION;", "COMMIT;")]

    @functools.wraps(bring_up)
    def ask(engine: Any, name: str, file: Path | None) -> None:
        if os.environ[EFFORT] == "own" or engine.dialect.name != "sqlite":
            return bring_up(engine, name, file)
        with engine.connect().execution_options(reads=True) as connection:
            tables = connection.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar()
        if tables:
            return bring_up(engine, name, file)
        with engine.begin() as connection:
            for statement in _once("tables", statements):
                connection.exec_driver_sql(statement)
        return None

    return ask


def _once(name: str, make: Callable[[], Any]) -> Any:
    """What is kept under a name, made by whoever asks first."""
    path = Path(os.environ[FOLDER]) / name
    if not path.exists():
        begun = path.with_suffix(f".{uuid.uuid4().hex}")  # a server asks from several threads
        begun.write_bytes(pickle.dumps(make()))
        begun.rename(path)
    return _read(path)


@functools.lru_cache(maxsize=64)
def _read(path: Path) -> Any:
    return pickle.loads(path.read_bytes())


def _digest(group: Any, loss: float, options: dict[str, Any]) -> str:
    """What was asked, as a file's name; the bytes of arrays, which print shortened."""
    asked = [getattr(v, "tobytes", lambda v=v: repr(v).encode())() for v in vars(group).values()]
    return hashlib.sha256(b"\0".join([*asked, repr((loss, options)).encode()])).hexdigest()


def usual() -> str:
    """The effort of the run: ``quick``, and with ``--long`` ``full``."""
    return "full" if loops.is_long() else "quick"


@contextmanager
def effort(how: str) -> Iterator[None]:
    """Fit with another effort for a while: ``own`` (as the caller says, nothing kept), ``full``."""
    before = os.environ[EFFORT]
    _switch(how)
    try:
        yield
    finally:
        _switch(before)


def _switch(how: str) -> None:
    """From here on; what the application keeps of fits of another effort goes."""
    from beadworth.worth import monte_carlo

    os.environ[EFFORT] = how
    monte_carlo.BATCH = BATCH[how]
    for name, module in list(sys.modules.items()):
        if name.startswith("beadworth.workflow."):
            for kept in vars(module).values():
                if hasattr(kept, "cache_clear"):
                    kept.cache_clear()
