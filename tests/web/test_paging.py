"""Long lists are shown a page at a time, and every row is on one of them."""

import re

import pytest
from fastapi.testclient import TestClient

from beadworth.demo import PLA, STOCK
from beadworth.store import PrintShelf, open_bench, records
from beadworth.trial import Reading
from beadworth.web import create_app
from beadworth.web.paging import AT_ONCE, shown


@pytest.mark.parametrize("many", [0, 1, AT_ONCE, AT_ONCE + 1, 3 * AT_ONCE - 1])
def test_the_pages_hold_every_row_once_and_lead_to_one_another(many):
    rows, seen, asked = list(range(many)), [], None
    for _ in range(5):
        page = shown(rows, asked)
        assert page.whole == many
        assert page.first == len(seen) + 1
        seen += page.rows
        if page.older is None:
            break
        asked = page.older.removeprefix("?page=")
    assert seen == rows
    assert shown(rows, asked).newer == (f"?page={int(asked) - 1}" if asked else None)


@pytest.mark.parametrize("asked", [None, "", "0", "-1", "x", "4", "²", "1e3", "9" * 5000])
def test_what_is_no_page_is_the_first(asked):
    assert shown(range(300), asked).first == 1
    assert shown(range(300), "3").first == 201


def test_first_page_and_prints_go_on_over_pages(tmp_path):
    with open_bench(tmp_path / "my.bench") as bench:
        bench.save_rig(STOCK)
        for number in range(AT_ONCE + 2):
            row = Reading(STOCK.name, PLA.name, 210.0, 8.0, 600.0, 1.78)
            bench.create_trial_from_readings(f"Evening {number:03d}?", [row], "t.csv")
        with bench._write() as session:
            for number in range(2 * AT_ONCE + 1):
                told = {"name": f"part-{number:03d}", "bytes": 9, "packed": False}
                records.add_note(session, "print", f"{number:064x}", told)
        assert len(PrintShelf(bench).all()) == 2 * AT_ONCE + 1
        client = TestClient(create_app(bench), base_url="http://127.0.0.1")

        def names(address, pattern):
            text = client.get(address).text
            return re.findall(pattern, text), re.findall(
                r'href="(\?\w+=\d+)#\w+" rel="(\w+)"', text
            )

        evenings = r'<h3><a href="[^"]+">Evening (\d+)'
        first, ways = names("/", evenings)
        assert first == [f"{n:03d}" for n in range(AT_ONCE + 1, 1, -1)]
        assert ways == [("?trials=2", "next")]
        assert names("/?trials=2", evenings) == (["001", "000"], [("?trials=1", "prev")])
        found, ways = names("/prints?page=2", r'<th scope="row">part-(\d+)')
        assert found == [f"{n:03d}" for n in range(AT_ONCE, 0, -1)]
        assert ways == [("?page=1", "prev"), ("?page=3", "next")]
        assert "Prints 101 to 200 of 201" in client.get("/prints?page=2").text
