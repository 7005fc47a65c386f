"""Time of a weigh-in answer over HTTP on the demo's larger trial, from sending to the whole answer.

A real server on the loopback interface. The last readings are voided first and then entered again
over the JSON API, so the answers are those of a sheet of nearly 190 coupons. Prints median, 95 %
and slowest, and the time of GET / as the yardstick of an ordinary request.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from typing import Any

from machine import machine

COUNT = 24
SERVE = (
    "import sys; from beadworth.store import open_bench; from beadworth.demo import seed\n"
    "from beadworth.web import serve\n"
    "bench = open_bench(sys.argv[1]); seed(bench); serve(bench, port=0, as_json=True)"
)


def call(url: str, body: Any = None) -> tuple[Any, float]:
    """The answer and its time, s."""
    data = json.dumps(body).encode() if body is not None else None
    request = urllib.request.Request(url, data, {"Content-Type": "application/json"})
    start = time.perf_counter()
    with urllib.request.urlopen(request) as got:
        text = got.read()
    took = time.perf_counter() - start
    return (json.loads(text) if text[:1] in b"{[" else None), took


def main() -> None:
    """Serve, void, enter, print."""
    with tempfile.TemporaryDirectory() as folder:
        server = subprocess.Popen(
            [sys.executable, "-c", SERVE, f"{folder}/x.bench"], stdout=subprocess.PIPE, text=True
        )
        try:
            assert server.stdout is not None
            told = ""
            while "http" not in told:
                told = server.stdout.readline()
            base = "http" + told.split("http", 1)[1].split('"')[0].strip().rstrip("/")
            measure(base)
        finally:
            server.terminate()
            server.wait()
            if server.stdout is not None:
                server.stdout.close()


def measure(base: str) -> None:
    """Void the last readings of the larger trial, enter them again, print the times."""
    trials, _ = call(f"{base}/api/trials")
    largest = max(trials["trials"], key=lambda trial: trial["readings"])["id"]
    at = f"{base}/api/trials/{urllib.parse.quote(largest)}/readings"
    stored, _ = call(at)
    last = [row for row in stored["readings"] if row["state"] == "current"][-COUNT:]
    for row in last:
        call(f"{at}/{row['reading_id']}/void", {"reason": "timed again"})
    times, empty = [], []
    for row in last:
        body = {name: row["reading"][name] for name in ("coupon", "mass_g", "diameter_mm")}
        times.append(call(at, body)[1] * 1000)
        empty.append(call(f"{base}/")[1] * 1000)
    there = len(stored["readings"])
    print(f"{machine()}; {COUNT} entries, {there} readings there.\n")
    print("| what | median ms | 95 % below | slowest |")
    print("| --- | --: | --: | --: |")
    for what, values in (("weigh-in answer", times), ("first page, the yardstick", empty)):
        cut = statistics.quantiles(values, n=20)[-1]
        print(f"| {what} | {statistics.median(values):.0f} | {cut:.0f} | {max(values):.0f} |")


if __name__ == "__main__":
    main()
