"""Pulling the plug in the middle of an evening's weighing loses nothing that was answered."""

from __future__ import annotations

import threading
import time

import httpx2 as httpx
from loops import some

from beadworth.core.records import from_mapping
from beadworth.store import open_bench
from beadworth.trial import TrialSpec
from beadworth.workflow.trial import make_plan

ENTRIES = some(30, long=200)


def a_long_sheet(path, records, spec):
    with open_bench(path) as bench:
        for rig in records["rigs"]:
            bench.save_rig(rig)
        bench.save_material(records["material"])
        asked = from_mapping(
            TrialSpec, spec | {"replicates": some(3, long=12), "references_per_block": 4}, "test"
        )
        trial = bench.create_trial(asked, make_plan(bench, asked))
        return trial.id, [coupon.coupon for coupon in bench.coupons(trial.id)]


def test_kill_9_in_the_middle_of_the_entries(server, tmp_path, records, spec):
    path = tmp_path / "evening.bench"
    trial, coupons = a_long_sheet(path, records, spec)
    assert len(coupons) >= ENTRIES
    running = server(path)
    answered: dict[str, float] = {}
    stop_at = ENTRIES // 2

    def pull_the_plug():
        while len(answered) < stop_at:
            time.sleep(0.001)
        running.kill()

    plug = threading.Thread(target=pull_the_plug)
    plug.start()

    def enter(client, number):
        coupon, mass = coupons[number], 1.5 + number / 1000
        said = client.post(
            f"/trials/{trial}/readings",
            data={"coupon": coupon, "mass_g": f"{mass:.3f}"},
            headers={"HX-Request": "true"},
        )
        assert said.status_code == 200, said.text
        answered[coupon] = round(mass, 3)

    reached = 0
    with httpx.Client(base_url=running.address, timeout=30) as client:
        try:
            for reached in range(ENTRIES):
                enter(client, reached)
        except httpx.TransportError:
            pass
    plug.join()
    assert stop_at <= len(answered) < ENTRIES

    # The person starts it again, and goes on with the coupon whose entry was not answered.
    again = server(path)
    with httpx.Client(base_url=again.address, timeout=30) as client:
        for number in range(reached, ENTRIES):
            enter(client, number)
    again.stop()
    with open_bench(path) as bench:
        kept = {reading.coupon: reading.mass_g for reading in bench.current_readings(trial)}
        assert bench.check().sound
    assert kept == answered
    assert len(kept) == ENTRIES
