"""Who is let in to a bench that several people use: secrets, sessions, roles, and their end."""

from datetime import UTC, datetime, timedelta

import pytest
from bench_support import stocked

from beadworth.core import ConflictError, InputError, NotFoundError, UnknownVisitorError
from beadworth.store import open_bench
from beadworth.workflow import (
    admit,
    admitted,
    sign_in,
    sign_out,
    visitor_of,
    withdraw_admission,
)

NOW = datetime(2026, 11, 30, 19, 0, tzinfo=UTC)
S = timedelta(seconds=1)


@pytest.fixture
def bench(where):
    made, _ = stocked(where)
    yield made
    made.close()


def test_a_secret_opens_a_session_that_bears_name_and_role(bench):
    made = admit(bench, "A. Measurer", "measurer")
    session, visitor = sign_in(bench, f" {made.secret}\n", NOW)
    assert (visitor.name, visitor.role) == ("A. Measurer", "measurer")
    assert session != made.secret
    assert visitor_of(bench, session, now=NOW) == visitor
    another, _ = sign_in(bench, made.secret, NOW)
    sign_out(bench, session)
    sign_out(bench, session)
    sign_out(bench, "x")
    with pytest.raises(UnknownVisitorError, match="this session ended"):
        visitor_of(bench, session, now=NOW)
    assert visitor_of(bench, another, now=NOW) == visitor  # on another machine


def test_a_session_ends_after_twelve_hours(bench):
    session, _ = sign_in(bench, admit(bench, "A", "reader").secret, NOW)
    last = NOW + timedelta(hours=12)
    assert visitor_of(bench, session, now=last - S)
    with pytest.raises(UnknownVisitorError, match="this session ended"):
        visitor_of(bench, session, now=last)


def test_a_script_has_a_token_and_no_session(bench):
    made = admit(bench, "night run", "measurer", script=True)
    assert visitor_of(bench, token=made.secret).name == "night run"
    with pytest.raises(UnknownVisitorError, match="not the secret of anybody"):
        sign_in(bench, made.secret)
    person = admit(bench, "A", "reader")
    with pytest.raises(UnknownVisitorError, match="not one of a script"):
        visitor_of(bench, token=person.secret)
    for shown in (made.secret, person.secret, "", "x" * 43, None):
        with pytest.raises(UnknownVisitorError, match="who asks is not known here"):
            visitor_of(bench, shown)
    with pytest.raises(UnknownVisitorError):
        visitor_of(bench, token="")


def test_who_is_withdrawn_is_out_in_every_session_at_once(bench):
    made = admit(bench, "A", "owner")
    token = admit(bench, "run", "reader", script=True).secret
    session, _ = sign_in(bench, made.secret, NOW)
    numbers = {one.grant.name: one.grant.id for one in admitted(bench)}
    with open_bench(str(bench._engine.url.render_as_string(hide_password=False))
                    if "://" in bench.name else bench.name) as other:  # fmt: skip
        assert withdraw_admission(other, numbers["A"]) == "A"
    with pytest.raises(UnknownVisitorError, match="A is no longer let in"):
        visitor_of(bench, session, now=NOW)
    with pytest.raises(UnknownVisitorError, match="not the secret of anybody"):
        sign_in(bench, made.secret)
    withdraw_admission(bench, numbers["run"])
    with pytest.raises(UnknownVisitorError, match="not one of a script"):
        visitor_of(bench, token=token)
    with pytest.raises(ConflictError):
        withdraw_admission(bench, numbers["A"])
    with pytest.raises(NotFoundError, match="nobody of the number 99 was let in"):
        withdraw_admission(bench, 99)
    assert [one.state for one in admitted(bench)] == ["withdrawn", "withdrawn"]


def test_another_role_holds_at_the_next_request(bench):
    first = admit(bench, "A", "owner")
    session, _ = sign_in(bench, first.secret, NOW)
    withdraw_admission(bench, admitted(bench)[0].grant.id)
    admit(bench, "A", "reader")
    assert visitor_of(bench, session, now=NOW).role == "reader"


def test_a_name_stands_for_one_at_a_time(bench):
    admit(bench, "A", "owner")
    for script in (False, True):
        with pytest.raises(ConflictError, match="'A' is let in already"):
            admit(bench, "A", "reader", script=script)
    withdraw_admission(bench, admitted(bench)[0].grant.id)
    assert admit(bench, "A", "reader", script=True).kind == "script"


@pytest.mark.parametrize("name", ["", " A", "A\u202eB", "A\x07", "=A", "@A", "A  B", "n" * 61])
def test_odd_names_are_refused(bench, name):
    with pytest.raises(InputError):
        admit(bench, name, "reader")
    assert admitted(bench) == []


@pytest.mark.parametrize("role", ["", "weigh-in", "Owner", "admin"])
def test_only_three_roles_are_given(bench, role):
    with pytest.raises(InputError, match="is no role"):
        admit(bench, "A", role)


def test_no_secret_is_stored(bench, tmp_path):
    made = admit(bench, "A", "owner")
    session, _ = sign_in(bench, made.secret)
    held = repr([vars(grant) for grant in bench.grants()])
    bench.settle()
    held += b"".join(path.read_bytes() for path in tmp_path.glob("x.bench*")).decode("latin-1")
    assert made.secret not in held
    assert session not in held
