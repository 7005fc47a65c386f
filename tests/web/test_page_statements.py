"""How often each page of a trial asks the database, on a bench that holds everything."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from statements import statements

from beadworth.demo import FINISHED
from beadworth.store import open_bench
from beadworth.web import create_app

MOST = 15
PARTS = ("", "/weigh", "/replan", "/programs", "/capacity", "/speeds", "/compare", "/next?count=2",
         "/typical", "/publish", "/readings.csv")  # fmt: skip


@pytest.fixture(scope="module")
def client(demo_copy, tmp_path_factory):
    with open_bench(demo_copy(tmp_path_factory.mktemp("pages"), packages=True)) as bench:
        trial = next(t.id for t in bench.trials() if t.question == FINISHED.question)
        made = TestClient(create_app(bench), base_url="http://127.0.0.1")
        made.bench, made.trial = bench, trial
        yield made


@pytest.mark.parametrize("part", PARTS)
def test_a_page_of_a_trial_takes_few_statements(client, part):
    with statements(client.bench) as sent:
        response = client.get(f"/trials/{client.trial}{part}")
    assert response.status_code == 200
    assert 0 < len(sent) <= MOST, "\n".join(sent)


def test_the_first_page_takes_few_statements(client):
    with statements(client.bench) as sent:
        assert client.get("/").status_code == 200
    assert len(sent) <= MOST, "\n".join(sent)
