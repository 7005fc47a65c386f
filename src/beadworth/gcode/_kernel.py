"""The compiled scanner: a fast path for plain G0 and G1 lines, every rule behind it.

A line such as ``G1 X100.518 Y101.232 E0.02858 F2634 ; comment`` is read eight bytes at a
time and written straight into the move columns; one that differs in digits alone from a line
before it, whole (``_kernel_shape``). Anything else (other commands, lower
case, blanks inside numbers, checksums, a word twice, …) goes from its first byte to
``_kernel_line`` and ``_kernel_run``, which know every rule. The fast path is thus an
optimisation only: with ``plain=False`` the scanner gives the same arrays without it.
"""

# numba types these functions from the arrays they are called with.
# ruff: noqa: PLR0912, PLR0915

from __future__ import annotations

import numpy as np

from beadworth.core import entry, part
from beadworth.gcode import columns
from beadworth.gcode._kernel_filament import draw_back, other_readings, refills
from beadworth.gcode._kernel_line import read_words, report
from beadworth.gcode._kernel_motion import find_layer, note_start
from beadworth.gcode._kernel_number import (
    CR,
    DOT,
    LF,
    NINE,
    SEMICOLON,
    U64,
    ZERO,
    behind_end,
    byte_at,
    line_end,
)
from beadworth.gcode._kernel_plain import WE, WF, WX, WY, WZ, plain_words
from beadworth.gcode._kernel_run import run_line
from beadworth.gcode._kernel_settings import push_settings
from beadworth.gcode._kernel_shape import (
    BEHIND,
    COMMENT,
    DECIMALS,
    F_FROM,
    F_SIZE,
    LAST,
    MASK,
    MOTION,
    NONE,
    SIZE,
    SPREAD,
    marks_of,
    note_shape,
    unlike,
    words_of_shape,
)

UPPER_G = 71
LUCK = 16  # patience with lines whose shape was not met yet
ROOM = 40  # events and settings one line can add


@entry(_nrt=False)  # it makes no array, and counting references costs time
def scan(
    buffer, begin, stop, plain, places, f, i, fo, io, so, events, arcs, settings, problems,
    unknown, layers, shapes,
):  # fmt: skip
    """Read whole lines from buffer[begin:stop] until the text or the room for results ends.

    Parameters
    ----------
    buffer : uint8 array
        Text whose last line is ended, and ``PAD`` line ends behind it.
    begin, stop : int
        Where the text to read begins and ends.
    plain : bool
        False sends every line through the rules, for tests.
    places : bool
        Whether to say where each line and its F word stand in the text.
    f, i : float64 and int64 arrays
        State, carried from call to call (see ``_layout``).
    fo, io, so, events, arcs, settings, problems, unknown, layers
        Tables to fill; their counts are in the state.
    shapes : uint64 array
        Shapes of lines met so far, in rows of ``columns.SHAPE_SIZE``; zeros at first.

    Returns
    -------
    int
        Index of the first byte that was not read.
    """
    move_room = U64(fo.shape[1] - 2)
    event_room = events.shape[1] - ROOM
    settings_room = settings.shape[0] - ROOM
    arc_room = arcs.shape[1]
    x1, y1, z1 = fo[columns.AT_X][1:], fo[columns.AT_Y][1:], fo[columns.AT_Z][1:]
    filament, feeds, lengths = fo[columns.FILAMENT], fo[columns.FEED], fo[columns.LENGTH]
    lines, offsets, f_ats = io[columns.LINE], io[columns.OFFSET], io[columns.F_AT]
    f_lens, layer_of, setting_of = so[columns.F_LEN], so[columns.LAYER], so[columns.SETTING]
    kinds, flags = so[columns.KIND], so[columns.FLAGS]
    base = i[columns.i_base]
    box = columns.f_box
    if i[columns.i_dirty]:
        push_settings(f, i, settings)
    fo[columns.AT_X, 0], fo[columns.AT_Y, 0] = f[columns.f_x], f[columns.f_y]
    fo[columns.AT_Z, 0] = f[columns.f_z]
    reload, usual, row = True, False, NONE
    luck, missed, resume = LUCK, 0, 0
    p = begin
    # These locals mirror the state between slow lines; `reload` brings them back after one.
    x = y = z = e = feed = scale = per_e = flow = layer_z = 0.0
    relative = relative_e = diverged = dirty = fast = fed = False
    layer = setting = decimals = inch = 0
    n = U64(i[columns.i_moves])  # unsigned: an index that cannot count from the end is cheaper
    n_moves = n_extruding = n_lines = n_commands = 0
    path = travel = climbing = net = forward = 0.0
    low_x = low_y = low_z = np.inf
    high_x = high_y = high_z = -np.inf
    while p < stop and n < move_room:
        if reload:
            if (
                i[columns.i_events] >= event_room
                or i[columns.i_settings] >= settings_room
                or i[columns.i_arcs] >= arc_room
            ):
                break
            x, y, z, e = f[columns.f_x], f[columns.f_y], f[columns.f_z], f[columns.f_e]
            feed, scale, layer_z = f[columns.f_feed], f[columns.f_scale], f[columns.f_layer_z]
            flow, per_e = f[columns.f_set + columns.FLOW_OVERRIDE], f[columns.f_per_e]
            relative, relative_e = i[columns.i_relative] == 1, i[columns.i_relative_e] == 1
            diverged, dirty = i[columns.i_diverged] != 0, i[columns.i_dirty] != 0
            fed = i[columns.i_has_feed] == 1
            layer, setting = i[columns.i_layer], i[columns.i_settings] - 1
            decimals = i[columns.i_decimals]
            inch = columns.INCH if i[columns.i_units] == 20 else 0
            n = U64(i[columns.i_moves])
            fast = plain and i[columns.i_inverse] == 0 and i[columns.i_ended] == 0 and not dirty
            reload, usual = False, False
        start = p
        good, mask, motion = False, 0, 0
        f_at, f_len, last = -1, 0, start
        place, marks = NONE, U64(0)
        like = usual and unlike(buffer, start, shapes, row) == U64(0)
        if not like and fast and n_commands >= resume and byte_at(buffer, start) == UPPER_G:
            marks = marks_of(buffer, start)
            place = ((marks * SPREAD) >> U64(columns.SHAPE_SHIFT)) * SIZE
            if marks != U64(0) and unlike(buffer, start, shapes, place) == U64(0):
                like, usual, row = True, True, place
        if like:
            good = True
            p = start + np.int64(shapes[row + BEHIND])
            mask, motion = np.int64(shapes[row + MASK]), np.int64(shapes[row + MOTION])
            decimals = max(decimals, np.int64(shapes[row + DECIMALS]))
            words_of_shape(buffer, start, shapes, row, f)
            if places:
                last = start + np.int64(shapes[row + LAST])
                if mask & 16:
                    f_at = start + np.int64(shapes[row + F_FROM])
                    f_len = np.int64(shapes[row + F_SIZE])
            ended = shapes[row + COMMENT] == U64(0)
        else:
            c = byte_at(buffer, p)
            if c in (SEMICOLON, LF, CR):
                p = line_end(buffer, p)  # an empty line, or nothing but a comment
                if p - start <= columns.LONG_LINE:
                    p = behind_end(buffer, p)
                    n_lines += 1
                    continue
            if fast and c == UPPER_G:
                c, after = byte_at(buffer, p + 1), byte_at(buffer, p + 2)
                if c == ZERO and ZERO <= after <= NINE:
                    p += 1
                    c = after
                    after = byte_at(buffer, p + 2)
                motion = c - ZERO
                good = motion in (0, 1) and not (DOT <= after <= NINE)
                p += 2
            if good:
                good, p, mask, decimals, last, f_at, f_len = plain_words(buffer, p, decimals, f)
            ended = not good
            if good and marks != U64(0):
                if note_shape(buffer, start, last, motion, marks, shapes, place):
                    usual, row = True, place
                luck = min(luck + min(n_commands - missed, 64) - 8, 64)
                missed = n_commands
                if luck < 0:  # hardly two lines alike: looking costs more than it saves
                    luck, resume, usual = LUCK, n_commands + 1024, False
        if not ended:
            if byte_at(buffer, p) == SEMICOLON:
                p = line_end(buffer, p)
            good = p - start <= columns.LONG_LINE
            p = behind_end(buffer, p)
        if good:
            # F must be above 0, and some F must be in force where anything moves.
            if mask & 16:
                good = f[columns.f_words + WF] > 60.0 * columns.SLOWEST_FEED
            elif mask and not fed:
                good = False
        if not good:
            put_back(x, y, z, e, feed, layer_z, layer, decimals, fed, diverged, f, i)
            i[columns.i_line] += n_lines
            n_lines = 0
            i[columns.i_moves] = np.int64(n)
            p = line_end(buffer, start)
            if p - start > columns.LONG_LINE:
                long = np.float64(p - start)
                report(columns.P_LONG_LINE, start, long, columns.NO_LETTER, i, problems)
            else:
                p = read_words(buffer, start, f, i, problems, unknown)
                run_line(
                    start, f, i, fo, io, so, events, arcs, settings, problems, unknown, layers
                )  # fmt: skip
                note_start(f, i, fo, io)
            p = behind_end(buffer, p)
            i[columns.i_line] += 1
            if i[columns.i_dirty] and i[columns.i_settings] < settings_room:
                push_settings(f, i, settings)
            reload = True
            n = U64(i[columns.i_moves])
            continue

        n_lines += 1
        n_commands += 1
        i[columns.i_motion] = motion
        if mask & 16:
            feed = f[columns.f_words + WF] * scale / 60.0
            fed = True
        nx = f[columns.f_words + WX] * scale + (x if relative else 0.0) if mask & 1 else x
        ny = f[columns.f_words + WY] * scale + (y if relative else 0.0) if mask & 2 else y
        nz = f[columns.f_words + WZ] * scale + (z if relative else 0.0) if mask & 4 else z
        delta = 0.0
        if mask & 8:
            value = f[columns.f_words + WE] * scale * per_e
            if relative_e:
                delta = value
                e += value
            else:
                delta = value - e
                e = value
            if diverged:
                f[columns.f_e] = e
                other_readings(value, delta, columns.ALL_TAKE_IT, mask & 3 != 0, f, i)
                diverged = i[columns.i_diverged] != 0
            net += delta
            forward += max(delta, 0.0)
            if flow != 1.0:
                f[columns.f_flow_net] += delta * (flow - 1.0)
                f[columns.f_flow_forward] += max(delta, 0.0) * (flow - 1.0)
        dx, dy, dz = nx - x, ny - y, nz - z
        moved = dx != 0.0 or dy != 0.0 or dz != 0.0
        if not moved and delta == 0.0:
            continue
        length = np.sqrt(dx * dx + dy * dy + dz * dz)
        if moved:
            n_moves += 1
            if delta > 0.0:
                flat = dx != 0.0 or dy != 0.0
                push = flat and f[columns.f_drawn] > 0.0 and refills(delta, f)
                kind = columns.EXTRUDE if flat and not push else columns.PUSH
                n_extruding += 1
                path += length
                climbing += length if dz != 0.0 else 0.0
                if nz != layer_z and flat:
                    layer_z = nz
                    layer = find_layer(nz, i, layers)
                low_x, high_x = min(low_x, x, nx), max(high_x, x, nx)
                low_y, high_y = min(low_y, y, ny), max(high_y, y, ny)
                low_z, high_z = min(low_z, z, nz), max(high_z, z, nz)
            else:
                kind = columns.WIPE if delta < 0.0 else columns.TRAVEL
                travel += length
        else:
            kind = columns.RETRACT if delta < 0.0 else columns.PRIME
        if delta < 0.0 or not moved:
            draw_back(delta, f)
        x1[n], y1[n], z1[n] = nx, ny, nz
        filament[n], feeds[n], lengths[n] = delta, feed, length
        lines[n], layer_of[n], setting_of[n] = i[columns.i_line] + n_lines, layer, setting
        if places:
            offsets[n], f_lens[n] = base + start, f_len
            f_ats[n] = base + (f_at if f_at >= 0 else last)
        kinds[n], flags[n] = kind, (columns.RAPID if motion == 0 else 0) | inch
        x, y, z = nx, ny, nz
        n += U64(1)
    if not reload:
        put_back(x, y, z, e, feed, layer_z, layer, decimals, fed, diverged, f, i)
    i[columns.i_line] += n_lines
    i[columns.i_moves] = np.int64(n)
    i[columns.i_n_moves] += n_moves
    i[columns.i_n_extruding] += n_extruding
    i[columns.i_n_commands] += n_commands
    f[box], f[box + 3] = min(f[box], low_x), max(f[box + 3], high_x)
    f[box + 1], f[box + 4] = min(f[box + 1], low_y), max(f[box + 4], high_y)
    f[box + 2], f[box + 5] = min(f[box + 2], low_z), max(f[box + 5], high_z)
    f[columns.f_extruding] += path
    f[columns.f_travel] += travel
    f[columns.f_climbing] += climbing
    f[columns.f_net] += net
    f[columns.f_forward] += forward
    return p


@part()
def put_back(x, y, z, e, feed, layer_z, layer, decimals, fed, diverged, f, i):
    """Put what the fast path keeps at hand back into the state."""
    f[columns.f_x], f[columns.f_y], f[columns.f_z], f[columns.f_e] = x, y, z, e
    if not diverged:
        for k in range(columns.N_ALT):
            f[columns.f_alt_e + k] = e
    f[columns.f_feed], f[columns.f_layer_z] = feed, layer_z
    i[columns.i_layer], i[columns.i_decimals] = layer, decimals
    if fed:
        i[columns.i_has_feed] = 1
