"""The first bench: records, trials, plans, amendments, readings, events, slots, notes."""

from typing import Any

import sqlalchemy as sa
from alembic import op

from beadworth.store.models import UtcTime

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

APPEND_ONLY = ("records", "trials", "plans", "amendments", "readings", "reading_events", "notes")


def _trial() -> "sa.Column[Any]":
    return sa.Column(
        "trial_id", sa.String(80), sa.ForeignKey("trials.id"), nullable=False, index=True
    )


def _text(name: str, length: int | None = None) -> "sa.Column[Any]":
    return sa.Column(name, sa.String(length) if length else sa.Text(), nullable=False)


def _id() -> "sa.Column[Any]":
    return sa.Column("id", sa.Integer(), primary_key=True)


def _at() -> "sa.Column[Any]":
    return sa.Column("at", UtcTime(), nullable=False)


def _data() -> "sa.Column[Any]":
    return sa.Column("data", sa.JSON(), nullable=False)


def _whole(name: str) -> "sa.Column[Any]":
    return sa.Column(name, sa.Integer(), nullable=False)


def upgrade() -> None:
    """Make every table, and the triggers that keep what was measured."""
    op.create_table(
        "records", _id(), _text("kind", 20), _text("name", 80), _whole("version"), _at(), _data(),
        sa.UniqueConstraint("kind", "name", "version"),
    )  # fmt: skip
    op.create_table(
        "trials", sa.Column("id", sa.String(80), primary_key=True), _text("question"), _at(),
        sa.Column("simulated", sa.Boolean(), nullable=False),
    )  # fmt: skip
    op.create_table(
        "plans", _id(), _trial(), _whole("version"), _at(), _text("digest", 64), _data(),
        sa.UniqueConstraint("trial_id", "version"),
    )  # fmt: skip
    op.create_table(
        "amendments", _id(), _trial(), _whole("number"), _at(), _text("what"), _text("reason"),
        _text("digest", 64), _data(), sa.UniqueConstraint("trial_id", "number"),
    )  # fmt: skip
    op.create_table("readings", _id(), _trial(), _at(), _text("source", 300), _data())
    op.create_table(
        "reading_events", _id(),
        sa.Column("reading_id", sa.Integer(), sa.ForeignKey("readings.id"), nullable=False,
                  unique=True),
        _at(), _text("state", 12), _text("reason"),
        sa.Column("by_reading_id", sa.Integer(), sa.ForeignKey("readings.id"), nullable=True),
    )  # fmt: skip
    op.create_table(
        "slots",
        sa.Column("trial_id", sa.String(80), sa.ForeignKey("trials.id"), primary_key=True),
        sa.Column("coupon", sa.String(40), primary_key=True),
        sa.Column("reading_id", sa.Integer(), sa.ForeignKey("readings.id"), nullable=False),
    )
    op.create_table(
        "notes", _id(), sa.Column("kind", sa.String(40), nullable=False, index=True),
        sa.Column("subject", sa.String(120), nullable=False, index=True), _at(), _data(),
    )  # fmt: skip
    for statement in _triggers(op.get_bind().dialect.name):
        op.execute(statement)


def _triggers(dialect: str) -> list[str]:
    if dialect == "postgresql":
        statements = [
            "CREATE FUNCTION bench_keeps() RETURNS trigger AS $$ BEGIN "
            "RAISE EXCEPTION 'the bench only adds: % of % is refused', TG_OP, TG_TABLE_NAME; "
            "END $$ LANGUAGE plpgsql"
        ]
        statements += [
            f"CREATE TRIGGER {table}_kept BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION bench_keeps()"
            for table in APPEND_ONLY
        ]
        return statements
    return [
        f"CREATE TRIGGER {table}_{verb.lower()}_kept BEFORE {verb} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, 'the bench only adds: {verb} of {table} is refused'); END"
        for table in APPEND_ONLY
        for verb in ("UPDATE", "DELETE")
    ]


def downgrade() -> None:
    """A bench is never taken back: restore a backup instead."""
    raise NotImplementedError("a bench is never taken back to an older release")
