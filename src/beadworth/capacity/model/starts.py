"""Where to start: the most likely curves from several first guesses, and how sharp each is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.curve import CurveModel
from beadworth.capacity.model.prepare import Group

Array = NDArray[np.float64]

GUESSES = ((0.0, 0.0), (1.1, -1.0), (-0.2, 1.2), (-1.5, 0.5))
"""Slope at the ceiling and drift below it, in prior standard deviations: from kink to soft."""
ROUNDS = 14
HELD = 2
"""The last unknowns (walk, scatter) stay at their prior's middle meanwhile."""
_FAR = 15.0
"""Modes whose sum of squares is higher by this are as good as impossible."""


@dataclass(frozen=True)
class Mode:
    """A most likely row and the normal distribution about it."""

    row: Array
    information: Array
    """Second derivatives of half the sum of squares, (size, size)."""
    sum_squares: float
    """Of the misfits and of the unknowns with a normal prior."""


def modes(model: CurveModel) -> tuple[Mode, ...]:
    """Different modes, the best first, four at most: batched Levenberg and Marquardt."""
    row, information, squares = _descend(model, _guesses(model))
    n = model.blocks
    found: list[Mode] = []
    for i in np.argsort(squares, kind="stable"):
        if squares[i] > squares.min() + _FAR or len(found) == 4:
            break
        apart = [np.abs(row[i] - mode.row) for mode in found]
        if all(a[:n].max() > 0.01 or a[n:].max() > 0.7 for a in apart):
            found.append(Mode(row[i], information[i], float(squares[i])))
    return tuple(found)


def likeliest(group: Group, model: CurveModel, mode: Mode, weight: Array) -> tuple[Array, Array]:
    """ln(g/mm) and loss per reading on the likeliest curve; nan at temperatures not fitted.

    ``weight``: of each reading in the fit, 0 where it did not enter.
    """
    fitted, lost = np.full(len(weight), np.nan), np.full(len(weight), np.nan)
    for i, block in enumerate(group.blocks(weight)):
        at = group.members(block.temperature_c)
        flows, place = np.unique(np.append(block.flow[0], group.flow[at]), return_inverse=True)
        h = model.loss_exponents(mode.row[None], i, flows)[0]
        h = h - h[place[0]]
        own = block.mean + h[np.searchsorted(flows, block.flow)]
        level = float(np.average(own, weights=block.weight))
        fitted[at] = (level - h)[place[1:]]
        lost[at] = -np.expm1(-h)[place[1:]]
    return fitted, lost


def _guesses(model: CurveModel) -> Array:
    """Ceilings where the weighings cross the stated loss, with several shapes."""
    n = model.blocks
    straight, late = np.empty(n), np.empty(n)
    for b in range(n):
        log_flow, y = model.cell[:2, model.first[b] : model.first[b + 1]]
        if model.shared.shape[1]:
            y = _falling(y, model.shared[model.first[b] : model.first[b + 1], : len(y)])
        lost = y[:2].mean() - y
        over = np.flatnonzero(lost > model.stated)
        over = over[over > 0]
        if not over.size:
            straight[b], late[b] = log_flow[-1] + 0.08, log_flow[-1] + 0.05
            continue
        k = over[0]
        share = (model.stated - lost[k - 1]) / max(lost[k] - lost[k - 1], 1e-6)
        gap = log_flow[k] - log_flow[k - 1]
        straight[b] = log_flow[k - 1] + np.clip(share, 0.1, 0.95) * gap
        late[b] = log_flow[k - 1] + 0.7 * gap
    rows = np.zeros((2 * len(GUESSES), model.size))
    for i, (slope, drift) in enumerate(GUESSES):
        for j, ceiling in enumerate((straight, late)):
            inside = np.clip(ceiling, model.limit[0] + 0.05, model.limit[1] - 0.05)
            rows[2 * i + j, :n] = inside
            rows[2 * i + j, n : n + 2] = slope, drift
    return rows


def _falling(y: Array, covariance: Array) -> Array:
    """The nearest values that never rise, where errors belong together: their own noise is more
    than a stated loss, and would be taken for one.
    """
    from scipy.linalg import solve_triangular
    from scipy.optimize import nnls

    n = len(y)
    columns = np.column_stack([np.ones(n), -np.tri(n)])  # the first fall is a level's sign
    root = np.linalg.cholesky(covariance)
    white = solve_triangular(root, np.column_stack([columns, y]), lower=True)
    found, _ = nnls(white[:, :-1], white[:, -1])
    return np.asarray(columns @ found)


def _descend(model: CurveModel, rows: Array) -> tuple[Array, Array, Array]:
    """All rows at once to their modes: rows, information, sums of squares."""
    n, count, size = model.blocks, len(rows), model.size
    free = size - HELD
    step = np.full(free, 1e-3)
    step[:n] = 2e-4
    nudges = np.zeros((free, size))
    nudges[np.arange(free), np.arange(free)] = step
    most = np.full(free, 1.5)
    most[:n] = 0.12
    damping = np.full(count, 0.1)
    misfit = model.residuals(rows)
    squares = (misfit**2).sum(axis=1)
    inner = np.zeros((count, free, free))
    for _ in range(ROUNDS):
        near = model.residuals((rows[:, None, :] + nudges).reshape(-1, size))
        slope = (near.reshape(count, free, -1) - misfit[:, None, :]) / step[:, None]
        inner = slope @ slope.transpose(0, 2, 1)
        gradient = (slope @ misfit[:, :, None])[..., 0]
        diagonal = np.einsum("sii->si", inner)
        damped = inner + (damping[:, None] * diagonal + 1e-9)[:, :, None] * np.eye(free)
        move = np.clip(-np.linalg.solve(damped, gradient[..., None])[..., 0], -most, most)
        new = rows.copy()
        new[:, :free] += move
        new[:, :n] = np.clip(new[:, :n], model.limit[0] + 0.01, model.limit[1] - 0.01)
        there = model.residuals(new)
        total = (there**2).sum(axis=1)
        better = total < squares
        rows = np.where(better[:, None], new, rows)
        misfit = np.where(better[:, None], there, misfit)
        squares = np.where(better, total, squares)
        damping = np.clip(np.where(better, damping / 4, damping * 4), 1e-6, 1e4)
    information = np.zeros((count, size, size))
    information[:, :free, :free] = inner
    information[:, range(free, size), range(free, size)] = 1.0
    return rows, information, squares
