"""The run sheet as the weigh-in shows it: each coupon, what counts for it, what comes next."""

from __future__ import annotations

from dataclasses import dataclass

from beadworth.trial import Coupon
from beadworth.workflow import StoredReading, TrialSnapshot


@dataclass(frozen=True)
class Row:
    """One coupon and the reading that counts for it now."""

    coupon: Coupon
    reading: StoredReading | None


@dataclass(frozen=True)
class Block:
    """Coupons made one after the other at one temperature on one rig."""

    number: int
    rig: str
    temperature_c: float
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Sheet:
    """Everything the weigh-in page shows of a trial."""

    trial: str
    rows: tuple[Row, ...]
    history: tuple[StoredReading, ...]
    """All readings in order of entry, void and superseded ones too."""
    readability_g: float | None = None
    """Of the balance that the plan names."""

    @property
    def weighed(self) -> int:
        """Coupons with a reading that counts."""
        return sum(row.reading is not None for row in self.rows)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """The rows by temperature block, in run order."""
        numbers = list(dict.fromkeys(row.coupon.block for row in self.rows))
        blocks = []
        for number in numbers:
            rows = tuple(row for row in self.rows if row.coupon.block == number)
            first = rows[0].coupon
            blocks.append(Block(number, first.rig, first.temperature_c, rows))
        return tuple(blocks)

    def row(self, coupon: str) -> Row | None:
        """The row of a coupon."""
        return next((row for row in self.rows if row.coupon.coupon == coupon), None)

    def next_after(self, coupon: str | None) -> Row | None:
        """The first coupon not weighed yet, from the one after ``coupon`` round to it."""
        names = [row.coupon.coupon for row in self.rows]
        start = names.index(coupon) + 1 if coupon in names else 0
        for row in (*self.rows[start:], *self.rows[:start]):
            if row.reading is None:
                return row
        return None

    def remembered_tare(self) -> float | None:
        """The tare of the last reading entered, offered again."""
        return self.history[-1].reading.tare_g if self.history else None


def sheet_of(snapshot: TrialSnapshot) -> Sheet:
    """The sheet of a trial as it stands."""
    history = snapshot.readings
    current = {item.reading.coupon: item for item in history if item.state == "current"}
    rows = tuple(Row(coupon, current.get(coupon.coupon)) for coupon in snapshot.coupons)
    spec = snapshot.record.spec
    balance = spec.balance.readability_g if spec else None
    return Sheet(snapshot.record.id, rows, history, balance)
