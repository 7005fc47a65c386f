"""Part cards among the records, and records that were removed: no table changes.

Earlier releases know neither and would fail on them, so they must refuse the bench as one of a
later release; the number of this migration tells them.
"""

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing to change."""


def downgrade() -> None:
    """A bench is never taken back: restore a backup instead."""
    raise NotImplementedError("a bench is never taken back to an older release")
