"""Any run of entries, voids and corrections leaves the history a plain model foretells."""

import tempfile
from pathlib import Path

from bench_support import PLAN, stocked
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from loops import some

from beadworth.core.errors import ConflictError, NotFoundError

COUPONS = [coupon.coupon for coupon in PLAN.coupons]
MASSES = st.floats(0.5, 1.9).map(lambda mass: round(mass, 3))


class History(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.bench, self.trial = stocked(Path(self.folder.name) / "s.bench")
        self.current = {}
        self.all = []

    def teardown(self):
        self.bench.close()
        self.folder.cleanup()

    @rule(coupon=st.sampled_from(COUPONS), mass=MASSES)
    def enter(self, coupon, mass):
        try:
            stored = self.bench.record_reading(self.trial, coupon, mass)
        except ConflictError:
            assert coupon in self.current
        else:
            assert coupon not in self.current
            self.current[coupon] = (stored.reading_id, mass)
            self.all.append(mass)

    @rule(place=st.integers(1, 12))
    def void(self, place):
        number = next((n for n, _ in self.current.values() if n == place), None)
        try:
            self.bench.void_reading(place, "test")
        except (ConflictError, NotFoundError):
            assert number is None
        else:
            assert number is not None
            self.current = {c: v for c, v in self.current.items() if v[0] != place}

    @rule(coupon=st.sampled_from(COUPONS), mass=MASSES)
    def correct(self, coupon, mass):
        if coupon in self.current:
            stored = self.bench.supersede_reading(self.current[coupon][0], mass)
            self.current[coupon] = (stored.reading_id, mass)
            self.all.append(mass)

    @invariant()
    def nothing_is_lost(self):
        stored = self.bench.readings(self.trial)
        assert [s.reading.mass_g for s in stored] == self.all
        now = {
            s.reading.coupon: (s.reading_id, s.reading.mass_g)
            for s in stored
            if s.state == "current"
        }
        assert now == self.current
        assert self.bench.check().sound


TestHistory = History.TestCase
TestHistory.settings = settings(
    max_examples=some(5, long=30), stateful_step_count=15, deadline=None
)
