"""G0 to G3, G10, G11, G28 and G92: places, moves and arcs."""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0912, PLR0915

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import columns
from beadworth.gcode._kernel_arc import SOLVED, arc_box, arc_tolerance, centre_arc, radius_arc
from beadworth.gcode._kernel_filament import (
    compare_readings,
    draw_back,
    refills,
    take_alt_word,
    take_e,
    tally_filament,
)
from beadworth.gcode._kernel_line import report
from beadworth.gcode._kernel_settings import push_settings, put_event

AXES = (1 << columns.X) | (1 << columns.Y) | (1 << columns.Z)
CENTRE_WORDS = (1 << columns.I) | (1 << columns.J) | (1 << columns.K)


@part()
def find_layer(z, i, layers):
    """Number of the layer at height z, by order of first appearance; -1 once the table is full."""
    key = np.int64(np.rint(z / columns.LAYER_STEP_MM))
    mask = columns.LAYER_SLOTS - 1
    slot = ((key * 0x9E3779B1) >> 7) & mask
    while layers[0, slot] != columns.EMPTY_SLOT:
        if layers[0, slot] == key:
            return layers[1, slot]
        slot = (slot + 1) & mask
    if i[columns.i_n_layers] >= 3 * (columns.LAYER_SLOTS // 4):
        i[columns.i_layers_full] = 1
        return -1
    layers[0, slot] = key
    layers[1, slot] = i[columns.i_n_layers]
    i[columns.i_n_layers] += 1
    return layers[1, slot]


@part()
def note_start(f, i, fo, io):
    """List the next move as a jump where it does not start at the end of the one before it.

    G92 and G28 name the place anew without a move.
    """
    n, k = i[columns.i_moves], i[columns.i_jumps]
    if k > 0 and io[columns.JUMP_MOVE, k - 1] == n:  # named anew once more
        k -= 1
    x, y, z = f[columns.f_x], f[columns.f_y], f[columns.f_z]
    if fo[columns.AT_X, n] != x or fo[columns.AT_Y, n] != y or fo[columns.AT_Z, n] != z:
        io[columns.JUMP_MOVE, k] = n
        fo[columns.JUMP_X, k], fo[columns.JUMP_Y, k], fo[columns.JUMP_Z, k] = x, y, z
        k += 1
    i[columns.i_jumps] = k


@part()
def _put_move(x, y, z, delta, length, feed, kind, flags, place, f, i, fo, io, so, settings):
    """Write one move from the position in the state to (x, y, z); returns its index."""
    n = i[columns.i_moves]
    if i[columns.i_dirty]:
        push_settings(f, i, settings)
    note_start(f, i, fo, io)
    fo[columns.AT_X, n + 1], fo[columns.AT_Y, n + 1], fo[columns.AT_Z, n + 1] = x, y, z
    fo[columns.FILAMENT, n], fo[columns.FEED, n], fo[columns.LENGTH, n] = delta, feed, length
    io[columns.LINE, n], io[columns.OFFSET, n] = i[columns.i_line] + 1, i[columns.i_base] + place
    found = i[columns.i_f_at] >= 0 and not flags & columns.FIRMWARE
    io[columns.F_AT, n] = i[columns.i_base] + (i[columns.i_f_at] if found else i[columns.i_insert])
    so[columns.F_LEN, n] = i[columns.i_f_len] if found else 0
    so[columns.LAYER, n] = i[columns.i_layer]
    so[columns.SETTING, n] = i[columns.i_settings] - 1
    so[columns.KIND, n] = kind
    flags |= columns.INCH if i[columns.i_units] == 20 else 0
    so[columns.FLAGS, n] = flags | (columns.CHECKSUM if i[columns.i_checksum] else 0)
    i[columns.i_moves] = n + 1
    return n


@part()
def _widen_box(x, y, z, f):
    b = columns.f_box
    f[b], f[b + 3] = min(f[b], x), max(f[b + 3], x)
    f[b + 1], f[b + 4] = min(f[b + 1], y), max(f[b + 4], y)
    f[b + 2], f[b + 5] = min(f[b + 2], z), max(f[b + 5], z)


@part()
def _note_extrusion(z, length, flat, f, i, layers):
    """Totals of an extruding move, and the layer it lies in where it moves in XY."""
    i[columns.i_n_extruding] += 1
    f[columns.f_extruding] += length
    if z != f[columns.f_z]:
        f[columns.f_climbing] += length
    if flat and z != f[columns.f_layer_z]:
        f[columns.f_layer_z] = z
        i[columns.i_layer] = find_layer(z, i, layers)


@part()
def retract(direction, place, f, i, fo, io, so, settings):
    """G10 and G11: filament back or forth by the rig's length, once each."""
    if (direction < 0.0) == (i[columns.i_retracted] == 1):
        return
    i[columns.i_retracted] = 1 - i[columns.i_retracted]
    delta = direction * f[columns.f_retract_mm]
    if delta == 0.0:
        return
    i[columns.i_n_firmware] += 1
    f[columns.f_firmware] += max(-delta, 0.0)
    kind = columns.RETRACT if delta < 0.0 else columns.PRIME
    speed = f[columns.f_retract_mm_s]
    _put_move(
        f[columns.f_x], f[columns.f_y], f[columns.f_z], delta, 0.0, speed, kind,
        columns.FIRMWARE, place, f, i, fo, io, so, settings,
    )  # fmt: skip


@part()
def set_position(code, mask, f, i, problems):
    """G92 and its kin: new names for the present position, without motion."""
    for axis in range(3):
        if code in (921, 922):
            if code == 922:
                f[columns.f_saved + axis] = f[columns.f_shift + axis]
            f[columns.f_x + axis] -= f[columns.f_shift + axis]
            f[columns.f_shift + axis] = 0.0
        elif code == 923:
            f[columns.f_x + axis] += f[columns.f_saved + axis] - f[columns.f_shift + axis]
            f[columns.f_shift + axis] = f[columns.f_saved + axis]
    if code != 920:
        return
    empty = mask & (AXES | (1 << columns.E)) == 0
    if empty:
        report(columns.P_EMPTY_G92, i[columns.i_g_at], np.nan, columns.NO_LETTER, i, problems)
    for axis in range(3):
        if empty or mask & (1 << (columns.X + axis)):
            value = 0.0 if empty else f[columns.f_values + columns.X + axis] * f[columns.f_scale]
            f[columns.f_shift + axis] += value - f[columns.f_x + axis]
            f[columns.f_x + axis] = value
    if empty or mask & (1 << columns.E):
        value = 0.0 if empty else f[columns.f_values + columns.E] * f[columns.f_scale]
        value *= f[columns.f_per_e]
        f[columns.f_e] = value
        for k in range(columns.N_ALT):
            f[columns.f_alt_e + k] = value
        compare_readings(f, i)


@part()
def home_axes(mask, f, i, events):
    """G28: the named axes, or all, go to 0."""
    named = mask & AXES
    if named == 0:
        named = AXES
    for axis in range(3):
        if named & (1 << (columns.X + axis)):
            f[columns.f_x + axis] = 0.0
            f[columns.f_shift + axis] = 0.0
    put_event(
        columns.HOME, np.float64(named >> columns.X), f[columns.f_set + columns.TOOL], i, events
    )


@part()
def _set_target(f, i):
    """Where the axis words lead, program coordinates in mm, into f[f_target…]."""
    for axis in range(3):
        goal = f[columns.f_x + axis]
        if i[columns.i_mask] & (1 << (columns.X + axis)):
            value = f[columns.f_values + columns.X + axis] * f[columns.f_scale]
            if i[columns.i_machine]:
                goal = value + f[columns.f_shift + axis]
            elif i[columns.i_relative]:
                goal += value
            else:
                goal = value
        f[columns.f_target + axis] = goal


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
    mask = i[columns.i_mask]
    scale = f[columns.f_scale]
    flags = (columns.RAPID if motion == 0 else 0) | (columns.MODAL if modal else 0)
    x, y, z = f[columns.f_x], f[columns.f_y], f[columns.f_z]
    _set_target(f, i)
    target = (f[columns.f_target], f[columns.f_target + 1], f[columns.f_target + 2])
    if i[columns.i_machine]:
        flags |= columns.MACHINE
    delta = 0.0
    if mask & (1 << columns.E):
        delta = take_e(f[columns.f_values + columns.E] * scale * f[columns.f_per_e], modal, f, i)
    if i[columns.i_has_alt]:
        take_alt_word(f, i)
    length = np.sqrt((target[0] - x) ** 2 + (target[1] - y) ** 2 + (target[2] - z) ** 2)
    solved = False
    if motion >= 2:
        solved = _arc(motion == 2, target, place, f, i, problems)
        flags |= columns.ARC if solved else columns.BAD_ARC
        if solved:
            length = f[columns.f_arc + 4]
    moved = target[0] != x or target[1] != y or target[2] != z or solved
    if not moved and delta == 0.0:
        return
    feed = f[columns.f_feed]
    if i[columns.i_inverse] and motion != 0:
        feed *= length if moved else abs(delta)
    if not i[columns.i_has_feed] or (i[columns.i_inverse] and motion == 0):
        feed = columns.DEFAULT_FEED_MM_S
        flags |= columns.NO_FEED
        if motion != 0:
            report(columns.P_NO_FEED, place, np.nan, columns.F, i, problems)
    if i[columns.i_inverse]:
        flags |= columns.INVERSE_TIME
    flow = f[columns.f_set + columns.FLOW_OVERRIDE]
    tally_filament(delta, flow, f)
    kind = columns.RETRACT if delta < 0.0 else columns.PRIME
    if moved:
        kind = columns.EXTRUDE if delta > 0.0 else columns.WIPE if delta < 0.0 else columns.TRAVEL
        i[columns.i_n_moves] += 1
    u, v = _plane_axes(i[columns.i_plane])
    if kind == columns.EXTRUDE:
        flat = solved or target[0] != x or target[1] != y
        kind = columns.EXTRUDE if flat and not refills(delta, f) else columns.PUSH
        _note_extrusion(target[2], length, flat, f, i, layers)
        _widen_box(x, y, z, f)
        _widen_box(target[0], target[1], target[2], f)
        if solved:
            start = (x, y, z)
            arc_box(
                columns.f_box, columns.f_box + 3, u, v, start[u], start[v], target[u], target[v], f
            )  # fmt: skip
    elif moved:
        f[columns.f_travel] += length
    if delta < 0.0 or not moved:
        draw_back(delta, f)
    n = _put_move(
        target[0], target[1], target[2], delta, length, feed, kind, flags, place,
        f, i, fo, io, so, settings,
    )  # fmt: skip
    if solved:
        k = i[columns.i_arcs]
        arcs[columns.ARC_MOVE, k] = n
        arcs[columns.ARC_U, k] = f[columns.f_arc]
        arcs[columns.ARC_V, k] = f[columns.f_arc + 1]
        arcs[columns.ARC_RADIUS, k] = f[columns.f_arc + 2]
        arcs[columns.ARC_SWEEP, k] = f[columns.f_arc + 3]
        arcs[columns.ARC_PLANE, k] = i[columns.i_plane]
        i[columns.i_arcs] = k + 1
    f[columns.f_x], f[columns.f_y], f[columns.f_z] = target[0], target[1], target[2]


@part()
def _arc(clockwise, target, place, f, i, problems):
    """Solve the arc of this line into f[f_arc…]; False (and a report) where there is none."""
    mask = i[columns.i_mask]
    scale = f[columns.f_scale]
    i[columns.i_n_arcs] += 1
    start = (f[columns.f_x], f[columns.f_y], f[columns.f_z])
    u, v = _plane_axes(i[columns.i_plane])
    w = 3 - u - v
    given = mask & CENTRE_WORDS
    in_plane = (1 << (columns.I + u)) | (1 << (columns.I + v))
    has_radius = mask & (1 << columns.R) != 0
    tolerance = arc_tolerance(i, f)
    if has_radius == (given != 0) or given & ~in_plane:
        i[columns.i_n_bad_arcs] += 1
        report(columns.P_ARC_WORDS, place, np.nan, columns.NO_LETTER, i, problems)
        return False
    if has_radius:
        radius = f[columns.f_values + columns.R] * scale
        state = radius_arc(
            start[u], start[v], target[u], target[v], radius, clockwise, tolerance, f
        )
    else:
        cu = f[columns.f_values + columns.I + u] * scale if mask & (1 << (columns.I + u)) else 0.0
        cv = f[columns.f_values + columns.I + v] * scale if mask & (1 << (columns.I + v)) else 0.0
        other_u, other_v = cu, cv
        if not i[columns.i_absolute_centre]:
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
                i[columns.i_n_absolute] += 1
    if state != SOLVED:
        i[columns.i_n_bad_arcs] += 1
        gap = np.nan
        if state == columns.P_ARC_RADII:
            gap = abs(
                np.hypot(start[u] - cu, start[v] - cv) - np.hypot(target[u] - cu, target[v] - cv)
            )
        elif has_radius:
            gap = radius
        report(state, place, gap, columns.NO_LETTER, i, problems)
        return False
    if mask & (1 << columns.P):
        turns = f[columns.f_values + columns.P]
        if turns < 1.0 or turns > columns.MAX_TURNS or turns != np.floor(turns):
            report(columns.P_TURNS, place, turns, columns.P, i, problems)
        else:
            more = 2.0 * np.pi * (turns - 1.0)
            f[columns.f_arc + 3] += -more if clockwise else more
    along = f[columns.f_arc + 2] * abs(f[columns.f_arc + 3])
    rise = target[w] - start[w]
    f[columns.f_arc + 4] = np.sqrt(along * along + rise * rise)
    return True
