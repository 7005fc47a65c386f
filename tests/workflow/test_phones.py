"""A code pairs one phone; the phone's secret lets it in until it runs out or is withdrawn."""

import hashlib
from datetime import UTC, datetime, timedelta

import pytest
from bench_support import stocked

from beadworth.core import ConflictError, NotFoundError, UnknownVisitorError
from beadworth.store import open_bench
from beadworth.workflow import (
    make_pairing_code,
    pair_phone,
    paired_phones,
    phone_of,
    unpair_phones,
)

NOW = datetime(2026, 11, 30, 19, 0, tzinfo=UTC)
S = timedelta(seconds=1)


@pytest.fixture
def bench_trial(tmp_path, empty_bench):
    bench, trial = stocked(empty_bench(tmp_path / "x.bench"))
    yield bench, trial
    bench.close()


def test_a_code_pairs_one_phone_and_its_secret_lets_it_in(bench_trial):
    bench, trial = bench_trial
    code = make_pairing_code(bench, trial, NOW)
    secret, paired = pair_phone(bench, code.code, NOW)
    assert paired.grant.trial == trial
    assert phone_of(bench, secret, NOW).name == "phone 1"
    with pytest.raises(UnknownVisitorError, match="this code was used already: it pairs one phone"):
        pair_phone(bench, code.code, NOW)
    other = make_pairing_code(bench, trial, NOW)
    assert pair_phone(bench, other.code, NOW)[1].grant.name == "phone 2"
    assert [p.grant.name for p in paired_phones(bench, trial, NOW)] == ["phone 2", "phone 1"]
    assert paired_phones(bench, "another", NOW) == []


def test_neither_code_nor_secret_is_stored(bench_trial, tmp_path):
    bench, trial = bench_trial
    code = make_pairing_code(bench, trial)
    secret, _ = pair_phone(bench, code.code)
    bench.settle()
    held = b"".join(path.read_bytes() for path in tmp_path.glob("x.bench*"))
    for text in (secret, code.code, code.code.replace("-", "")):
        assert text.encode() not in held
    assert hashlib.sha256(secret.encode()).hexdigest().encode() in held


@pytest.mark.parametrize("typed", [str.lower, lambda t: t.replace("-", " "), lambda t: f" {t}\n"])
def test_a_code_is_read_as_people_type_it(bench_trial, typed):
    bench, trial = bench_trial
    code = make_pairing_code(bench, trial, NOW)
    assert pair_phone(bench, typed(code.code), NOW)[1].state == "paired"


def test_letters_that_look_like_digits_are_read_as_digits(bench_trial, monkeypatch):
    bench, trial = bench_trial
    monkeypatch.setattr("secrets.choice", lambda letters: letters[1])
    code = make_pairing_code(bench, trial, NOW)
    assert code.code == "1111-1111-1111"
    assert pair_phone(bench, "IL1i-l1IL-1111", NOW)


def test_codes_and_secrets_do_not_repeat_and_are_long(bench_trial):
    bench, trial = bench_trial
    codes = {make_pairing_code(bench, trial, NOW).code for _ in range(30)}
    assert len(codes) == 30
    assert {len(code) for code in codes} == {14}
    used = set("".join(codes)) - {"-"}
    assert not used & set("ILOU")
    assert len(used) > 25  # 360 draws of 32: all but a few
    secrets = {pair_phone(bench, code, NOW)[0] for code in list(codes)[:5]}
    assert len(secrets) == 5
    assert {len(secret) for secret in secrets} == {43}  # 256 bits


def test_a_code_runs_out_after_ten_minutes(bench_trial):
    bench, trial = bench_trial
    code = make_pairing_code(bench, trial, NOW)
    assert code.until == NOW + 600 * S
    with pytest.raises(UnknownVisitorError, match="this code ran out"):
        pair_phone(bench, code.code, NOW + 600 * S)
    assert pair_phone(bench, code.code, NOW + 599 * S)


def test_a_phone_runs_out_after_twelve_hours(bench_trial):
    bench, trial = bench_trial
    secret, _ = pair_phone(bench, make_pairing_code(bench, trial, NOW).code, NOW)
    last = NOW + timedelta(hours=12)
    assert phone_of(bench, secret, last - S)
    with pytest.raises(UnknownVisitorError, match="this phone's pairing ran out"):
        phone_of(bench, secret, last)
    assert [p.state for p in paired_phones(bench, now=last - S)] == ["paired"]
    assert [p.state for p in paired_phones(bench, now=last)] == ["ran out"]


@pytest.mark.parametrize("secret", [None, "", "x", "a" * 43])
def test_a_phone_nobody_paired_is_unknown(bench_trial, secret):
    with pytest.raises(UnknownVisitorError, match="this phone is not paired with this bench"):
        phone_of(bench_trial[0], secret)


def test_a_code_is_no_secret_of_a_phone_and_a_secret_no_code(bench_trial):
    bench, trial = bench_trial
    code = make_pairing_code(bench, trial, NOW)
    with pytest.raises(UnknownVisitorError, match="not paired"):
        phone_of(bench, code.code.replace("-", ""), NOW)
    secret, _ = pair_phone(bench, code.code, NOW)
    with pytest.raises(UnknownVisitorError, match="not one of this bench"):
        pair_phone(bench, secret, NOW)


def test_an_unpaired_phone_is_out_at_once(bench_trial):
    bench, trial = bench_trial
    secret, paired = pair_phone(bench, make_pairing_code(bench, trial, NOW).code, NOW)
    with open_bench(bench.name) as another:  # the command, in a process of its own
        assert unpair_phones(another, [paired.grant.id]) == ["phone 1"]
    with pytest.raises(UnknownVisitorError, match="this phone was unpaired at the desk"):
        phone_of(bench, secret, NOW)
    with pytest.raises(ConflictError, match="phone 1 was withdrawn already"):
        unpair_phones(bench, [paired.grant.id])
    with pytest.raises(NotFoundError, match="no phone of the number 99 was paired"):
        unpair_phones(bench, [99])


def test_unpairing_every_phone_withdraws_codes_that_wait(bench_trial):
    bench, trial = bench_trial
    codes = [make_pairing_code(bench, trial) for _ in range(3)]
    secrets = [pair_phone(bench, code.code)[0] for code in codes[:2]]
    assert unpair_phones(bench, every=True) == ["phone 2", "phone 1"]
    for secret in secrets:
        with pytest.raises(UnknownVisitorError):
            phone_of(bench, secret)
    with pytest.raises(UnknownVisitorError, match="this code was withdrawn at the desk"):
        pair_phone(bench, codes[2].code)
    assert unpair_phones(bench, every=True) == []


def test_a_trial_without_coupons_to_weigh_gets_no_code(bench_trial):
    bench, _ = bench_trial
    with pytest.raises(NotFoundError):
        make_pairing_code(bench, "no-such-trial")
    from beadworth.demo import PLA, STOCK
    from beadworth.trial import Reading

    bare = bench.create_trial_from_readings(
        "What do they say?", [Reading(STOCK.name, PLA.name, 210.0, 8.0, 600.0, 1.7)], "t.csv"
    )
    with pytest.raises(ConflictError, match="no plan, so there are no coupons to weigh"):
        make_pairing_code(bench, bare.id)
