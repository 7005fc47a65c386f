"""The words of one line into motion, events and settings, in NISTIR 6556's order (3.8, table 8)."""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0911, PLR0912

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import columns
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
    dwell,
    machine_word,
    put_event,
    set_setting,
)

MOTION_WORDS = AXES | (1 << columns.E) | (1 << columns.F)
ARC_ONLY = CENTRE_WORDS | (1 << columns.R)
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
    mask, bare = i[columns.i_mask], i[columns.i_bare]
    if (
        i[columns.i_words] == 0
        or i[columns.i_dead]
        or (mask | bare | i[columns.i_ng] | i[columns.i_nm]) == 0
    ):
        return
    if i[columns.i_ended]:
        report(columns.P_AFTER_END, place, np.nan, columns.NO_LETTER, i, problems)
        return
    i[columns.i_used] = (1 << columns.N) | (1 << columns.O)
    i[columns.i_whole] = 0
    if mask & (1 << columns.N):
        value = f[columns.f_values + columns.N]
        if value < 0.0 or value != np.floor(value):
            report(columns.P_LINE_NUMBER, place, value, columns.N, i, problems)
    _sort_commands(i, problems, unknown)
    _feed_and_tool(place, f, i, events, problems)
    _machine_words(f, i, events, problems, unknown)
    _modes(place, f, i, events, problems)
    _places(place, f, i, fo, io, so, events, settings, problems)
    _motion(place, f, i, fo, io, so, arcs, settings, problems, layers)
    if i[columns.i_stop] >= 0:
        ends = i[columns.i_stop] in END_M
        put_event(
            columns.PROGRAM_END if ends else columns.PAUSE,
            0.0,
            f[columns.f_set + columns.TOOL],
            i,
            events,
        )
        if ends:
            i[columns.i_ended] = 1
    left = (mask | bare) & ~i[columns.i_used]
    if left and not i[columns.i_whole] and not (i[columns.i_foreign] and i[columns.i_nm] == 0):
        _count_parameters(left, place, i, unknown)


@part()
def _sort_commands(i, problems, unknown):
    """G and M words by modal group (3.4, table 4) into the plan of the line."""
    for k in range(columns.i_plan, columns.i_plan + columns.N_PLAN):
        i[k] = -1
    for k in (
        columns.i_homing,
        columns.i_dwell,
        columns.i_machine,
        columns.i_owned,
        columns.i_foreign,
        columns.i_pull,
        columns.i_level,
    ):
        i[k] = 0
    groups = 0
    for k in range(i[columns.i_ng]):
        code = i[columns.i_g + k]
        group = _sort_one(code, i)
        if group < 0:
            key = (np.int64(columns.G) << columns.LETTER_SHIFT) | code
            count_unknown(key, i[columns.i_g_at + k], columns.WORD_LENGTH, i, unknown)
        elif group and groups & (1 << group):
            report(columns.P_GROUP, i[columns.i_g_at + k], code / 10.0, columns.G, i, problems)
        groups |= 1 << max(group, 0)
    for k in range(i[columns.i_nm]):
        code = i[columns.i_m + k]
        if not (code in MILLING_M or code in (820, 830)):
            i[columns.i_owned] = 1


@part()
def _sort_one(code, i):
    """Note one G word in the plan; its modal group, 0 where it has none, -1 where unknown."""
    if code in MOTION_G:
        i[columns.i_going] = code
        return 1
    if code in (170, 180, 190):
        i[columns.i_new_plane] = code // 10
        return 2
    if code in (200, 210):
        i[columns.i_new_units] = code // 10
        return 3
    if code in (900, 910):
        i[columns.i_new_distance] = code // 10
        return 4
    if code in (901, 911):
        i[columns.i_new_centre] = code
        return 5
    if code in (930, 940):
        i[columns.i_new_inverse] = code
        return 6
    if code in (920, 921, 922, 923):
        i[columns.i_naming] = code
        return 7
    if code == 280:
        i[columns.i_homing] = 1
        return 7
    if code == 40:
        i[columns.i_dwell] = 1
        return 7
    if code in (100, 110):
        if i[columns.i_mask] & ((1 << columns.L) | (1 << columns.P) | (1 << columns.R)) == 0:
            i[columns.i_pull] = -1 if code == 100 else 1
        else:
            i[columns.i_owned] = 1  # another use of the word: its letters are counted as unknown
        return 7
    if code == 530:
        i[columns.i_machine] = 1
        return 0
    if code == 290:
        i[columns.i_level] = 1
        i[columns.i_owned] = 1
        i[columns.i_whole] = 1
        return 0
    if code in QUIET_G:
        return 0
    if code in OFFSET_G:
        i[columns.i_used] |= (1 << columns.H) | (1 << columns.D)
    else:
        i[columns.i_owned] = 1
        i[columns.i_foreign] = 1
    if 330 <= code <= 389 or 810 <= code <= 899:
        i[columns.i_motion] = -1
    return -1


@part()
def _moves(i):
    """True where the line gives G0, G1, G2 or G3."""
    return i[columns.i_going] >= 0 and i[columns.i_going] != G80


@part()
def _feed_and_tool(place, f, i, events, problems):
    """G93 and G94, F, T."""
    mask = i[columns.i_mask]
    inverse = i[columns.i_new_inverse]
    if inverse >= 0 and (inverse == 930) != (i[columns.i_inverse] == 1):
        i[columns.i_inverse] = 1 if inverse == 930 else 0
        i[columns.i_has_feed] = 0
    if mask & (1 << columns.F) and (_moves(i) or not i[columns.i_owned]):
        i[columns.i_used] |= 1 << columns.F
        value = (
            f[columns.f_values + columns.F]
            * (1.0 if i[columns.i_inverse] else f[columns.f_scale])
            / 60.0
        )
        if value >= columns.SLOWEST_FEED:
            f[columns.f_feed] = value
            i[columns.i_has_feed] = 1
        else:
            report(columns.P_FEED, place, f[columns.f_values + columns.F], columns.F, i, problems)
    if mask & (1 << columns.T) and not i[columns.i_owned]:
        i[columns.i_used] |= 1 << columns.T
        tool = f[columns.f_values + columns.T]
        if not (0.0 <= tool < columns.MAX_TOOLS and tool == np.floor(tool)):
            report(columns.P_TOOL, place, tool, columns.T, i, problems)
        elif tool != f[columns.f_set + columns.TOOL]:
            put_event(columns.TOOL_CHANGE, tool, tool, i, events)
            set_setting(columns.TOOL, tool, f, i)
            set_setting(columns.HOT_END, f[columns.f_temps + np.int64(tool)], f, i)
    if i[columns.i_ng] == 0 and i[columns.i_nm] == 0:
        i[columns.i_used] |= 1 << columns.S  # spindle speed on its own, 3.7.2


@part()
def _machine_words(f, i, events, problems, unknown):
    """M words in the order they stand; those that stop are left for the end."""
    for k in range(i[columns.i_nm]):
        code = i[columns.i_m + k]
        taken = machine_word(code, i[columns.i_mask], f, i, events, problems)
        if taken == UNKNOWN:
            key = (np.int64(columns.M) << columns.LETTER_SHIFT) | code
            count_unknown(key, i[columns.i_insert], columns.WORD_LENGTH, i, unknown)
            i[columns.i_whole] = 1
        elif taken == ALL_LETTERS:
            i[columns.i_whole] = 1
        else:
            i[columns.i_used] |= taken
        if code in STOP_M:
            i[columns.i_stop] = code


@part()
def _modes(place, f, i, events, problems):
    """G4, then plane, units, distance and centre modes."""
    mask = i[columns.i_mask]
    if i[columns.i_dwell]:
        i[columns.i_used] |= (1 << columns.P) | (1 << columns.S)
        dwell(mask, place, f, i, events, problems)
    if i[columns.i_new_plane] >= 0:
        i[columns.i_plane] = i[columns.i_new_plane]
    if i[columns.i_new_units] >= 0:
        i[columns.i_units] = i[columns.i_new_units]
        f[columns.f_scale] = 25.4 if i[columns.i_units] == 20 else 1.0
    if i[columns.i_new_distance] >= 0:
        i[columns.i_relative] = 1 if i[columns.i_new_distance] == 91 else 0
        set_e_mode(i[columns.i_relative], columns.G90_OR_G91, f, i)
    for k in range(i[columns.i_nm]):  # the word for E alone goes above the word for all axes
        if i[columns.i_m + k] in (820, 830):
            set_e_mode(1 if i[columns.i_m + k] == 830 else 0, columns.M82_OR_M83, f, i)
    if i[columns.i_new_centre] >= 0:
        i[columns.i_absolute_centre] = 1 if i[columns.i_new_centre] == 901 else 0


@part()
def _places(place, f, i, fo, io, so, events, settings, problems):
    """G28, G29, G10 and G11, G92."""
    bare = i[columns.i_bare]
    if i[columns.i_homing]:
        i[columns.i_used] |= AXES
        home_axes(i[columns.i_mask] | bare, f, i, events)
    if i[columns.i_level]:
        put_event(columns.LEVEL, 0.0, f[columns.f_set + columns.TOOL], i, events)
    if i[columns.i_pull] != 0:
        i[columns.i_used] |= 1 << columns.S
        retract(np.float64(i[columns.i_pull]), place, f, i, fo, io, so, settings)
    if i[columns.i_naming] >= 0:
        i[columns.i_used] |= AXES | (1 << columns.E)
        if bare & (AXES | (1 << columns.E)):
            report(columns.P_NO_NUMBER, place, np.nan, _first_letter(bare), i, problems)
        else:
            set_position(i[columns.i_naming], i[columns.i_mask], f, i, problems)


@part()
def _motion(place, f, i, fo, io, so, arcs, settings, problems, layers):
    """G0 to G3, said on the line or repeated."""
    mask, bare, moves = i[columns.i_mask], i[columns.i_bare] & NO_NUMBER_MATTERS, _moves(i)
    if i[columns.i_going] == G80:
        i[columns.i_motion] = -1
        return
    if moves:
        i[columns.i_motion] = i[columns.i_going] // 10
    takes_axes = i[columns.i_homing] == 1 or i[columns.i_naming] >= 0
    words = mask & (AXES | (1 << columns.E) | ARC_ONLY)
    if takes_axes and moves and words:
        report(columns.P_AXIS_CLASH, place, np.nan, columns.NO_LETTER, i, problems)
        return
    if not moves and (
        takes_axes or i[columns.i_owned] or i[columns.i_dwell] or i[columns.i_pull] != 0
    ):
        return
    alone = i[columns.i_ng] + i[columns.i_nm] == 0 and not mask & (1 << columns.T)
    if bare and (moves or alone):
        report(columns.P_NO_NUMBER, place, np.nan, _first_letter(bare), i, problems)
        i[columns.i_used] |= NO_NUMBER_MATTERS
    now = i[columns.i_motion]
    if now < 0:
        if words & (AXES | (1 << columns.E)):
            i[columns.i_used] |= words
            report(columns.P_NO_MOTION, place, np.nan, columns.NO_LETTER, i, problems)
        return
    if now >= 2:
        i[columns.i_used] |= MOTION_WORDS | ARC_ONLY | (1 << columns.P)
    else:
        i[columns.i_used] |= MOTION_WORDS
        words &= ~ARC_ONLY
    if words:
        if not moves:
            i[columns.i_n_modal] += 1
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
    if i[columns.i_ng]:
        command = (np.int64(columns.G) << columns.LETTER_SHIFT) | i[columns.i_g]
    elif i[columns.i_nm]:
        command = (np.int64(columns.M) << columns.LETTER_SHIFT) | i[columns.i_m]
    for letter in range(26):
        if left & (1 << letter):
            key = (np.int64(letter + 1) << columns.PARAMETER_SHIFT) | command
            count_unknown(key, place, columns.WORD_LENGTH, i, unknown)
