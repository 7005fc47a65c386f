"""M words and what they put in force: heat, fan, limits, overrides; events."""

# mypy: disable-error-code="no-untyped-def,no-untyped-call,call-arg,var-annotated,assignment"
# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0911, PLR0912

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import _columns as at
from beadworth.gcode._kernel_line import report

MILLING_M = (0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 300, 480, 490, 600)
QUIET_M = (170, 180, 840, 1050, 1100, 1140, 1170, 1180)  # no bearing on motion, filament or heat
UNKNOWN = -1  # nobody here knows the word
ALL_LETTERS = -2  # the word takes every letter of its line


@part()
def set_setting(column, value, f, i):
    """Put a setting in force; the next move starts a new settings row."""
    old = f[at.f_set + column]
    if old != value and not (np.isnan(old) and np.isnan(value)):
        f[at.f_set + column] = value
        i[at.i_dirty] = 1


@part()
def put_event(code, value, tool, i, events):
    """Note something that happens between two moves (the caller keeps room)."""
    k = i[at.i_events]
    events[at.EV_BEFORE, k] = i[at.i_moves]
    events[at.EV_CODE, k] = code
    events[at.EV_LINE, k] = i[at.i_line] + 1
    events[at.EV_VALUE, k] = value
    events[at.EV_TOOL, k] = tool
    i[at.i_events] = k + 1


@part()
def push_settings(f, i, settings):
    """Start a settings row with what is in force now."""
    k = i[at.i_settings]
    for column in range(at.N_SETTING):
        settings[k, column] = f[at.f_set + column]
    i[at.i_settings] = k + 1
    i[at.i_dirty] = 0


@part()
def _heat(code, mask, f, i, events, problems):
    """M104 and M109 (hot end), M140 and M190 (bed): target, and whether to wait for it."""
    bed = code in (1400, 1900)
    active = f[at.f_set + at.TOOL]
    tool = active
    if not bed and mask & (1 << at.T):
        tool = f[at.f_values + at.T]
        if not (0.0 <= tool < at.MAX_TOOLS):
            report(at.P_TOOL, i[at.i_insert], tool, at.T, i, problems)
            return
    given = mask & ((1 << at.S) | (1 << at.R))
    target = f[at.f_set + at.BED] if bed else f[at.f_temps + np.int64(tool)]
    if given:
        target = f[at.f_values + (at.S if mask & (1 << at.S) else at.R)]
        if bed:
            set_setting(at.BED, target, f, i)
        else:
            f[at.f_temps + np.int64(tool)] = target
            if tool == active:
                set_setting(at.HOT_END, target, f, i)
    if code in (1090, 1900):
        put_event(at.WAIT_BED if bed else at.WAIT_HOT_END, target, tool, i, events)
    elif given:
        put_event(at.SET_BED if bed else at.SET_HOT_END, target, tool, i, events)


@part()
def _limits(code, mask, f, i):
    """M201 and M203 (per axis), M204 and M205; the words taken, as a bit mask."""
    first = at.ACC if code == 2010 else at.SPEED if code == 2030 else at.CORNER
    used = 0
    if code == 2040:
        for letter, column in ((at.P, at.PRINT_ACC), (at.R, at.RETRACT_ACC), (at.T, at.TRAVEL_ACC)):
            if mask & (1 << at.S) and letter != at.R:
                set_setting(column, f[at.f_values + at.S], f, i)
            if mask & (1 << letter):
                set_setting(column, f[at.f_values + letter], f, i)
        return (1 << at.S) | (1 << at.P) | (1 << at.R) | (1 << at.T)
    for axis in range(4):
        letter = at.E if axis == 3 else at.X + axis
        used |= 1 << letter
        if mask & (1 << letter):
            set_setting(first + axis, f[at.f_values + letter] * f[at.f_scale], f, i)
    if code == 2050:
        if mask & (1 << at.J):
            set_setting(at.JUNCTION, f[at.f_values + at.J] * f[at.f_scale], f, i)
        used |= (1 << at.J) | (1 << at.S) | (1 << at.T) | (1 << at.B)
    return used


@part()
def machine_word(code, mask, f, i, events, problems):
    """One M word; returns the letters it takes, ALL_LETTERS or UNKNOWN."""
    value_s = f[at.f_values + at.S]
    has_s = mask & (1 << at.S) != 0
    if code in (820, 830):
        return 0  # E mode: set with the distance mode
    if code in (1040, 1090, 1400, 1900):
        if has_s and value_s < 0.0:
            report(at.P_SETTING, i[at.i_insert], value_s, at.S, i, problems)
        else:
            _heat(code, mask, f, i, events, problems)
        return (1 << at.S) | (1 << at.R) | (1 << at.T)
    if code in (1060, 1070):
        if not mask & (1 << at.P) or f[at.f_values + at.P] == 0.0:
            fan = 0.0 if code == 1070 else min(max(value_s / 255.0, 0.0), 1.0) if has_s else 1.0
            set_setting(at.FAN, fan, f, i)
        return (1 << at.S) | (1 << at.P)
    if code in (2010, 2030, 2040, 2050):
        for letter in range(26):
            value = f[at.f_values + letter]
            wrong = value < 0.0 or (value == 0.0 and code != 2050)
            if mask & (1 << letter) and wrong and letter not in (at.N, at.O):
                report(at.P_SETTING, i[at.i_insert], f[at.f_values + letter], letter, i, problems)
                return ALL_LETTERS
        return _limits(code, mask, f, i)
    if code in (2200, 2210):
        if has_s and value_s > 0.0:
            column = at.FEED_OVERRIDE if code == 2200 else at.FLOW_OVERRIDE
            set_setting(column, value_s / 100.0, f, i)
        elif has_s:
            report(at.P_OVERRIDE, i[at.i_insert], value_s, at.S, i, problems)
        return (1 << at.S) | (1 << at.T)
    if code == 4000:
        put_event(at.SYNC, 0.0, f[at.f_set + at.TOOL], i, events)
        return 0
    if code in MILLING_M:
        return (1 << at.S) | (1 << at.P)
    if code in QUIET_M:
        return ALL_LETTERS
    return UNKNOWN
