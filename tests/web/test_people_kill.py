"""Several weigh in at once on a database, and server or database are killed: nothing is lost.

What was answered is on the bench; what was not is sent again under its key, and counts once.
"""

from __future__ import annotations

import threading
import time

import httpx2 as httpx
import pytest
from loops import some

from beadworth.core import from_mapping
from beadworth.store import open_bench
from beadworth.trial import TrialSpec
from beadworth.workflow import admit, make_plan

CLIENTS = 6
EACH = some(5, long=20)


@pytest.fixture
def stocked_database(own_database, records, spec):
    """A database with a planned trial: its server, the trial, its coupons, a token each."""
    with open_bench(own_database.address) as bench:
        for rig in records["rigs"]:
            bench.save_rig(rig)
        bench.save_material(records["material"])
        asked = from_mapping(TrialSpec, spec | {"replicates": some(3, long=12)}, "test")
        trial = bench.create_trial(asked, make_plan(bench, asked)).id
        coupons = [coupon.coupon for coupon in bench.coupons(trial)]
        tokens = [admit(bench, f"client {n}", "measurer", script=True).secret
                  for n in range(CLIENTS)]  # fmt: skip
    assert len(coupons) >= CLIENTS * EACH
    return own_database, trial, coupons, tokens


class Client(threading.Thread):
    """Enters its own coupons; one that is not answered is sent again, to whoever then serves."""

    def __init__(self, number, token, where, trial, coupons):
        super().__init__()
        self.number, self.where, self.trial, self.coupons = number, where, trial, coupons
        self.headers = {"Authorization": f"Bearer {token}", "Prefer": "return=minimal"}
        self.answered = {}
        self.unanswered = 0

    def run(self):
        for n, coupon in enumerate(self.coupons):
            mass = round(1.5 + self.number / 10 + n / 1000, 3)
            body = {"coupon": coupon, "mass_g": mass, "entry_key": f"client{self.number}-{n:04d}"}
            deadline = time.monotonic() + 120
            while not self._sent(body):
                assert time.monotonic() < deadline
                self.unanswered += 1
                time.sleep(0.05)
            self.answered[coupon] = mass

    def _sent(self, body):
        address = f"{self.where[0]}/api/trials/{self.trial}/readings"
        try:
            said = httpx.post(address, json=body, headers=self.headers, timeout=30)
        except httpx.TransportError:
            return False
        assert said.status_code in (201, 503), said.text
        return said.status_code == 201


@pytest.mark.parametrize("killed", ["server", "database"])
def test_nothing_answered_is_lost_and_nothing_counts_twice(stocked_database, server, killed):
    database, trial, coupons, tokens = stocked_database
    running = server(database.address, people=True)
    where = [running.address]
    clients = [
        Client(n, token, where, trial, coupons[n * EACH : (n + 1) * EACH])
        for n, token in enumerate(tokens)
    ]
    for client in clients:
        client.start()
    while sum(len(client.answered) for client in clients) < CLIENTS * EACH // 3:
        time.sleep(0.001)
    if killed == "server":
        running.kill()
        where[0] = server(database.address, people=True).address
    else:
        database.crash()
        time.sleep(0.3)  # some are refused meanwhile
        database.start()
    for client in clients:
        client.join(150)
        assert not client.is_alive()
    assert sum(client.unanswered for client in clients) > 0
    answered = {coupon: mass for client in clients for coupon, mass in client.answered.items()}
    assert len(answered) == CLIENTS * EACH
    with open_bench(database.address) as bench:
        kept = bench.readings(trial)
        assert {one.reading.coupon: one.reading.mass_g for one in kept} == answered
        assert len(kept) == len(answered)
        by = {one.reading.coupon: one.author for one in kept}
        assert by == {c: f"client {client.number}" for client in clients for c in client.answered}
        assert bench.check().findings == ()
