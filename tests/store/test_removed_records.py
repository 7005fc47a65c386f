"""A record that was removed is out of sight, its versions stay, and its name is free again."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy.exc import DBAPIError

from beadworth.core import ConflictError, NotFoundError
from beadworth.rig import HotEnd, PartCard, Rig
from beadworth.store import open_bench
from beadworth.store.engines import WRITERS


def test_removed_and_made_anew(where):
    with open_bench(where) as bench:
        bench.save_rig(Rig(name="Wren", note="first"))
        bench.save_rig(Rig(name="Other"))
        bench.remove_record("rig", "Wren")
        assert [rig.name for rig in bench.rigs()] == ["Other"]
        assert set(bench.records()[0]) == {"Other"}
        for look in (bench.rig, bench.rig_history):
            with pytest.raises(NotFoundError, match=r"On the bench: Other\."):
                look("Wren")
        with pytest.raises(NotFoundError):
            bench.remove_record("rig", "Wren")
        assert bench.check().sound
        bench.save_rig(Rig(name="Wren", note="second"))
        assert [v.record.note for v in bench.rig_history("Wren")] == ["second"]
    with open_bench(where) as bench:
        assert bench.rig("Wren").note == "second"
        assert bench.check().sound


def test_nobody_writes_between_the_question_and_the_removal(where):
    asked = []

    def ask(refused):
        with open_bench(where) as other, pytest.raises(DBAPIError, match="lock"):  # noqa: PT012
            if other._engine.dialect.name == "sqlite":
                with sqlite3.connect(where, timeout=0) as impatient:
                    try:
                        impatient.execute("BEGIN IMMEDIATE")
                    except sqlite3.OperationalError as error:
                        raise DBAPIError("BEGIN IMMEDIATE", None, error) from None
            else:
                with other._engine.execution_options(reads=True).begin() as impatient:
                    impatient.exec_driver_sql("SET LOCAL lock_timeout = '50ms'")
                    impatient.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITERS})")
        asked.append([rig.name for rig in bench.rigs()])
        if refused:
            raise ConflictError("Wren is used.")

    with open_bench(where) as bench:
        bench.save_rig(Rig(name="Wren"))
        with pytest.raises(ConflictError):
            bench.remove_record("rig", "Wren", lambda: ask(True))
        assert bench.rig("Wren") == Rig(name="Wren")
        bench.remove_record("rig", "Wren", lambda: ask(False))
        assert bench.rigs() == []
        assert asked == [["Wren"], ["Wren"]]


def test_part_cards_have_versions_and_go_with_a_backup(where, tmp_path):
    card = PartCard(name="Copper", kind="hot end", hot_end=HotEnd(melt_zone_mm=20.0))
    with open_bench(where) as bench:
        bench.save_part(card)
        bench.save_part(card.model_copy(update={"mass_g": 71.0}))
        bench.save_part(card.model_copy(update={"mass_g": 71.0}))
        assert [v.record.mass_g for v in bench.part_history("Copper")] == [None, 71.0]
        assert bench.records() == ({}, {})
        if not isinstance(where, Path):
            return  # a server is backed up by its own tool
        bench.backup(tmp_path / "copy.bench")
    with open_bench(tmp_path / "copy.bench") as copied:
        assert copied.part("Copper").mass_g == 71.0
        assert [part.name for part in copied.parts()] == ["Copper"]
