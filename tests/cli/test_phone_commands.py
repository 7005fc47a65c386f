"""Phones from the command line: shared with a code in the terminal, listed, unpaired."""

import json
import os
import re
import signal
import time

import httpx2 as httpx
import pytest
from bench_support import stocked
from nursery import alive

from beadworth.workflow import make_pairing_code, pair_phone


@pytest.fixture
def paired(tmp_path, empty_bench):
    """A bench with a phone that was paired: its file, the trial, the phone's secret."""
    bench, trial = stocked(empty_bench(tmp_path / "x.bench"))
    with bench:
        secret, _ = pair_phone(bench, make_pairing_code(bench, trial).code)
    return tmp_path / "x.bench", trial, secret


def test_phones_are_listed_and_unpaired(beadworth, paired):
    path, trial, secret = paired
    listed = beadworth("bench", "phones", "--bench", path)
    assert re.search(rf"phone 1 +{trial} .* paired\b", listed.out)
    assert "Next, to unpair one: beadworth bench unpair 2" in listed.out
    assert secret not in listed.out
    (phone,) = json.loads(beadworth("bench", "phones", "--json", "--bench", path).out)["phones"]
    assert phone.keys() == {"id", "name", "trial", "at", "until", "state"}
    done = beadworth("bench", "unpair", phone["id"], "--bench", path)
    assert (done.code, done.out) == (0, "Unpaired: phone 1\n")
    again = beadworth("bench", "unpair", phone["id"], "--bench", path)
    assert again.code == 6
    assert "phone 1 was withdrawn already" in again.err
    assert "unpaired" in beadworth("bench", "phones", "--bench", path).out
    every = beadworth("bench", "unpair", "--all", "--bench", path)
    assert (every.code, every.out) == (0, "No phone was paired.\n")


@pytest.mark.parametrize("words", [(), ("3", "--all")])
def test_which_phone_is_meant_has_to_be_said(beadworth, paired, words):
    done = beadworth("bench", "unpair", *words, "--bench", paired[0])
    assert done.code == 2
    assert "Give its number (beadworth bench phones), or --all." in done.err


@pytest.mark.parametrize("words", [("--trial", "x"), ("--share-address", "10.0.0.1")])
def test_how_to_share_without_sharing_is_refused(beadworth, paired, words):
    done = beadworth("bench", "serve", *words, "--bench", paired[0])
    assert done.code == 2
    assert "Add --share." in done.err


@pytest.mark.parametrize("address", ["0.0.0.0", "8.8.8.8"])
def test_all_addresses_at_once_are_not_shared(beadworth, paired, address):
    done = beadworth("bench", "serve", "--port", "0", "--share", "--share-address", address,
                     "--bench", paired[0])  # fmt: skip
    assert done.code == 2
    assert "is not one address on a network of your own" in done.err


def test_the_terminal_shows_what_is_open_to_whom_and_a_code_that_pairs(paired, nursery, tmp_path):
    path, trial, _ = paired
    said = tmp_path / "said"
    words = ["bench", "serve", "--port", "0", "--bench", str(path), "--share", "--share-address",
             "127.0.0.2", "--trial", trial]  # fmt: skip
    called = "import sys; from beadworth.cli import main; main(sys.argv[1:])"
    process = nursery.begin(called, words, {}, tmp_path, said)
    deadline = time.monotonic() + 60
    try:
        while not (
            last := re.search(r"Or open (\S+) on the phone and type (\S+):", said.read_text())
        ):
            assert time.monotonic() < deadline, said.read_text()
            time.sleep(0.02)
        text = said.read_text()
        assert "Open for phones at http://127.0.0.2:" in text
        assert "everyone on the network of this address reaches it" in text
        assert "not encrypted" in text
        assert len(set("▀▄█ ") & set(text)) >= 3  # the square
        address, code = last.groups()
        answer = httpx.post(f"{address}/pair", data={"code": code}, timeout=30)
        assert answer.headers["location"] == f"/trials/{trial}/weigh"
        assert httpx.get(f"{address}/rigs", timeout=30).status_code == 401
    finally:
        os.kill(process, signal.SIGTERM)
        while alive(process):
            assert time.monotonic() < deadline, said.read_text()
            time.sleep(0.02)
    with pytest.raises(httpx.TransportError):
        httpx.get(f"{address}/pair", timeout=2)
