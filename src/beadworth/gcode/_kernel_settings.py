"""M words and what they put in force: heat, fan, limits, overrides; events."""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0911, PLR0912

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import columns
from beadworth.gcode._kernel_line import report

MILLING_M = (0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 300, 480, 490, 600)
QUIET_M = (170, 180, 840, 1050, 1100, 1140, 1170, 1180)  # no bearing on motion, filament or heat
UNKNOWN = -1  # nobody here knows the word
ALL_LETTERS = -2  # the word takes every letter of its line


@part()
def set_setting(column, value, f, i):
    """Put a setting in force; the next move starts a new settings row."""
    old = f[columns.f_set + column]
    if old != value and not (np.isnan(old) and np.isnan(value)):
        f[columns.f_set + column] = value
        i[columns.i_dirty] = 1


@part()
def set_limit(column, value, f, i):
    """Put a limit in force, and note the line that set it."""
    if f[columns.f_set + column] != value:
        f[columns.f_lines + column - columns.PRINT_ACC] = i[columns.i_line] + 1
        set_setting(column, value, f, i)


@part()
def put_event(code, value, tool, i, events):
    """Note something that happens between two moves (the caller keeps room)."""
    k = i[columns.i_events]
    events[columns.EV_BEFORE, k] = i[columns.i_moves]
    events[columns.EV_CODE, k] = code
    events[columns.EV_LINE, k] = i[columns.i_line] + 1
    events[columns.EV_VALUE, k] = value
    events[columns.EV_TOOL, k] = tool
    i[columns.i_events] = k + 1


@part()
def push_settings(f, i, settings):
    """Start a settings row with what is in force now."""
    k = i[columns.i_settings]
    for column in range(columns.N_SETTING):
        settings[k, column] = f[columns.f_set + column]
    for column in range(columns.N_LIMIT):
        settings[k, columns.N_SETTING + column] = f[columns.f_lines + column]
    i[columns.i_settings] = k + 1
    i[columns.i_dirty] = 0


@part()
def dwell(mask, place, f, i, events, problems):
    """A wait of S seconds, or of P milliseconds."""
    seconds = f[columns.f_values + columns.P] / 1000.0 if mask & (1 << columns.P) else 0.0
    if mask & (1 << columns.S):
        seconds = f[columns.f_values + columns.S]
    if seconds < 0.0:
        report(columns.P_DWELL, place, seconds, columns.P, i, problems)
        seconds = 0.0
    put_event(columns.DWELL, seconds, f[columns.f_set + columns.TOOL], i, events)


@part()
def _heat(code, mask, f, i, events, problems):
    """M104 and M109 (hot end), M140 and M190 (bed): target, and whether to wait for it."""
    bed = code in (1400, 1900)
    active = f[columns.f_set + columns.TOOL]
    tool = active
    if not bed and mask & (1 << columns.T):
        tool = f[columns.f_values + columns.T]
        if not (0.0 <= tool < columns.MAX_TOOLS):
            report(columns.P_TOOL, i[columns.i_insert], tool, columns.T, i, problems)
            return
    given = mask & ((1 << columns.S) | (1 << columns.R))
    target = f[columns.f_set + columns.BED] if bed else f[columns.f_temps + np.int64(tool)]
    if given:
        target = f[columns.f_values + (columns.S if mask & (1 << columns.S) else columns.R)]
        if bed:
            set_setting(columns.BED, target, f, i)
        else:
            f[columns.f_temps + np.int64(tool)] = target
            if tool == active:
                set_setting(columns.HOT_END, target, f, i)
    if code in (1090, 1900):
        put_event(columns.WAIT_BED if bed else columns.WAIT_HOT_END, target, tool, i, events)
    elif given:
        put_event(columns.SET_BED if bed else columns.SET_HOT_END, target, tool, i, events)


@part()
def _limits(code, mask, f, i):
    """M201 and M203 (per axis), M204 and M205; the words taken, as a bit mask."""
    first = columns.ACC if code == 2010 else columns.SPEED if code == 2030 else columns.CORNER
    used = 0
    if code == 2040:
        for letter, column in (
            (columns.P, columns.PRINT_ACC),
            (columns.R, columns.RETRACT_ACC),
            (columns.T, columns.TRAVEL_ACC),
        ):
            if mask & (1 << columns.S) and letter != columns.R:
                set_limit(column, f[columns.f_values + columns.S], f, i)
            if mask & (1 << letter):
                set_limit(column, f[columns.f_values + letter], f, i)
        return (1 << columns.S) | (1 << columns.P) | (1 << columns.R) | (1 << columns.T)
    for axis in range(4):
        letter = columns.E if axis == 3 else columns.X + axis
        used |= 1 << letter
        if mask & (1 << letter):
            set_limit(first + axis, f[columns.f_values + letter] * f[columns.f_scale], f, i)
    if code == 2050:
        if mask & (1 << columns.J):
            set_limit(columns.JUNCTION, f[columns.f_values + columns.J] * f[columns.f_scale], f, i)
        used |= (1 << columns.J) | (1 << columns.S) | (1 << columns.T) | (1 << columns.B)
    return used


@part()
def machine_word(code, mask, f, i, events, problems):
    """One M word; returns the letters it takes, ALL_LETTERS or UNKNOWN."""
    value_s = f[columns.f_values + columns.S]
    has_s = mask & (1 << columns.S) != 0
    if code in (820, 830):
        return 0  # E mode: set with the distance mode
    if code in (1040, 1090, 1400, 1900):
        if has_s and value_s < 0.0:
            report(columns.P_SETTING, i[columns.i_insert], value_s, columns.S, i, problems)
        else:
            _heat(code, mask, f, i, events, problems)
        return (1 << columns.S) | (1 << columns.R) | (1 << columns.T)
    if code in (1060, 1070):
        if not mask & (1 << columns.P) or f[columns.f_values + columns.P] == 0.0:
            fan = 0.0 if code == 1070 else min(max(value_s / 255.0, 0.0), 1.0) if has_s else 1.0
            set_setting(columns.FAN, fan, f, i)
        return (1 << columns.S) | (1 << columns.P)
    if code in (2010, 2030, 2040, 2050):
        for letter in range(26):
            value = f[columns.f_values + letter]
            wrong = value < 0.0 or (value == 0.0 and code != 2050)
            if mask & (1 << letter) and wrong and letter not in (columns.N, columns.O):
                report(
                    columns.P_SETTING,
                    i[columns.i_insert],
                    f[columns.f_values + letter],
                    letter,
                    i,
                    problems,
                )
                return ALL_LETTERS
        return _limits(code, mask, f, i)
    if code == 2000:  # E in volume: of the diameter D, or the rig's; D0 and S0 end it
        diameter = f[columns.f_diameter]
        if mask & (1 << columns.D):
            diameter = f[columns.f_values + columns.D] * f[columns.f_scale]
        if has_s and value_s == 0.0:
            diameter = 0.0
        if diameter != 0.0 and not (
            columns.THINNEST_FILAMENT_MM <= diameter <= columns.THICKEST_FILAMENT_MM
        ):
            report(columns.P_SETTING, i[columns.i_insert], diameter, columns.D, i, problems)
            return (1 << columns.S) | (1 << columns.D) | (1 << columns.T)
        old = f[columns.f_per_e]
        f[columns.f_per_e] = 4.0 / (np.pi * diameter * diameter) if diameter > 0.0 else 1.0
        f[columns.f_e] *= f[columns.f_per_e] / old
        for k in range(columns.N_ALT):
            f[columns.f_alt_e + k] *= f[columns.f_per_e] / old
        return (1 << columns.S) | (1 << columns.D) | (1 << columns.T)
    if code in (2200, 2210):
        if has_s and value_s > 0.0:
            column = columns.FEED_OVERRIDE if code == 2200 else columns.FLOW_OVERRIDE
            set_setting(column, value_s / 100.0, f, i)
        elif has_s:
            report(columns.P_OVERRIDE, i[columns.i_insert], value_s, columns.S, i, problems)
        return (1 << columns.S) | (1 << columns.T)
    if code == 4000:
        put_event(columns.SYNC, 0.0, f[columns.f_set + columns.TOOL], i, events)
        if mask & ((1 << columns.S) | (1 << columns.P)):
            dwell(mask, i[columns.i_insert], f, i, events, problems)
        return (1 << columns.S) | (1 << columns.P)
    if code == 730:
        minutes = f[columns.f_values + columns.R]
        if mask & (1 << columns.R) and minutes >= 0.0:
            tool = f[columns.f_set + columns.TOOL]
            put_event(columns.REMAINING, minutes, tool, i, events)
        return ALL_LETTERS
    if code in MILLING_M:
        return (1 << columns.S) | (1 << columns.P)
    if code in QUIET_M:
        return ALL_LETTERS
    return UNKNOWN
