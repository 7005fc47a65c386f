"""The words of one line into motion, events and settings, in NISTIR 6556's order (3.8, table 8)."""

# mypy: disable-error-code="no-untyped-def,no-untyped-call,call-arg,var-annotated,assignment"
# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0911, PLR0912, PLR0915

from __future__ import annotations

import numpy as np

from beadworth.compiled import part
from beadworth.gcode import _layout as at
from beadworth.gcode._kernel_arc import SOLVED, arc_box, arc_tolerance, centre_arc, radius_arc
from beadworth.gcode._kernel_line import count_unknown, report

AXES = (1 << at.X) | (1 << at.Y) | (1 << at.Z)
MOTION_WORDS = AXES | (1 << at.E) | (1 << at.F)
CENTRE_WORDS = (1 << at.I) | (1 << at.J) | (1 << at.K)
ARC_ONLY = CENTRE_WORDS | (1 << at.R)
NO_NUMBER_MATTERS = MOTION_WORDS | ARC_ONLY
MILLING_M = (0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 300, 480, 490, 600)
QUIET_M = (170, 180, 840, 1050, 1100, 1140, 1170, 1180)  # no bearing on motion, filament or heat
QUIET_G = (400, 490, 540, 550, 560, 570, 580, 590, 591, 592, 593, 610, 611, 640, 980, 990)


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
def find_layer(z, i, layers):
    """Number of the layer at height z, by order of first appearance; -1 once the table is full."""
    key = np.int64(np.rint(z / at.LAYER_STEP_MM))
    mask = at.LAYER_SLOTS - 1
    slot = ((key * 0x9E3779B1) >> 7) & mask
    while layers[0, slot] != at.EMPTY_SLOT:
        if layers[0, slot] == key:
            return layers[1, slot]
        slot = (slot + 1) & mask
    if i[at.i_n_layers] >= 3 * (at.LAYER_SLOTS // 4):
        i[at.i_layers_full] = 1
        return -1
    layers[0, slot] = key
    layers[1, slot] = i[at.i_n_layers]
    i[at.i_n_layers] += 1
    return layers[1, slot]


@part()
def compare_readings(f, i):
    """Note which other readings of the file now differ in E position or mode."""
    apart = 0
    for k in range(at.N_ALT):
        if i[at.i_alt_relative + k] != i[at.i_relative_e] or f[at.f_alt_e + k] != f[at.f_e]:
            apart |= 1 << k
    i[at.i_diverged] = apart


@part()
def other_readings(value, delta, skip, f, i):
    """Let the readings that differ take an E word too; skip is a bit mask of those that do not."""
    for k in range(at.N_ALT):
        moved = 0.0
        if not (skip >> k) & 1:
            if i[at.i_alt_relative + k]:
                moved = value
                f[at.f_alt_e + k] += value
            else:
                moved = value - f[at.f_alt_e + k]
                f[at.f_alt_e + k] = value
        f[at.f_alt_net + k] += moved - delta
        f[at.f_alt_forward + k] += max(moved, 0.0) - max(delta, 0.0)
    compare_readings(f, i)


@part()
def _take_e(value, modal, f, i):
    """Filament advance of an E word, mm; moves the E position in every reading."""
    if i[at.i_relative_e]:
        delta = value
        f[at.f_e] += value
    else:
        delta = value - f[at.f_e]
        f[at.f_e] = value
    skip = 0
    if modal:
        skip |= 1 << at.ALT_MODAL
    if i[at.i_has_alt]:
        skip |= 1 << at.ALT_EXPONENT
    other_readings(value, delta, skip, f, i)
    return delta


@part()
def _take_alt_word(f, i):
    """A line with an exponent, in the reading where its e is an E word."""
    k = at.ALT_EXPONENT
    value = f[at.f_alt_word] * f[at.f_scale]
    if i[at.i_alt_relative + k]:
        moved = value
        f[at.f_alt_e + k] += value
    else:
        moved = value - f[at.f_alt_e + k]
        f[at.f_alt_e + k] = value
    f[at.f_alt_net + k] += moved
    f[at.f_alt_forward + k] += max(moved, 0.0)
    compare_readings(f, i)


@part()
def _tally_filament(delta, flow, f):
    """Add a filament advance to the totals."""
    f[at.f_net] += delta
    if delta > 0.0:
        f[at.f_forward] += delta
    if flow != 1.0:
        f[at.f_flow_net] += delta * (flow - 1.0)
        if delta > 0.0:
            f[at.f_flow_forward] += delta * (flow - 1.0)


@part()
def _put_move(x, y, z, delta, length, feed, kind, flags, place, f, i, fo, io, so, settings):
    """Write one move from the position in the state to (x, y, z); returns its index."""
    n = i[at.i_moves]
    if i[at.i_dirty]:
        push_settings(f, i, settings)
    fo[at.X0, n], fo[at.Y0, n], fo[at.Z0, n] = f[at.f_x], f[at.f_y], f[at.f_z]
    fo[at.X1, n], fo[at.Y1, n], fo[at.Z1, n] = x, y, z
    fo[at.FILAMENT, n], fo[at.FEED, n], fo[at.LENGTH, n] = delta, feed, length
    io[at.LINE, n], io[at.OFFSET, n] = i[at.i_line] + 1, i[at.i_base] + place
    found = i[at.i_f_at] >= 0 and not flags & at.FIRMWARE
    io[at.F_AT, n] = i[at.i_base] + (i[at.i_f_at] if found else i[at.i_insert])
    so[at.F_LEN, n] = i[at.i_f_len] if found else 0
    so[at.LAYER, n] = i[at.i_layer]
    so[at.SETTING, n] = i[at.i_settings] - 1
    so[at.KIND, n] = kind
    so[at.FLAGS, n] = flags | (at.CHECKSUM if i[at.i_checksum] else 0)
    i[at.i_moves] = n + 1
    return n


@part()
def _widen_box(x, y, z, f):
    b = at.f_box
    f[b], f[b + 3] = min(f[b], x), max(f[b + 3], x)
    f[b + 1], f[b + 4] = min(f[b + 1], y), max(f[b + 4], y)
    f[b + 2], f[b + 5] = min(f[b + 2], z), max(f[b + 5], z)


@part()
def _retract(direction, place, f, i, fo, io, so, settings):
    """G10 and G11: filament back or forth by the rig's length, once each."""
    if (direction < 0.0) == (i[at.i_retracted] == 1):
        return
    i[at.i_retracted] = 1 - i[at.i_retracted]
    delta = direction * f[at.f_retract_mm]
    if delta == 0.0:
        return
    _tally_filament(delta, 1.0, f)
    kind = at.RETRACT if delta < 0.0 else at.PRIME
    speed = f[at.f_retract_mm_s]
    _put_move(
        f[at.f_x], f[at.f_y], f[at.f_z], delta, 0.0, speed, kind, at.FIRMWARE, place,
        f, i, fo, io, so, settings,
    )  # fmt: skip


@part()
def _set_position(code, mask, f, i, problems):
    """G92 and its kin: new names for the present position, without motion."""
    for axis in range(3):
        if code in (921, 922):
            if code == 922:
                f[at.f_saved + axis] = f[at.f_shift + axis]
            f[at.f_x + axis] -= f[at.f_shift + axis]
            f[at.f_shift + axis] = 0.0
        elif code == 923:
            f[at.f_x + axis] += f[at.f_saved + axis] - f[at.f_shift + axis]
            f[at.f_shift + axis] = f[at.f_saved + axis]
    if code != 920:
        return
    empty = mask & (AXES | (1 << at.E)) == 0
    if empty:
        report(at.P_EMPTY_G92, i[at.i_g_at], np.nan, at.NO_LETTER, i, problems)
    for axis in range(3):
        if empty or mask & (1 << (at.X + axis)):
            value = 0.0 if empty else f[at.f_values + at.X + axis] * f[at.f_scale]
            f[at.f_shift + axis] += value - f[at.f_x + axis]
            f[at.f_x + axis] = value
    if empty or mask & (1 << at.E):
        value = 0.0 if empty else f[at.f_values + at.E] * f[at.f_scale]
        f[at.f_e] = value
        for k in range(at.N_ALT):
            f[at.f_alt_e + k] = value
        compare_readings(f, i)


@part()
def _home(mask, f, i, events):
    """G28: the named axes, or all, go to 0."""
    named = mask & AXES
    if named == 0:
        named = AXES
    for axis in range(3):
        if named & (1 << (at.X + axis)):
            f[at.f_x + axis] = 0.0
            f[at.f_shift + axis] = 0.0
    put_event(at.HOME, np.float64(named >> at.X), f[at.f_set + at.TOOL], i, events)


@part()
def _set_e_mode(relative, word, f, i):
    """M82, M83, and G90 or G91 in the readings where they rule E."""
    follow = i[at.i_follow] == 1
    if word == at.M82_OR_M83 or follow:
        i[at.i_relative_e] = relative
    for k in range(at.N_ALT):
        follows = follow != (k == at.ALT_G90)
        if word == at.M82_OR_M83 or follows:
            i[at.i_alt_relative + k] = relative
    compare_readings(f, i)


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
def _machine_word(code, mask, f, i, events, problems, unknown):
    """One M word; returns the letters it takes, or -1 where nobody here knows it."""
    value_s = f[at.f_values + at.S]
    has_s = mask & (1 << at.S) != 0
    if code in (820, 830):
        _set_e_mode(1 if code == 830 else 0, at.M82_OR_M83, f, i)
        return 0
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
            if mask & (1 << letter) and f[at.f_values + letter] < 0.0 and letter != at.N:
                report(at.P_SETTING, i[at.i_insert], f[at.f_values + letter], letter, i, problems)
                return -2
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
        return -2
    return -1


@part()
def _motion(motion, modal, machine, place, f, i, fo, io, so, arcs, settings, problems, layers):
    """Carry out G0 to G3 with the words of the line."""
    mask = i[at.i_mask]
    scale = f[at.f_scale]
    flags = (at.RAPID if motion == 0 else 0) | (at.MODAL if modal else 0)
    x, y, z = f[at.f_x], f[at.f_y], f[at.f_z]
    _set_target(machine, f, i)
    target = (f[at.f_target], f[at.f_target + 1], f[at.f_target + 2])
    if machine:
        flags |= at.MACHINE
    delta = 0.0
    if mask & (1 << at.E):
        delta = _take_e(f[at.f_values + at.E] * scale, modal, f, i)
    if i[at.i_has_alt]:
        _take_alt_word(f, i)
    length = np.sqrt((target[0] - x) ** 2 + (target[1] - y) ** 2 + (target[2] - z) ** 2)
    solved = False
    if motion >= 2:
        solved = _arc(motion == 2, target, place, f, i, problems)
        flags |= at.ARC if solved else at.BAD_ARC
        if solved:
            length = f[at.f_arc + 4]
    moved = target[0] != x or target[1] != y or target[2] != z or solved
    if not moved and delta == 0.0:
        return
    feed = f[at.f_feed]
    if i[at.i_inverse] and motion != 0:
        feed *= length
    if not i[at.i_has_feed] or (i[at.i_inverse] and motion == 0):
        feed = at.DEFAULT_FEED_MM_S
        flags |= at.NO_FEED
        if motion != 0:
            report(at.P_NO_FEED, place, np.nan, at.F, i, problems)
    if i[at.i_inverse]:
        flags |= at.INVERSE_TIME
    flow = f[at.f_set + at.FLOW_OVERRIDE]
    _tally_filament(delta, flow, f)
    kind = at.RETRACT if delta < 0.0 else at.PRIME
    if moved:
        kind = at.EXTRUDE if delta > 0.0 else at.WIPE if delta < 0.0 else at.TRAVEL
        i[at.i_n_moves] += 1
    u, v = _plane_axes(i[at.i_plane])
    if kind == at.EXTRUDE:
        flat = solved or target[0] != x or target[1] != y
        _note_extrusion(target[2], length, flat, f, i, layers)
        _widen_box(x, y, z, f)
        _widen_box(target[0], target[1], target[2], f)
        if solved:
            start = (x, y, z)
            arc_box(
                at.f_box, at.f_box + 3, u, v, start[u], start[v], target[u], target[v], f
            )  # fmt: skip
    elif moved:
        f[at.f_travel] += length
    n = _put_move(
        target[0], target[1], target[2], delta, length, feed, kind, flags, place,
        f, i, fo, io, so, settings,
    )  # fmt: skip
    if solved:
        k = i[at.i_arcs]
        arcs[at.ARC_MOVE, k] = n
        arcs[at.ARC_U, k] = f[at.f_arc]
        arcs[at.ARC_V, k] = f[at.f_arc + 1]
        arcs[at.ARC_RADIUS, k] = f[at.f_arc + 2]
        arcs[at.ARC_SWEEP, k] = f[at.f_arc + 3]
        arcs[at.ARC_PLANE, k] = i[at.i_plane]
        i[at.i_arcs] = k + 1
    f[at.f_x], f[at.f_y], f[at.f_z] = target[0], target[1], target[2]


@part()
def _set_target(machine, f, i):
    """Where the axis words lead, program coordinates in mm, into f[f_target…]."""
    for axis in range(3):
        goal = f[at.f_x + axis]
        if i[at.i_mask] & (1 << (at.X + axis)):
            value = f[at.f_values + at.X + axis] * f[at.f_scale]
            if machine:
                goal = value + f[at.f_shift + axis]
            elif i[at.i_relative]:
                goal += value
            else:
                goal = value
        f[at.f_target + axis] = goal


@part()
def _plane_axes(plane):
    """First and second axis of a plane, so that G3 turns from the first to the second."""
    if plane == 18:
        return 2, 0
    if plane == 19:
        return 1, 2
    return 0, 1


@part()
def _note_extrusion(z, length, flat, f, i, layers):
    """Totals of an extruding move, and the layer it lies in where it moves in XY."""
    i[at.i_n_extruding] += 1
    f[at.f_extruding] += length
    if z != f[at.f_z]:
        f[at.f_climbing] += length
    if flat and z != f[at.f_layer_z]:
        f[at.f_layer_z] = z
        i[at.i_layer] = find_layer(z, i, layers)


@part()
def _arc(clockwise, target, place, f, i, problems):
    """Solve the arc of this line into f[f_arc…]; False (and a report) where there is none."""
    mask = i[at.i_mask]
    scale = f[at.f_scale]
    i[at.i_n_arcs] += 1
    start = (f[at.f_x], f[at.f_y], f[at.f_z])
    u, v = _plane_axes(i[at.i_plane])
    w = 3 - u - v
    given = mask & CENTRE_WORDS
    in_plane = (1 << (at.I + u)) | (1 << (at.I + v))
    has_radius = mask & (1 << at.R) != 0
    tolerance = arc_tolerance(i, f)
    if has_radius == (given != 0) or given & ~in_plane:
        i[at.i_n_bad_arcs] += 1
        report(at.P_ARC_WORDS, place, np.nan, at.NO_LETTER, i, problems)
        return False
    if has_radius:
        radius = f[at.f_values + at.R] * scale
        state = radius_arc(
            start[u], start[v], target[u], target[v], radius, clockwise, tolerance, f
        )
    else:
        cu = f[at.f_values + at.I + u] * scale if mask & (1 << (at.I + u)) else 0.0
        cv = f[at.f_values + at.I + v] * scale if mask & (1 << (at.I + v)) else 0.0
        other_u, other_v = cu, cv
        if not i[at.i_absolute_centre]:
            cu += start[u]
            cv += start[v]
        state = centre_arc(
            start[u], start[v], target[u], target[v], cu, cv, clockwise, tolerance, f
        )
        if state != SOLVED:
            gap = np.hypot(start[u] - other_u, start[v] - other_v) - np.hypot(
                target[u] - other_u, target[v] - other_v
            )
            if abs(gap) <= tolerance:
                i[at.i_n_absolute] += 1
    if state != SOLVED:
        i[at.i_n_bad_arcs] += 1
        gap = np.nan
        if state == at.P_ARC_RADII:
            gap = abs(
                np.hypot(start[u] - cu, start[v] - cv) - np.hypot(target[u] - cu, target[v] - cv)
            )
        elif has_radius:
            gap = radius
        report(state, place, gap, at.NO_LETTER, i, problems)
        return False
    if mask & (1 << at.P):
        turns = f[at.f_values + at.P]
        if turns < 1.0 or turns > at.MAX_TURNS or turns != np.floor(turns):
            report(at.P_TURNS, place, turns, at.P, i, problems)
        else:
            more = 2.0 * np.pi * (turns - 1.0)
            f[at.f_arc + 3] += -more if clockwise else more
    along = f[at.f_arc + 2] * abs(f[at.f_arc + 3])
    rise = target[w] - start[w]
    f[at.f_arc + 4] = np.sqrt(along * along + rise * rise)
    return True


@part()
def run_line(place, f, i, fo, io, so, events, arcs, settings, problems, unknown, layers):
    """Carry out the words the state holds."""
    mask, bare = i[at.i_mask], i[at.i_bare]
    if i[at.i_words] == 0 or i[at.i_dead] or (mask | bare | i[at.i_ng] | i[at.i_nm]) == 0:
        return
    if i[at.i_ended]:
        report(at.P_AFTER_END, place, np.nan, at.NO_LETTER, i, problems)
        return
    used = (1 << at.N) | (1 << at.O)
    if mask & (1 << at.N):
        value = f[at.f_values + at.N]
        if value < 0.0 or value != np.floor(value):
            report(at.P_LINE_NUMBER, place, value, at.N, i, problems)

    # --- G words by modal group (3.4, table 4); execution comes after, in table 8's order
    # (numba types a bare False or -1 as that very value, and would compile callees twice)
    motion = plane = units = distance = centre = inverse = position = np.int64(-1)
    home = dwell = machine = owned = foreign = i[at.i_words] < 0
    retract = np.int64(0)
    groups = 0
    for k in range(i[at.i_ng]):
        code = i[at.i_g + k]
        group = 0
        if code in (0, 10, 20, 30, 800):
            motion, group = code, 1
        elif code in (170, 180, 190):
            plane, group = code // 10, 2
        elif code in (200, 210):
            units, group = code // 10, 3
        elif code in (900, 910):
            distance, group = code // 10, 4
        elif code in (901, 911):
            centre, group = code, 5
        elif code in (930, 940):
            inverse, group = code, 6
        elif code in (280, 920, 921, 922, 923, 100, 110):
            group = 7
            if code == 280:
                home = True
            elif code >= 920:
                position = code
            elif mask & ((1 << at.L) | (1 << at.P) | (1 << at.R)) == 0:
                retract = -1 if code == 100 else 1
            else:
                owned = True  # another use of the word: its letters are counted as unknown
        elif code == 40:
            dwell, group = True, 7
        elif code == 530:
            machine = True
        elif code not in QUIET_G:
            key = (np.int64(at.G) << at.LETTER_SHIFT) | code
            count_unknown(key, i[at.i_g_at + k], at.WORD_LENGTH, i, unknown)
            if code in (410, 411, 420, 421, 430):
                used |= (1 << at.H) | (1 << at.D)
            else:
                owned = foreign = True
            if 330 <= code <= 389 or 810 <= code <= 899:
                i[at.i_motion] = -1
        if group and groups & (1 << group):
            report(at.P_GROUP, i[at.i_g_at + k], code / 10.0, at.G, i, problems)
        groups |= 1 << group
    for k in range(i[at.i_nm]):
        code = i[at.i_m + k]
        owned = owned or not (code in MILLING_M or code in (820, 830))
    moves = motion in (0, 10, 20, 30)
    if inverse >= 0 and (inverse == 930) != (i[at.i_inverse] == 1):
        i[at.i_inverse] = 1 if inverse == 930 else 0
        i[at.i_has_feed] = 0
    if mask & (1 << at.F) and (moves or not owned):
        used |= 1 << at.F
        value = f[at.f_values + at.F] * (1.0 if i[at.i_inverse] else f[at.f_scale]) / 60.0
        if value > 0.0:
            f[at.f_feed] = value
            i[at.i_has_feed] = 1
        else:
            report(at.P_FEED, place, f[at.f_values + at.F], at.F, i, problems)
    if mask & (1 << at.T) and not owned:
        used |= 1 << at.T
        tool = f[at.f_values + at.T]
        if 0.0 <= tool < at.MAX_TOOLS and tool == np.floor(tool):
            if tool != f[at.f_set + at.TOOL]:
                put_event(at.TOOL_CHANGE, tool, tool, i, events)
                set_setting(at.TOOL, tool, f, i)
                set_setting(at.HOT_END, f[at.f_temps + np.int64(tool)], f, i)
        else:
            report(at.P_TOOL, place, tool, at.T, i, problems)
    if i[at.i_ng] == 0 and i[at.i_nm] == 0:
        used |= 1 << at.S  # spindle speed on its own, 3.7.2
    stop = -1
    whole = False
    for k in range(i[at.i_nm]):
        code = i[at.i_m + k]
        taken = _machine_word(code, mask, f, i, events, problems, unknown)
        if taken == -1:
            key = (np.int64(at.M) << at.LETTER_SHIFT) | code
            count_unknown(key, i[at.i_insert], at.WORD_LENGTH, i, unknown)
            whole = True
        elif taken == -2:
            whole = True
        else:
            used |= taken
        if code in (0, 10, 20, 300, 600):
            stop = code
    if dwell:
        used |= (1 << at.P) | (1 << at.S)
        seconds = f[at.f_values + at.P] / 1000.0 if mask & (1 << at.P) else 0.0
        if mask & (1 << at.S):
            seconds = f[at.f_values + at.S]
        if seconds < 0.0:
            report(at.P_DWELL, place, seconds, at.P, i, problems)
            seconds = 0.0
        put_event(at.DWELL, seconds, f[at.f_set + at.TOOL], i, events)
    if plane >= 0:
        i[at.i_plane] = plane
    if units >= 0:
        i[at.i_units] = units
        f[at.f_scale] = 25.4 if units == 20 else 1.0
    if distance >= 0:
        i[at.i_relative] = 1 if distance == 91 else 0
        _set_e_mode(i[at.i_relative], at.G90_OR_G91, f, i)
    if centre >= 0:
        i[at.i_absolute_centre] = 1 if centre == 901 else 0
    if home:
        used |= AXES
        _home(mask | bare, f, i, events)
    if retract != 0:
        used |= 1 << at.S
        _retract(np.float64(retract), place, f, i, fo, io, so, settings)
    if position >= 0:
        used |= AXES | (1 << at.E)
        if bare & (AXES | (1 << at.E)):
            report(at.P_NO_NUMBER, place, np.nan, at.NO_LETTER, i, problems)
        else:
            _set_position(position, mask, f, i, problems)
    if motion == 800:
        i[at.i_motion] = -1
    elif moves:
        i[at.i_motion] = motion // 10
    takes_axes = home or position >= 0
    words = mask & (AXES | (1 << at.E) | ARC_ONLY)
    if takes_axes and moves and words:
        report(at.P_AXIS_CLASH, place, np.nan, at.NO_LETTER, i, problems)
    elif (moves or not (takes_axes or owned or dwell or retract != 0)) and motion != 800:
        if (
            bare & NO_NUMBER_MATTERS
            and (moves or i[at.i_ng] + i[at.i_nm] == 0)
            and not (mask & (1 << at.T) and not moves)
        ):
            report(
                at.P_NO_NUMBER, place, np.nan, _first_letter(bare & NO_NUMBER_MATTERS), i, problems
            )
            used |= NO_NUMBER_MATTERS
        now = i[at.i_motion]
        if now >= 0:
            relevant = words if now >= 2 else words & ~ARC_ONLY
            used |= MOTION_WORDS | (ARC_ONLY | (1 << at.P) if now >= 2 else 0)
            if relevant:
                if not moves:
                    i[at.i_n_modal] += 1
                _motion(
                    now,
                    not moves,
                    machine,
                    place,
                    f,
                    i,
                    fo,
                    io,
                    so,
                    arcs,
                    settings,
                    problems,
                    layers,
                )
        elif words & (AXES | (1 << at.E)):
            used |= words
            report(at.P_NO_MOTION, place, np.nan, at.NO_LETTER, i, problems)
    if stop >= 0:
        ends = stop in (20, 300)
        put_event(at.PROGRAM_END if ends else at.PAUSE, 0.0, f[at.f_set + at.TOOL], i, events)
        if ends:
            i[at.i_ended] = 1
    left = (mask | bare) & ~used
    if left and not whole and not (foreign and i[at.i_nm] == 0):
        _count_parameters(left, place, i, unknown)


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
