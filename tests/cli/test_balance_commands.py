"""A balance at a virtual port, in the terminal: learnt, read, weighed with; faults in words."""

from __future__ import annotations

import io
import json
import sys
import threading
import time

import pytest
from cli_support import Done
from simulated_balances import LEARNT
from virtual_balance import VirtualBalance, keys_pressed

from beadworth.cli import main
from beadworth.store import open_bench
from beadworth.trial import Cable
from beadworth.workflow import BalanceListener

NAMED = {balance.name: balance for balance in LEARNT}


class Typist(io.StringIO):
    """Types line by line; before some lines it does something first."""

    def __init__(self, steps):
        super().__init__()
        self.steps = list(steps)

    def readline(self, *_):
        if not self.steps:
            return ""
        step = self.steps.pop(0)
        if isinstance(step, str):
            return f"{step}\n"
        act, text = step
        act()
        return f"{text}\n"


@pytest.fixture
def typing(monkeypatch):
    """Call ``beadworth`` with somebody typing."""

    def call(*words, typed=()):
        with monkeypatch.context() as patch:
            streams = {"stdin": Typist(typed), "stdout": io.StringIO(), "stderr": io.StringIO()}
            for name, stream in streams.items():
                patch.setattr(sys, name, stream)
            with pytest.raises(SystemExit) as ended:
                main([str(word) for word in words])
        return Done(ended.value.code, streams["stdout"].getvalue(), streams["stderr"].getvalue())

    return call


@pytest.fixture
def balance(tmp_path):
    with VirtualBalance(tmp_path) as made:
        yield made


def on(balance, count, wait_s=0.4):
    """Put so much on and wait until it is at rest."""

    def act():
        balance.put(count)
        time.sleep(wait_s)

    return act


@pytest.fixture
def learnt(typing, balance, tmp_path):
    """A bench that knows the balance."""
    bench = tmp_path / "bench"
    done = learn(typing, balance, bench)
    assert done.code == 0, done.err
    return bench


def learn(typing, balance, bench, *options, shown="12.34", name="Bench balance"):
    typed = ["", (on(balance, 1234), ""), shown, "y"]
    return typing(
        "balance", "learn", name, balance.port, *options, "--bench", bench, typed=typed
    )  # fmt: skip


def test_a_balance_is_learnt_shown_in_words_and_read(typing, balance, learnt):
    shown = typing("balance", "show", "Bench balance", "--bench", learnt).out.splitlines()
    assert shown[:6] == [
        f"Port {balance.port}, 9600 baud, 8N1; sends by itself.",
        "Lines of 14 characters.",
        "Value in characters 2 to 10, in g, 2 decimals behind a point, "
        "blanks before a short number.",
        "The unit stands in the line: g.",
        '"S" at 1 means stable.',
        '"U" at 1 means not yet stable.',
    ]
    assert "warm one lifts the air" in " ".join(shown)
    assert typing("balance", "read", "Bench balance", "--bench", learnt).out == "12.34 g\n"
    found = json.loads(typing("balance", "list", "--bench", learnt, "--json").out)["balances"]
    assert [one["name"] for one in found] == ["Bench balance"]


def test_what_is_not_confirmed_is_not_stored(typing, balance, tmp_path):
    typed = ["", (on(balance, 1234), ""), "", "n"]
    done = typing("balance", "learn", "A", balance.port, "--bench", tmp_path / "b", typed=typed)
    assert done.out.endswith("Nothing stored.\n")
    assert "Next, to connect one: beadworth balance ports" in (
        typing("balance", "list", "--bench", tmp_path / "b").out
    )


def test_a_display_that_says_another_mass_stores_nothing(typing, balance, tmp_path):
    done = learn(typing, balance, tmp_path / "b", shown="12.43")
    assert (done.code, done.err.splitlines()[-1]) == (
        2,
        "balance lines: the display shows 12.43, but the lines say 12.34. Wait until the display "
        "is at rest, and type what it shows, with all its digits.",
    )


def test_a_balance_that_waits_for_a_request_at_another_speed(typing, tmp_path, monkeypatch):
    monkeypatch.setattr("beadworth.workflow.balance_listener.ASK_S", 0.03)
    kind = NAMED["nothing but the number"]
    with VirtualBalance(tmp_path, kind, speed="B2400", request=b"P\r\n") as made:
        options = ("--speed", "find", "--request", r"P\r\n", "--unit", "g")
        done = learn(typing, made, tmp_path / "b", *options, name="Asked")
        assert done.code == 0, done.err
        assert f"Port {made.port}, 2400 baud, 8N1; asked with P\\r\\n." in done.out
        assert "The lines have no unit; g, as you stated." in done.out
        assert typing("balance", "read", "Asked", "--bench", tmp_path / "b").out == "12.34 g\n"


def test_a_balance_that_sends_at_its_key_is_learnt_and_read(typing, balance, tmp_path):
    balance.silent = True
    with keys_pressed(balance):
        done = learn(typing, balance, tmp_path / "b", "--by-key", name="Keyed")
        read = typing("balance", "read", "Keyed", "--bench", tmp_path / "b")
    assert done.code == 0, done.err
    said = done.out + done.err
    assert said.count("press Enter, then press its key three times") == 2
    assert (
        f"Port {balance.port}, 9600 baud, 8N1; sends a line when its key is pressed, and each line "
        "is taken as it stands.\n"
    ) in done.out
    assert read.out == "Once the display is at rest, press the key of the balance.\n12.34 g\n"


def test_lines_are_shown_as_they_come(typing, balance):
    done = typing("balance", "listen", balance.port, "--seconds", "0.4")
    assert " 14  S     0.00 g  " in done.out.splitlines()
    assert done.out.splitlines()[-1].startswith("Next, if these look like lines of the balance:")


def test_every_fault_of_a_port_has_its_remedy(typing, balance, tmp_path):
    def said(*options, port=balance.port, code=8):
        done = typing("balance", "listen", port, "--seconds", "0.1", *options)
        assert done.code == code
        return done.err

    assert said(port="/dev/no-such-port").startswith(
        "balance cable: there is no port /dev/no-such-port. "
    )
    page = tmp_path / "page"
    page.write_text("no port")
    assert said(port=page) == (
        f"balance cable: {page} is no serial port that can be opened. Choose another port. "
        "Typing the mass works without a cable.\n"
    )
    with BalanceListener(Cable(port=str(balance.port))):
        assert said() == (
            f"balance cable: {balance.port} is in use by another program. Close it there: another "
            "window of this program, a terminal, a printer's control. Typing the mass works "
            "without a cable.\n"
        )
    assert "'fast' is no speed" in said("--speed", "fast", code=2)
    assert "is none of" in said("--frame", "9X9", code=2)
    assert r"the request 'P\\q' cannot be sent" in said("--request", r"P\q", code=2)


def test_a_silent_balance_and_a_wrong_speed_are_told_apart(typing, balance, monkeypatch):
    monkeypatch.setattr("beadworth.workflow.balance_listener.SILENT_S", 0.3)

    def said():
        return typing("balance", "listen", balance.port, "--seconds", "1", "--speed", speed)

    speed = "4800"
    assert said().err == (
        f"balance cable: what comes from {balance.port} at 4800 baud, 8N1, is no text. Set the "
        "speed and parity as they are on the balance, or let them be found.\n"
    )
    balance.silent = True
    speed = "9600"
    assert said().err == (
        f"balance cable: nothing comes from {balance.port}. Switch the balance on, and set it to "
        "send by itself; or state the request it answers. A cable may be crossed, or of another "
        "port. Typing the mass works without a cable.\n"
    )


@pytest.fixture
def trial(demo_copy, tmp_path, typing, balance):
    """A bench with a started trial and the balance; the trial's name."""
    from beadworth.demo.trials import STARTED

    bench = demo_copy(tmp_path / "demo")
    assert learn(typing, balance, bench).code == 0
    with open_bench(bench) as there:
        return bench, next(t.id for t in there.trials() if t.question == STARTED.question)


def masses(bench, trial):
    with open_bench(bench) as there:
        return [r.mass_g for r in there.current_readings(trial)]


def weigh(typing, trial, *options, typed=()):
    bench, name = trial
    words = ("trial", "weigh", name, "--bench", bench, "--balance", "Bench balance")
    return typing(*words, *options, typed=typed)


def test_enter_takes_what_the_balance_says_and_typing_works(typing, balance, trial):
    before = masses(*trial)
    done = weigh(
        typing, trial,
        typed=[
            (on(balance, 71), ""), "", (on(balance, 0), ""), (on(balance, 72), ""), "0.73", "stop",
        ],
    )  # fmt: skip
    assert done.code == 0
    assert masses(*trial)[len(before) :] == [0.71, 0.72, 0.73]
    assert "0.71 g from the balance" in done.out
    first, second = done.err.splitlines()
    assert first.startswith("balance: nothing was moved on the pan since ")
    assert second == "mass: 0 g is no mass. Zero the balance and weigh it again."


def test_hands_free_takes_piece_after_piece(typing, balance, trial):
    before = masses(*trial)

    def hands():
        for count in (0, 70, 0, 71, 0, 72):
            balance.put(count)
            time.sleep(0.6)
        balance.unplug()

    balance.put(0)
    worker = threading.Thread(target=hands)
    worker.start()
    done = weigh(typing, trial, "--hands-free", typed=["0.74", "stop"])
    worker.join()
    assert masses(*trial)[len(before) :] == [0.70, 0.71, 0.72, 0.74]
    assert f"balance cable: {balance.port} is gone. Push the plug home" in done.err


def test_a_cable_that_fails_leaves_typing(typing, balance, trial):
    before = masses(*trial)
    balance.unplug()
    done = weigh(typing, trial, typed=["0.73", ""])
    assert done.code == 0
    assert f"there is no port {balance.port}" in done.err
    assert masses(*trial)[len(before) :] == [0.73]


def test_one_coupon_with_the_balance(typing, balance, trial):
    with open_bench(trial[0]) as there:
        done = {r.coupon for r in there.current_readings(trial[1])}
        coupon = next(c.coupon for c in there.coupons(trial[1]) if c.coupon not in done)
    found = weigh(typing, trial, coupon, typed=[(on(balance, 77), "")])
    assert found.code == 0
    assert masses(*trial)[-1] == 0.77


def test_hands_free_needs_a_balance(typing, trial):
    done = typing("trial", "weigh", trial[1], "--bench", trial[0], "--hands-free")
    assert done.err == (
        "--hands-free: no balance is named. Name one with --balance "
        '"My balance" (beadworth balance list).\n'
    )
    done = typing("trial", "weigh", trial[1], "--bench", trial[0], "--balance", "Other")
    assert done.code == 5
    assert "Those there are: Bench balance." in done.err


def test_a_check_by_hand_is_what_a_plan_takes(typing, trial):
    bench = trial[0]
    placings = ("1.784", "1,783", "1.785", "1.784", "1.785")
    words = ("balance", "check", "Other", "repeatability", *placings, "--step", "0.001")
    done = typing(*words, "--on", "2026-11-30", "--bench", bench)
    assert done.out.splitlines()[1:] == [
        "Repeatability 0.84 mg from 5 placings.",
        "From so many it is known to ± 36 %: at 95 % it lies between 0.5 mg and 2.4 mg.",
        f"Next, for what a plan takes of it: beadworth balance checks Other --bench {bench}",
    ]
    done = typing("balance", "checks", "Other", "--bench", bench)
    assert done.out.splitlines()[-1] == (
        "A plan takes: readability 0.001 g; repeatability 0.000837 g, measured 2026-11-30 (5 "
        "weighings)."
    )
    plan = ("trial", "plan", "--question", "How far does it go?", "--baseline",
            "Tern, stock hot end", "--material", "PLA, chalk white", "--temperatures", "215",
            "--flows", "8:10:2", "--replicates", "1", "--filament-mm", "300", "--bench", bench,
            "--json", "--balance", "Other")  # fmt: skip
    made = json.loads(typing(*plan).out)["plan"]
    assert made["spec"]["balance"]["repeatability_on"] == "2026-11-30"
    sources = [line["source"] for line in made["budget"]["lines"]]
    assert any(one.startswith("repeatability measured 2026-11-30, tare") for one in sources)
    made = json.loads(typing(*plan, "--repeatability-g", "0.02").out)["plan"]
    stated = made["spec"]["balance"]
    assert (stated["readability_g"], stated["repeatability_g"]) == (0.001, 0.02)
    assert not {"repeatability_on", "repeatability_dof"} & set(stated)
    done = typing(*plan[:-1], "None")
    assert (done.code, "There are checks of: Other." in done.err) == (5, True)


def test_values_that_cannot_be_read_are_named_at_once(typing, tmp_path):
    bench = tmp_path / "b"
    words = ("balance", "check", "B", "drift", "0=1.7", "10:1.8", "x", "--step", "0.01")
    assert typing(*words, "--bench", bench).err == (
        "drift: '10:1.8' cannot be read. Give each as MINUTES=SHOWN, as 10=1.784.\n"
        "drift: 'x' cannot be read. Give each as MINUTES=SHOWN, as 10=1.784.\n"
    )
    done = typing("balance", "check", "B", "weight", "1", "--step", "1", "--bench", bench)
    assert done.code == 2
    assert "'weight' is no check" in done.err


@pytest.mark.parametrize(
    ("words", "loads", "said"),
    [
        (("repeatability", "3"), (0, 180, 0, 182, 0, 181), "from 3 placings"),
        (("linearity", "0", "1", "2", "5"), (0, 100, 0, 201, 0, 500), "0 to 5 g, 4 masses"),
    ],
)
def test_a_check_over_the_cable(typing, balance, learnt, words, loads, said):
    def hands():
        for count in loads:
            balance.put(count)
            time.sleep(0.5)

    balance.put(0)
    worker = threading.Thread(target=hands)
    worker.start()
    done = typing("balance", "check", "Bench balance", *words, "--cable", "--bench", learnt)
    worker.join()
    assert done.code == 0, done.err
    assert said in done.out


def test_drift_over_the_cable_needs_a_balance_that_answers(typing, balance, learnt):
    balance.put(500)
    words = ("balance", "check", "Bench balance", "drift", "--cable", "--minutes", "0.01")
    done = typing(*words, "--bench", learnt)
    assert "over 0.0" in done.out.replace("over 0.1", "over 0.0")
    balance.unplug()
    assert typing(*words, "--bench", learnt).code == 8
