"""G0 to G3, G10, G11, G28 and G92: places, moves and arcs."""

# mypy: disable-error-code="no-untyped-def,no-untyped-call,call-arg,var-annotated,assignment"
# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0912, PLR0915

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import _columns as at
from beadworth.gcode._kernel_arc import SOLVED, arc_box, arc_tolerance, centre_arc, radius_arc
from beadworth.gcode._kernel_filament import compare_readings, take_alt_word, take_e, tally_filament
from beadworth.gcode._kernel_line import report
from beadworth.gcode._kernel_settings import push_settings, put_event

AXES = (1 << at.X) | (1 << at.Y) | (1 << at.Z)
CENTRE_WORDS = (1 << at.I) | (1 << at.J) | (1 << at.K)


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
def note_start(f, i, fo, io):
    """List the next move as a jump where it does not start at the end of the one before it.

    G92 and G28 name the place anew without a move.
    """
    n, k = i[at.i_moves], i[at.i_jumps]
    if k > 0 and io[at.JUMP_MOVE, k - 1] == n:  # named anew once more
        k -= 1
    x, y, z = f[at.f_x], f[at.f_y], f[at.f_z]
    if fo[at.AT_X, n] != x or fo[at.AT_Y, n] != y or fo[at.AT_Z, n] != z:
        io[at.JUMP_MOVE, k] = n
        fo[at.JUMP_X, k], fo[at.JUMP_Y, k], fo[at.JUMP_Z, k] = x, y, z
        k += 1
    i[at.i_jumps] = k


@part()
def _put_move(x, y, z, delta, length, feed, kind, flags, place, f, i, fo, io, so, settings):
    """Write one move from the position in the state to (x, y, z); returns its index."""
    n = i[at.i_moves]
    if i[at.i_dirty]:
        push_settings(f, i, settings)
    note_start(f, i, fo, io)
    fo[at.AT_X, n + 1], fo[at.AT_Y, n + 1], fo[at.AT_Z, n + 1] = x, y, z
    fo[at.FILAMENT, n], fo[at.FEED, n], fo[at.LENGTH, n] = delta, feed, length
    io[at.LINE, n], io[at.OFFSET, n] = i[at.i_line] + 1, i[at.i_base] + place
    found = i[at.i_f_at] >= 0 and not flags & at.FIRMWARE
    io[at.F_AT, n] = i[at.i_base] + (i[at.i_f_at] if found else i[at.i_insert])
    so[at.F_LEN, n] = i[at.i_f_len] if found else 0
    so[at.LAYER, n] = i[at.i_layer]
    so[at.SETTING, n] = i[at.i_settings] - 1
    so[at.KIND, n] = kind
    flags |= at.INCH if i[at.i_units] == 20 else 0
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
def retract(direction, place, f, i, fo, io, so, settings):
    """G10 and G11: filament back or forth by the rig's length, once each."""
    if (direction < 0.0) == (i[at.i_retracted] == 1):
        return
    i[at.i_retracted] = 1 - i[at.i_retracted]
    delta = direction * f[at.f_retract_mm]
    if delta == 0.0:
        return
    tally_filament(delta, 1.0, f)
    kind = at.RETRACT if delta < 0.0 else at.PRIME
    speed = f[at.f_retract_mm_s]
    _put_move(
        f[at.f_x], f[at.f_y], f[at.f_z], delta, 0.0, speed, kind, at.FIRMWARE, place,
        f, i, fo, io, so, settings,
    )  # fmt: skip


@part()
def set_position(code, mask, f, i, problems):
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
def home_axes(mask, f, i, events):
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
def _set_target(f, i):
    """Where the axis words lead, program coordinates in mm, into f[f_target…]."""
    for axis in range(3):
        goal = f[at.f_x + axis]
        if i[at.i_mask] & (1 << (at.X + axis)):
            value = f[at.f_values + at.X + axis] * f[at.f_scale]
            if i[at.i_machine]:
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
def move(motion, modal, place, f, i, fo, io, so, arcs, settings, problems, layers):
    """Carry out G0 to G3 with the words of the line."""
    mask = i[at.i_mask]
    scale = f[at.f_scale]
    flags = (at.RAPID if motion == 0 else 0) | (at.MODAL if modal else 0)
    x, y, z = f[at.f_x], f[at.f_y], f[at.f_z]
    _set_target(f, i)
    target = (f[at.f_target], f[at.f_target + 1], f[at.f_target + 2])
    if i[at.i_machine]:
        flags |= at.MACHINE
    delta = 0.0
    if mask & (1 << at.E):
        delta = take_e(f[at.f_values + at.E] * scale, modal, f, i)
    if i[at.i_has_alt]:
        take_alt_word(f, i)
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
        feed *= length if moved else abs(delta)
    if not i[at.i_has_feed] or (i[at.i_inverse] and motion == 0):
        feed = at.DEFAULT_FEED_MM_S
        flags |= at.NO_FEED
        if motion != 0:
            report(at.P_NO_FEED, place, np.nan, at.F, i, problems)
    if i[at.i_inverse]:
        flags |= at.INVERSE_TIME
    flow = f[at.f_set + at.FLOW_OVERRIDE]
    tally_filament(delta, flow, f)
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
