"""E words in every reading of the file at once: position, advance, totals."""

# numba types these functions from the arrays they are called with.

from __future__ import annotations

from beadworth.core import part
from beadworth.gcode import columns


@part()
def compare_readings(f, i):
    """Note which other readings of the file now differ in E position or mode."""
    apart = 0
    for k in range(columns.N_ALT):
        if (
            i[columns.i_alt_relative + k] != i[columns.i_relative_e]
            or f[columns.f_alt_e + k] != f[columns.f_e]
        ):
            apart |= 1 << k
    i[columns.i_diverged] = apart


@part()
def odd(moved, other, along):
    """Whether a reading moves filament as no program would, where the other one does not."""
    far = abs(moved) > columns.LONGEST_PULL_MM >= abs(other)
    return far or (along and moved <= 0.0 < other)


@part()
def other_readings(value, delta, skip, along, f, i):
    """Let the readings that differ take an E word too; skip is a bit mask of those that do not.

    ``along`` tells whether the line has X or Y words.
    """
    for k in range(columns.N_ALT):
        moved = 0.0
        if not (skip >> k) & 1:
            if i[columns.i_alt_relative + k]:
                moved = value
                f[columns.f_alt_e + k] += value
            else:
                moved = value - f[columns.f_alt_e + k]
                f[columns.f_alt_e + k] = value
        if k == columns.ALT_G90 and moved != delta:
            i[columns.i_n_signs] += 1 if odd(delta, moved, along) else 0
            i[columns.i_n_counter_signs] += 1 if odd(moved, delta, along) else 0
        f[columns.f_alt_net + k] += moved - delta
        f[columns.f_alt_forward + k] += max(moved, 0.0) - max(delta, 0.0)
    compare_readings(f, i)


@part()
def take_e(value, modal, f, i):
    """Filament advance of an E word, mm; moves the E position in every reading."""
    if i[columns.i_relative_e]:
        delta = value
        f[columns.f_e] += value
    else:
        delta = value - f[columns.f_e]
        f[columns.f_e] = value
    skip = 0
    if modal:
        skip |= 1 << columns.ALT_MODAL
    if i[columns.i_has_alt]:
        skip |= 1 << columns.ALT_EXPONENT
    along = i[columns.i_mask] & ((1 << columns.X) | (1 << columns.Y)) != 0
    other_readings(value, delta, skip, along, f, i)
    return delta


@part()
def take_alt_word(f, i):
    """A line with an exponent, in the reading where its e is an E word."""
    k = columns.ALT_EXPONENT
    value = f[columns.f_alt_word] * f[columns.f_scale] * f[columns.f_per_e]
    if i[columns.i_alt_relative + k]:
        moved = value
        f[columns.f_alt_e + k] += value
    else:
        moved = value - f[columns.f_alt_e + k]
        f[columns.f_alt_e + k] = value
    f[columns.f_alt_net + k] += moved
    f[columns.f_alt_forward + k] += max(moved, 0.0)
    compare_readings(f, i)


@part()
def tally_filament(delta, flow, f):
    """Add a filament advance to the totals."""
    f[columns.f_net] += delta
    if delta > 0.0:
        f[columns.f_forward] += delta
    if flow != 1.0:
        f[columns.f_flow_net] += delta * (flow - 1.0)
        if delta > 0.0:
            f[columns.f_flow_forward] += delta * (flow - 1.0)


@part()
def refills(delta, f):
    """Whether a move along a path mostly pushes forward what was drawn back before it.

    A bead after a retraction settles the account, whatever is left of it.
    """
    drawn = f[columns.f_drawn]
    f[columns.f_drawn] = 0.0
    return drawn > columns.REFILL * delta and delta > 0.9 * drawn


@part()
def draw_back(delta, f):
    """Keep account of filament drawn back, and pushed forward again."""
    f[columns.f_drawn] = max(f[columns.f_drawn] - delta, 0.0)


@part()
def set_e_mode(relative, word, f, i):
    """M82, M83, and G90 or G91 in the readings where they rule E."""
    follow = i[columns.i_follow] == 1
    if word == columns.M82_OR_M83 or follow:
        i[columns.i_relative_e] = relative
    for k in range(columns.N_ALT):
        follows = follow != (k == columns.ALT_G90)
        if word == columns.M82_OR_M83 or follows:
            i[columns.i_alt_relative + k] = relative
    compare_readings(f, i)
