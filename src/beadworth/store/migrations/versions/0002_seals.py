"""Seals on every row, and refusal of the two other ways to overwrite: REPLACE and TRUNCATE."""

import sqlalchemy as sa
from alembic import op

from beadworth.store.hash_chain import START, seal

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

SEALED = {
    "records": ("kind", "name", "version"),
    "trials": (),
    "plans": ("trial_id", "version"),
    "amendments": ("trial_id", "number"),
    "readings": (),
    "reading_events": ("reading_id",),
    "notes": (),
}
"""Tables kept so far, in the order their rows are sealed, and what else is unique in them."""


def upgrade() -> None:
    """Seal the rows there are, as they are found; then let the database keep the seals too."""
    seals = op.create_table(
        "seals",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("kept_in", sa.String(20), nullable=False),
        sa.Column("row_key", sa.String(80), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
    )
    connection = op.get_bind()
    before = START
    for name in SEALED:
        table = sa.Table(name, sa.MetaData(), autoload_with=connection)
        for row in connection.execute(sa.select(table).order_by(table.c.id)).mappings().all():
            before = seal(before, name, dict(row))
            connection.execute(
                seals.insert().values(kept_in=name, row_key=str(row["id"]), digest=before)
            )
    postgresql = connection.dialect.name == "postgresql"
    for statement in _on_postgresql() if postgresql else _on_sqlite():
        op.execute(statement)


def _on_postgresql() -> list[str]:
    return [
        "CREATE TRIGGER seals_kept BEFORE UPDATE OR DELETE ON seals "
        "FOR EACH ROW EXECUTE FUNCTION bench_keeps()"
    ] + [
        f"CREATE TRIGGER {table}_truncate_kept BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION bench_keeps()"
        for table in (*SEALED, "seals")
    ]


def _on_sqlite() -> list[str]:
    """REPLACE deletes without the DELETE trigger, so what it would delete is looked for first."""
    refused = "BEGIN SELECT RAISE(ABORT, 'the bench only adds: {} of {} is refused'); END"
    statements = [
        f"CREATE TRIGGER seals_{verb.lower()}_kept BEFORE {verb} ON seals "
        + refused.format(verb, "seals")
        for verb in ("UPDATE", "DELETE")
    ]
    for table, unique in {**SEALED, "seals": ()}.items():
        same = "id = NEW.id"
        if unique:
            same += f" OR ({' AND '.join(f'{name} = NEW.{name}' for name in unique)})"
        statements.append(
            f"CREATE TRIGGER {table}_replace_kept BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) " + refused.format("REPLACE", table)
        )
    return statements


def downgrade() -> None:
    """A bench is never taken back: restore a backup instead."""
    raise NotImplementedError("a bench is never taken back to an older release")
