"""Who made an entry, keys of entries that may be sent twice, and rights given by a secret."""

from typing import Any

import sqlalchemy as sa
from alembic import op

from beadworth.store.models import UtcTime

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

AUTHORED = ("records", "trials", "plans", "amendments", "readings", "reading_events", "notes")
KEYED = ("readings", "notes")
NEW = {"grants": "digest", "grant_events": "grant_id"}
"""Tables made here, and what else is unique in them."""


def _author() -> "sa.Column[Any]":
    return sa.Column("author", sa.String(80), nullable=True)


def upgrade() -> None:
    """Add columns that stay empty in the rows there are, and the tables of rights."""
    for table in AUTHORED:
        op.add_column(table, _author())
    for table in KEYED:
        op.add_column(table, sa.Column("entry_key", sa.String(64), nullable=True))
        op.create_index(f"ix_{table}_entry_key", table, ["entry_key"], unique=True)
    op.create_table(
        "grants",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("kind", sa.String(12), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("role", sa.String(12), nullable=False),
        sa.Column("trial_id", sa.String(80), sa.ForeignKey("trials.id"), nullable=True),
        sa.Column("at", UtcTime(), nullable=False),
        sa.Column("until", UtcTime(), nullable=True),
        sa.Column("digest", sa.String(64), nullable=False, unique=True),
        _author(),
    )
    op.create_table(
        "grant_events",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column(
            "grant_id", sa.Integer(), sa.ForeignKey("grants.id"), nullable=False, unique=True
        ),
        sa.Column("at", UtcTime(), nullable=False),
        sa.Column("state", sa.String(12), nullable=False),
        _author(),
    )
    postgresql = op.get_bind().dialect.name == "postgresql"
    for statement in _on_postgresql() if postgresql else _on_sqlite():
        op.execute(statement)


def _on_postgresql() -> list[str]:
    return [
        f"CREATE TRIGGER {table}_{name}kept BEFORE {verb} ON {table} "
        f"FOR EACH {each} EXECUTE FUNCTION bench_keeps()"
        for table in NEW
        for name, verb, each in (
            ("", "UPDATE OR DELETE", "ROW"),
            ("truncate_", "TRUNCATE", "STATEMENT"),
        )
    ]


def _on_sqlite() -> list[str]:
    """As for the other tables; what REPLACE would delete can now be found by its key too."""
    refused = "BEGIN SELECT RAISE(ABORT, 'the bench only adds: {} of {} is refused'); END"
    statements = [
        f"CREATE TRIGGER {table}_{verb.lower()}_kept BEFORE {verb} ON {table} "
        + refused.format(verb, table)
        for table in NEW
        for verb in ("UPDATE", "DELETE")
    ]
    statements += [f"DROP TRIGGER {table}_replace_kept" for table in KEYED]
    unique = {**NEW, **dict.fromkeys(KEYED, "entry_key")}
    return statements + [
        f"CREATE TRIGGER {table}_replace_kept BEFORE INSERT ON {table} WHEN EXISTS "
        f"(SELECT 1 FROM {table} WHERE id = NEW.id OR {column} = NEW.{column}) "
        + refused.format("REPLACE", table)
        for table, column in unique.items()
    ]


def downgrade() -> None:
    """A bench is never taken back: restore a backup instead."""
    raise NotImplementedError("a bench is never taken back to an older release")
