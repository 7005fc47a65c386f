"""The words of one line into motion, events and settings, in NISTIR 6556's order (3.8, table 8)."""

# mypy: disable-error-code="no-untyped-def,no-untyped-call,call-arg,var-annotated,assignment"
# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0911, PLR0912

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import _columns as at
from beadworth.gcode._kernel_filament import set_e_mode
from beadworth.gcode._kernel_line import count_unknown, report
from beadworth.gcode._kernel_motion import (
    AXES,
    CENTRE_WORDS,
    home_axes,
    move,
    retract,
    set_position,
)
from beadworth.gcode._kernel_settings import (
    ALL_LETTERS,
    MILLING_M,
    UNKNOWN,
    machine_word,
    put_event,
    set_setting,
)

MOTION_WORDS = AXES | (1 << at.E) | (1 << at.F)
ARC_ONLY = CENTRE_WORDS | (1 << at.R)
NO_NUMBER_MATTERS = MOTION_WORDS | ARC_ONLY
QUIET_G = (400, 490, 540, 550, 560, 570, 580, 590, 591, 592, 593, 610, 611, 640, 980, 990)
OFFSET_G = (410, 411, 420, 421, 430)
MOTION_G = (0, 10, 20, 30, 800)
STOP_M = (0, 10, 20, 300, 600)
END_M = (20, 300)
G80 = 800


@part()
def run_line(place, f, i, fo, io, so, events, arcs, settings, problems, unknown, layers):
    """Carry out the words the state holds."""
    mask, bare = i[at.i_mask], i[at.i_bare]
    if i[at.i_words] == 0 or i[at.i_dead] or (mask | bare | i[at.i_ng] | i[at.i_nm]) == 0:
        return
    if i[at.i_ended]:
        report(at.P_AFTER_END, place, np.nan, at.NO_LETTER, i, problems)
        return
    i[at.i_used] = (1 << at.N) | (1 << at.O)
    i[at.i_whole] = 0
    if mask & (1 << at.N):
        value = f[at.f_values + at.N]
        if value < 0.0 or value != np.floor(value):
            report(at.P_LINE_NUMBER, place, value, at.N, i, problems)
    _sort_commands(i, problems, unknown)
    _feed_and_tool(place, f, i, events, problems)
    _machine_words(f, i, events, problems, unknown)
    _modes(place, f, i, events, problems)
    _places(place, f, i, fo, io, so, events, settings, problems)
    _motion(place, f, i, fo, io, so, arcs, settings, problems, layers)
    if i[at.i_stop] >= 0:
        ends = i[at.i_stop] in END_M
        put_event(at.PROGRAM_END if ends else at.PAUSE, 0.0, f[at.f_set + at.TOOL], i, events)
        if ends:
            i[at.i_ended] = 1
    left = (mask | bare) & ~i[at.i_used]
    if left and not i[at.i_whole] and not (i[at.i_foreign] and i[at.i_nm] == 0):
        _count_parameters(left, place, i, unknown)


@part()
def _sort_commands(i, problems, unknown):
    """G and M words by modal group (3.4, table 4) into the plan of the line."""
    for k in range(at.i_plan, at.i_plan + at.N_PLAN):
        i[k] = -1
    for k in (at.i_homing, at.i_dwell, at.i_machine, at.i_owned, at.i_foreign, at.i_pull):
        i[k] = 0
    groups = 0
    for k in range(i[at.i_ng]):
        code = i[at.i_g + k]
        group = _sort_one(code, i)
        if group < 0:
            key = (np.int64(at.G) << at.LETTER_SHIFT) | code
            count_unknown(key, i[at.i_g_at + k], at.WORD_LENGTH, i, unknown)
        elif group and groups & (1 << group):
            report(at.P_GROUP, i[at.i_g_at + k], code / 10.0, at.G, i, problems)
        groups |= 1 << max(group, 0)
    for k in range(i[at.i_nm]):
        code = i[at.i_m + k]
        if not (code in MILLING_M or code in (820, 830)):
            i[at.i_owned] = 1


@part()
def _sort_one(code, i):
    """Note one G word in the plan; its modal group, 0 where it has none, -1 where unknown."""
    if code in MOTION_G:
        i[at.i_going] = code
        return 1
    if code in (170, 180, 190):
        i[at.i_new_plane] = code // 10
        return 2
    if code in (200, 210):
        i[at.i_new_units] = code // 10
        return 3
    if code in (900, 910):
        i[at.i_new_distance] = code // 10
        return 4
    if code in (901, 911):
        i[at.i_new_centre] = code
        return 5
    if code in (930, 940):
        i[at.i_new_inverse] = code
        return 6
    if code in (920, 921, 922, 923):
        i[at.i_naming] = code
        return 7
    if code == 280:
        i[at.i_homing] = 1
        return 7
    if code == 40:
        i[at.i_dwell] = 1
        return 7
    if code in (100, 110):
        if i[at.i_mask] & ((1 << at.L) | (1 << at.P) | (1 << at.R)) == 0:
            i[at.i_pull] = -1 if code == 100 else 1
        else:
            i[at.i_owned] = 1  # another use of the word: its letters are counted as unknown
        return 7
    if code == 530:
        i[at.i_machine] = 1
        return 0
    if code in QUIET_G:
        return 0
    if code in OFFSET_G:
        i[at.i_used] |= (1 << at.H) | (1 << at.D)
    else:
        i[at.i_owned] = 1
        i[at.i_foreign] = 1
    if 330 <= code <= 389 or 810 <= code <= 899:
        i[at.i_motion] = -1
    return -1


@part()
def _moves(i):
    """True where the line gives G0, G1, G2 or G3."""
    return i[at.i_going] >= 0 and i[at.i_going] != G80


@part()
def _feed_and_tool(place, f, i, events, problems):
    """G93 and G94, F, T."""
    mask = i[at.i_mask]
    inverse = i[at.i_new_inverse]
    if inverse >= 0 and (inverse == 930) != (i[at.i_inverse] == 1):
        i[at.i_inverse] = 1 if inverse == 930 else 0
        i[at.i_has_feed] = 0
    if mask & (1 << at.F) and (_moves(i) or not i[at.i_owned]):
        i[at.i_used] |= 1 << at.F
        value = f[at.f_values + at.F] * (1.0 if i[at.i_inverse] else f[at.f_scale]) / 60.0
        if value >= at.SLOWEST_FEED:
            f[at.f_feed] = value
            i[at.i_has_feed] = 1
        else:
            report(at.P_FEED, place, f[at.f_values + at.F], at.F, i, problems)
    if mask & (1 << at.T) and not i[at.i_owned]:
        i[at.i_used] |= 1 << at.T
        tool = f[at.f_values + at.T]
        if not (0.0 <= tool < at.MAX_TOOLS and tool == np.floor(tool)):
            report(at.P_TOOL, place, tool, at.T, i, problems)
        elif tool != f[at.f_set + at.TOOL]:
            put_event(at.TOOL_CHANGE, tool, tool, i, events)
            set_setting(at.TOOL, tool, f, i)
            set_setting(at.HOT_END, f[at.f_temps + np.int64(tool)], f, i)
    if i[at.i_ng] == 0 and i[at.i_nm] == 0:
        i[at.i_used] |= 1 << at.S  # spindle speed on its own, 3.7.2


@part()
def _machine_words(f, i, events, problems, unknown):
    """M words in the order they stand; those that stop are left for the end."""
    for k in range(i[at.i_nm]):
        code = i[at.i_m + k]
        taken = machine_word(code, i[at.i_mask], f, i, events, problems)
        if taken == UNKNOWN:
            key = (np.int64(at.M) << at.LETTER_SHIFT) | code
            count_unknown(key, i[at.i_insert], at.WORD_LENGTH, i, unknown)
            i[at.i_whole] = 1
        elif taken == ALL_LETTERS:
            i[at.i_whole] = 1
        else:
            i[at.i_used] |= taken
        if code in STOP_M:
            i[at.i_stop] = code


@part()
def _modes(place, f, i, events, problems):
    """G4, then plane, units, distance and centre modes."""
    mask = i[at.i_mask]
    if i[at.i_dwell]:
        i[at.i_used] |= (1 << at.P) | (1 << at.S)
        seconds = f[at.f_values + at.P] / 1000.0 if mask & (1 << at.P) else 0.0
        if mask & (1 << at.S):
            seconds = f[at.f_values + at.S]
        if seconds < 0.0:
            report(at.P_DWELL, place, seconds, at.P, i, problems)
            seconds = 0.0
        put_event(at.DWELL, seconds, f[at.f_set + at.TOOL], i, events)
    if i[at.i_new_plane] >= 0:
        i[at.i_plane] = i[at.i_new_plane]
    if i[at.i_new_units] >= 0:
        i[at.i_units] = i[at.i_new_units]
        f[at.f_scale] = 25.4 if i[at.i_units] == 20 else 1.0
    if i[at.i_new_distance] >= 0:
        i[at.i_relative] = 1 if i[at.i_new_distance] == 91 else 0
        set_e_mode(i[at.i_relative], at.G90_OR_G91, f, i)
    for k in range(i[at.i_nm]):  # the word for E alone goes above the word for all axes
        if i[at.i_m + k] in (820, 830):
            set_e_mode(1 if i[at.i_m + k] == 830 else 0, at.M82_OR_M83, f, i)
    if i[at.i_new_centre] >= 0:
        i[at.i_absolute_centre] = 1 if i[at.i_new_centre] == 901 else 0


@part()
def _places(place, f, i, fo, io, so, events, settings, problems):
    """G28, G10 and G11, G92."""
    bare = i[at.i_bare]
    if i[at.i_homing]:
        i[at.i_used] |= AXES
        home_axes(i[at.i_mask] | bare, f, i, events)
    if i[at.i_pull] != 0:
        i[at.i_used] |= 1 << at.S
        retract(np.float64(i[at.i_pull]), place, f, i, fo, io, so, settings)
    if i[at.i_naming] >= 0:
        i[at.i_used] |= AXES | (1 << at.E)
        if bare & (AXES | (1 << at.E)):
            report(at.P_NO_NUMBER, place, np.nan, _first_letter(bare), i, problems)
        else:
            set_position(i[at.i_naming], i[at.i_mask], f, i, problems)


@part()
def _motion(place, f, i, fo, io, so, arcs, settings, problems, layers):
    """G0 to G3, said on the line or repeated."""
    mask, bare, moves = i[at.i_mask], i[at.i_bare] & NO_NUMBER_MATTERS, _moves(i)
    if i[at.i_going] == G80:
        i[at.i_motion] = -1
        return
    if moves:
        i[at.i_motion] = i[at.i_going] // 10
    takes_axes = i[at.i_homing] == 1 or i[at.i_naming] >= 0
    words = mask & (AXES | (1 << at.E) | ARC_ONLY)
    if takes_axes and moves and words:
        report(at.P_AXIS_CLASH, place, np.nan, at.NO_LETTER, i, problems)
        return
    if not moves and (takes_axes or i[at.i_owned] or i[at.i_dwell] or i[at.i_pull] != 0):
        return
    alone = i[at.i_ng] + i[at.i_nm] == 0 and not mask & (1 << at.T)
    if bare and (moves or alone):
        report(at.P_NO_NUMBER, place, np.nan, _first_letter(bare), i, problems)
        i[at.i_used] |= NO_NUMBER_MATTERS
    now = i[at.i_motion]
    if now < 0:
        if words & (AXES | (1 << at.E)):
            i[at.i_used] |= words
            report(at.P_NO_MOTION, place, np.nan, at.NO_LETTER, i, problems)
        return
    if now >= 2:
        i[at.i_used] |= MOTION_WORDS | ARC_ONLY | (1 << at.P)
    else:
        i[at.i_used] |= MOTION_WORDS
        words &= ~ARC_ONLY
    if words:
        if not moves:
            i[at.i_n_modal] += 1
        move(now, not moves, place, f, i, fo, io, so, arcs, settings, problems, layers)


@part()
def _first_letter(mask):
    for letter in range(26):
        if mask & (1 << letter):
            return letter
    return 0


@part()
def _count_parameters(left, place, i, unknown):
    """Count words that the command of their line does not take."""
    command = np.int64(0)
    if i[at.i_ng]:
        command = (np.int64(at.G) << at.LETTER_SHIFT) | i[at.i_g]
    elif i[at.i_nm]:
        command = (np.int64(at.M) << at.LETTER_SHIFT) | i[at.i_m]
    for letter in range(26):
        if left & (1 << letter):
            key = (np.int64(letter + 1) << at.PARAMETER_SHIFT) | command
            count_unknown(key, place, at.WORD_LENGTH, i, unknown)
