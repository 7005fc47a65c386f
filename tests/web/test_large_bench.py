"""A large bench: no page takes long, and the process stays small; all of it is a benchmark."""

import resource
import time

import large_bench
import pytest
from fastapi.testclient import TestClient

from beadworth.store import open_bench
from beadworth.web import create_app


@pytest.mark.long
def test_no_page_takes_a_second_of_the_processor_at_a_tenth_of_a_million_readings(tmp_path):
    with open_bench(tmp_path / "large.bench") as bench:
        large_bench.build(bench, 100_000, 2_000, tell=lambda _: None)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        with TestClient(create_app(bench), base_url="http://127.0.0.1") as client:
            for address in large_bench.pages(bench):
                for _ in range(2):  # the first fits, or loads what it needs
                    begun = time.process_time()
                    answer = client.get(address)
                    took = time.process_time() - begun
                assert answer.status_code == 200, address
                assert took < 1, address
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
        assert grown < 200_000, f"{grown} kB more"
        assert len(bench.outlines()) > 400
