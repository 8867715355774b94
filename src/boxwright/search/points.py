"""Candidates that are named one by one: the finer points around a front, and the survey for the comparison."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boxwright.search.blocks import Task
from boxwright.search.rooms import between
from boxwright.search.sweep import judge_each

__all__ = ["judge_points"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]


def _room_at(task: Task, inside: Real, which: Whole) -> Real:
    """Longest vent for each candidate. [m]."""
    if not task.grid.room.size:
        return np.full(inside.size, np.inf)
    above, part = between(task.grid.inside, inside)
    o = which[:, 1] if task.openings else np.zeros(which.shape[0], np.int64)
    rooms = task.grid.room
    low, high = rooms[above - 1, which[:, 0], o], rooms[above, which[:, 0], o]
    return np.asarray(low + part * (high - low))


def judge_points(task: Task, pairs: Whole, points: Real, *, full: bool) -> tuple[Real, Whole]:
    """Figures and outcomes of candidates named by pair and (inside, tuning, share).

    Returns
    -------
    rows : ndarray, shape (n, len(COLUMNS))
    outcomes : ndarray of int, shape (n,)
    """
    which = np.stack((pairs // task.offered, pairs % task.offered), axis=1)
    order = np.argsort(which[:, 0], kind="stable")
    weight, price = task.geometry.wood(points[:, 0])
    room = _room_at(task, points[:, 0], which)
    full_points = np.column_stack((points, weight, price, room))[order]
    sorted_rows, sorted_outcomes = judge_each(
        task.family.where, task.driver_table, task.opening_table, np.ascontiguousarray(which[order]),
        np.ascontiguousarray(full_points), task.grid, task.signal, task.bounds, full=full,
    )  # fmt: skip
    rows, outcomes = np.empty_like(sorted_rows), np.empty_like(sorted_outcomes)
    rows[order], outcomes[order] = sorted_rows, sorted_outcomes
    return rows, outcomes
