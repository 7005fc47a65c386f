"""Heaters: logs read or refused, known plants recovered, gains as published."""

import contextlib
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import fewest, some

from beadworth.bringup import HeaterLog, heat_up, identify, read_heater_log
from beadworth.bringup.gains import parallel, simc, starting_gains, ziegler_nichols
from beadworth.bringup.heater_model import response, simulate, standing_loss
from beadworth.core.errors import FitError, InputError, ReadingsError

TIME = np.arange(0.0, 800.0)
DUTY = np.where(TIME < 30, 0.0, np.where(TIME < 130, 1.0, np.where(TIME < 550, 0.42, 0.0)))
PLANT = {"gain_k": 480.0, "time_constant_s": 190.0, "dead_time_s": 4.3}


def log(plant=PLANT, noise=0.4, seed=1, room=23.0):
    clean = simulate(TIME, DUTY, room_c=room, **plant)
    return HeaterLog(TIME, clean + np.random.default_rng(seed).normal(0, noise, TIME.size), DUTY)


# the model


def test_a_step_answers_as_the_textbook_says():
    # K(1 − exp(−(t − θ)/τ)) after the dead time: any control textbook
    t = np.array([0, 1, 2, 5, 7.5, 20, 100.0])
    got = response(t, np.ones_like(t), 10.0, 2.0)
    assert got == pytest.approx(np.where(t > 2, 1 - np.exp(-(t - 2) / 10), 0.0), abs=1e-12)


@settings(deadline=None, max_examples=25)
@given(
    st.lists(st.floats(0.05, 3), min_size=5, max_size=40),
    st.integers(0, 10_000),
    st.floats(1, 100),
    st.floats(0, 12),
)
def test_response_equals_small_steps(gaps, seed, tau, theta):
    """Explicit small steps of the equation are the specification."""
    t = np.cumsum([0.0, *gaps])
    duty = np.random.default_rng(seed).random(t.size)
    h, fine, dt = 0.0, [], 2e-3
    grid = np.arange(0.0, t[-1] + dt, dt)
    delayed = np.interp(grid - theta, t, np.arange(t.size), left=-1)
    for s, index in zip(grid, delayed, strict=True):
        fine.append(h)
        u = duty[math.floor(index + 1e-9)] if s >= theta else 0.0
        h += dt * (u - h) / tau
    assert response(t, duty, tau, theta) == pytest.approx(
        np.interp(t, grid, fine), abs=4 * dt / tau + 1e-6
    )


# identification


def test_a_known_plant_is_recovered_within_its_intervals():
    found = identify(log())
    for name, truth in PLANT.items():
        assert abs(getattr(found, name) - truth) < 3 * getattr(found, f"u_{name}")
    assert found.room_c == pytest.approx(23, abs=0.2)
    assert found.scatter_k == pytest.approx(0.4, rel=0.1)


def test_intervals_hold_the_truth_at_the_stated_rate():
    """Seeded plants of many kinds: ±1.96 u must hold 95 % of them."""
    rng = np.random.default_rng(11)
    inside = dict.fromkeys(PLANT, 0)
    runs = some(15, long=80)
    for seed in range(runs):
        plant = {
            "gain_k": rng.uniform(300, 700),
            "time_constant_s": rng.uniform(80, 400),
            "dead_time_s": rng.uniform(0.5, 10),
        }
        found = identify(log(plant, rng.uniform(0.1, 1.0), seed))
        for name, truth in plant.items():
            inside[name] += abs(getattr(found, name) - truth) <= 1.96 * getattr(found, f"u_{name}")
    assert all(count >= fewest(runs) for count in inside.values()), inside


def test_a_warm_start_needs_the_room():
    warm = log()
    part = HeaterLog(warm.time_s[400:], warm.temperature_c[400:], warm.duty[400:])
    found = identify(part, room_c=23.0)
    assert found.time_constant_s == pytest.approx(190, abs=4 * found.u_time_constant_s)
    assert found.gain_k == pytest.approx(480, abs=4 * found.u_gain_k + 1)


def test_a_second_order_heater_widens_the_uncertainty():
    lag = np.zeros_like(TIME)
    inner = simulate(TIME, DUTY, room_c=0.0, **PLANT)
    for i in range(1, TIME.size):
        lag[i] = lag[i - 1] + (inner[i - 1] - lag[i - 1]) / 15.0
    found = identify(HeaterLog(TIME, 23 + lag, DUTY))
    assert found.serial > 0.9
    assert found.dead_time_s > 10
    assert any("first order" in note for note in found.notes)


def test_a_short_log_says_so():
    short = log()
    found = identify(HeaterLog(TIME[:100], short.temperature_c[:100], DUTY[:100]))
    assert found.u_gain_k / found.gain_k > found.u_rate_k_s / found.rate_k_s
    assert found.rate_k_s == pytest.approx(480 / 190, rel=0.05)


@pytest.mark.parametrize(
    "bad",
    [
        HeaterLog(TIME, np.full(TIME.size, 25.0), DUTY),
        HeaterLog(TIME, 20 + TIME, np.full(TIME.size, 0.5)),
        HeaterLog(TIME, 300 - log().temperature_c, DUTY),
    ],
)
def test_what_does_not_follow_duty_is_refused(bad):
    with pytest.raises(FitError):
        identify(bad)


# loss and warming


def test_standing_loss_is_power_over_rise():
    # held: duty 0.42 of 40 W; in the long run the rise is 0.42 × 480 K, so 40/480 W/K
    time = np.arange(0, 3000.0)
    duty = np.where(time < 200, 1.0, 0.42)
    held = HeaterLog(time, simulate(time, duty, room_c=23.0, **PLANT), duty)
    found = standing_loss(held, heater_w=40.0, heater_u_w=2.0, room_c=23.0)
    assert found.loss_w_k == pytest.approx(40 / 480, rel=0.02)
    assert found.u_loss_w_k == pytest.approx(found.loss_w_k * 0.05, rel=0.1)
    with pytest.raises(FitError, match="holds no temperature"):
        standing_loss(log(noise=0), heater_w=40.0, room_c=300.0)


@pytest.mark.parametrize(
    ("share", "verdict"),
    [(1.0, "fits"), (0.65, "look closer"), (0.4, "does not fit"), (1.9, "look closer")],
)
def test_a_loose_cartridge_shows(share, verdict):
    # 40 W on 30 g of aluminium: capacity 27 J/K, so K/τ = P/C = 1.48 K/s, loss 0.08 W/K
    capacity, loss = 30 * 0.90, 0.08
    plant = {"gain_k": share * 40 / loss, "time_constant_s": capacity / loss, "dead_time_s": 3.0}
    found = heat_up(
        log(plant, noise=0.02), heater_w=40.0, block_mass_g=30.0, block_metal="aluminium",
        loss_w_k=loss, room_c=23.0,
    )  # fmt: skip
    assert found.verdict == verdict
    assert found.share == pytest.approx(share, rel=0.05)


def test_warming_needs_full_duty():
    lazy = HeaterLog(TIME, log().temperature_c, 0.5 * DUTY)
    with pytest.raises(FitError, match="full duty"):
        heat_up(lazy, heater_w=40.0, block_mass_g=30.0, block_metal="aluminium", loss_w_k=0.08,
                room_c=23.0)  # fmt: skip


# gains


def test_ziegler_nichols_reaction_curve_agrees_with_its_own_ultimate_method():
    """On an integrator with dead time both methods of the 1942 paper give the same Ti and Td.

    Ultimate gain π/(2·R·L), period 4·L (exact for that plant); PID 0.6·Ku, Pu/2, Pu/8.
    """
    r, lag = 1.7, 4.0
    gains = ziegler_nichols(r, lag)
    assert gains.ti_s == pytest.approx(4 * lag / 2)
    assert gains.td_s == pytest.approx(4 * lag / 8)
    # 0.6·π/2 = 0.94 against 1.2: the paper's two methods differ in gain by this much (memory)
    assert gains.kc_per_k == pytest.approx(1.2 / (r * lag))
    pi = ziegler_nichols(r, lag, derivative=False)
    assert (pi.kc_per_k, pi.ti_s) == pytest.approx((0.9 / (r * lag), lag / 0.3))


def margins(kc, ti, gain, tau, theta):
    """Gain margin, phase margin in degrees and largest sensitivity of a PI loop."""
    w = np.geomspace(1e-4 / theta, 10 / theta, 200_000)
    s = 1j * w
    loop = kc * (1 + 1 / (ti * s)) * gain * np.exp(-theta * s) / (tau * s + 1)
    phase = np.unwrap(np.angle(loop))
    cross = np.argmax(phase < -math.pi)
    unit = np.argmax(np.abs(loop) < 1)
    return 1 / abs(loop[cross]), 180 + math.degrees(phase[unit]), np.max(1 / np.abs(1 + loop))


def test_simc_margins_are_those_published():
    # Skogestad 2003, table 1 (from memory; the first row follows by hand from 0.5·exp(−θs)/(θs)):
    # first order plus dead time, Ti = τ: gain margin 3.14, phase margin 61.4°, Ms 1.59
    gains = simc(2.0, 6.0, 1.0)
    assert gains.ti_s == 6.0
    gm, pm, ms = margins(gains.kc_per_k, gains.ti_s, 2.0, 6.0, 1.0)
    assert (gm, pm, ms) == (
        pytest.approx(3.14, abs=5e-3), pytest.approx(61.4, abs=0.05), pytest.approx(1.59, abs=5e-3)
    )  # fmt: skip
    # nearly integrating, Ti = 8·θ: 2.96, 46.9°, 1.70
    gains = simc(2000.0, 1e5, 1.0)
    assert gains.ti_s == 8.0
    gm, pm, ms = margins(gains.kc_per_k, gains.ti_s, 2000.0, 1e5, 1.0)
    assert (gm, pm, ms) == (
        pytest.approx(2.96, abs=5e-3), pytest.approx(46.9, abs=0.05), pytest.approx(1.70, abs=5e-3)
    )  # fmt: skip


def test_both_rules_hold_a_heater_steady():
    """Closed loop on the plant itself, duty held to 0 … 1."""
    heater = identify(log())
    for gains in starting_gains(heater):
        p = parallel(gains)
        celsius, total, old, goal = [23.0], 0.0, 23.0, 200.0
        queue = [0.0] * 43  # 4.3 s in steps of 0.1 s
        for _ in range(20_000):
            now = celsius[-1]
            error = goal - now
            slope = -(now - old) / 0.1
            wish = p.p_per_k * error + p.i_per_k_s * total + p.d_s_per_k * slope
            duty = min(1.0, max(0.0, wish))
            if duty == wish:
                total += error * 0.1
            queue.append(duty)
            old = now
            celsius.append(now + 0.1 * (480 * queue.pop(0) - (now - 23)) / 190)
        assert max(abs(c - goal) for c in celsius[-3000:]) < 1.0, gains.rule
        assert max(celsius) < goal + (25 if gains.form == "PID" else 12), gains.rule


def test_units_convert_as_spelled_out():
    gains = simc(400.0, 200.0, 4.0)
    one, byte = parallel(gains), parallel(gains, 255.0)
    assert one.p_per_k == gains.kc_per_k
    assert one.i_per_k_s == pytest.approx(gains.kc_per_k / gains.ti_s)
    assert byte.p_per_k == pytest.approx(255 * one.p_per_k)
    assert byte.i_per_k_s == pytest.approx(255 * one.i_per_k_s)
    assert parallel(ziegler_nichols(1.0, 4.0)).d_s_per_k == pytest.approx(0.3 * 2.0)


def test_no_gains_without_dead_time():
    with pytest.raises(InputError, match="dead time of 0 s"):
        simc(400.0, 200.0, 0.0)


# logs


def text_of(rows=60, sep=",", head="time_s,temperature_c,duty"):
    lines = [head] + [f"{i}{sep}{23 + i}{sep}0.5" for i in range(rows)]
    return "\n".join(lines)


def test_a_log_is_read():
    found = read_heater_log(text_of(), "log.csv")
    assert found.time_s.tolist() == list(range(60))
    assert set(found.duty) == {0.5}
    comma = text_of(sep=";", head="time;temperature;duty").replace("0.5", "0,5")
    assert read_heater_log(comma, "log.csv").duty.tolist() == found.duty.tolist()


def test_all_problems_of_a_log_come_at_once():
    lines = text_of().splitlines()
    lines[3] = "2,open,0.5"
    lines[5] = "4,27,85"
    lines[7] = "1,29,0.5"
    lines[9] = "8,1200,"
    with pytest.raises(ReadingsError) as caught:
        read_heater_log("\n".join(lines), "log.csv")
    wheres = [p.where for p in caught.value.problems]
    assert wheres == [
        "log.csv, row 4, column temperature_c",
        "log.csv, row 6, column duty",
        "log.csv, row 10, column temperature_c",
        "log.csv, row 10, column duty",
        "log.csv, row 8, column time_s",
    ]
    assert "0 to 1" in caught.value.problems[1].remedy
    assert all(p.remedy for p in caught.value.problems)


def test_missing_columns_and_short_logs_are_named():
    with pytest.raises(ReadingsError) as caught:
        read_heater_log("time_s,celsius\n1,2\n", "log.csv")
    assert [p.what for p in caught.value.problems] == [
        "there is no column temperature_c.", "there is no column duty."]  # fmt: skip
    with pytest.raises(ReadingsError, match="too few"):
        read_heater_log(text_of(rows=5), "log.csv")
    with pytest.raises(ReadingsError):
        read_heater_log("", "log.csv")


def test_a_hopeless_log_does_not_drown_the_reader():
    bad = "time_s,temperature_c,duty\n" + "x,y,z\n" * 500
    with pytest.raises(ReadingsError) as caught:
        read_heater_log(bad, "log.csv")
    assert len(caught.value.problems) == 21
    assert "1480 more" in str(caught.value.problems[-1])


@given(st.text(max_size=400) | st.text(alphabet='time_s,prau;0123456789.-\n"#', max_size=400))
def test_any_text_is_a_log_or_a_refusal(text):
    for head in ("", "time_s,temperature_c,duty\n"):
        with contextlib.suppress(ReadingsError):
            assert read_heater_log(head + text, "fuzz").time_s.size >= 20
