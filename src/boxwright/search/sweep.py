"""Blocks of candidates: the grid over volume, share and tuning for ranges of drivers and openings, and single ones."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.search.candidate import COLUMNS, FITS, REASONS, Scratch, judge, scratch
from boxwright.search.kernel import CLOSED, driver_rows
from boxwright.search.tables import Bounds, DriverRow, Grid, Signal, driver_row, opening_row

__all__ = ["judge_each", "sweep_grid"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
Whole = NDArray[np.int64]

_fast = njit(cache=True, nogil=True, error_model="numpy")
_WIDTH = len(COLUMNS)


@_fast
def _load(driver: DriverRow, w: Real, electrical: Complex, mechanical: Complex) -> None:
    row = (
        driver.re, driver.mms, driver.rms, driver.cms, driver.creep,
        driver.le, driver.k, driver.n, driver.l2, driver.r2,
    )  # fmt: skip
    driver_rows(w, row, electrical, mechanical)


@_fast
def _sweep(
    where: int,
    full: bool,
    drivers: Real,
    openings: Real,
    first: int,
    grid: Grid,
    which: Whole,
    points: Real,
    signal: Signal,
    bounds: Bounds,
    work: Scratch,
    counts: Whole,
    rows: Real,
    keys: Whole,
    total: int,
) -> int:
    # One loop for both uses: `judge` is compiled into it, because a call would cost more than most judgements.
    listed = which.shape[0] > 0
    vented = grid.room.shape[0] > 0
    offered = openings.shape[0] if where != CLOSED else 1
    nt = grid.tuning.size if where != CLOSED else 1
    ns = grid.share.size
    each = grid.inside.size * ns * nt
    row = np.empty(_WIDTH)
    driver = driver_row(drivers, first // offered)
    loaded = -1
    found = 0
    for i in range(total):
        if listed:
            d, o = which[i, 0], which[i, 1]
            inside, tuning, share = points[i, 0], points[i, 1], points[i, 2]
            wood_weight, wood_price, room = points[i, 3], points[i, 4], points[i, 5]
            pair, point = i, 0
        else:
            pair, point = first + i // each, i % each
            d, o = pair // offered, pair % offered
            v = point // (ns * nt)
            inside, tuning, share = grid.inside[v], grid.tuning[point % nt], grid.share[point // nt % ns]
            wood_weight, wood_price = grid.wood_weight[v], grid.wood_price[v]
            room = grid.room[v, d, o] if vented else np.inf
        if d != loaded:
            driver = driver_row(drivers, d)
            _load(driver, signal.w, work.electrical, work.mechanical)
            loaded = d
        outcome = judge(
            where, full, driver, opening_row(openings, o), inside, tuning, share, wood_weight, wood_price, room,
            signal, bounds, work, row,
        )  # fmt: skip
        counts[outcome] += 1
        if listed:
            keys[i, 0] = outcome
        elif outcome == FITS:
            keys[found, 0] = pair
            keys[found, 1] = point
        if listed or outcome == FITS:
            for column in range(_WIDTH):  # (assigning a whole row takes a second to compile)
                rows[i if listed else found, column] = row[column]
        found += outcome == FITS
    return found


_NONE = np.empty((0, 2), np.int64)


def sweep_grid(
    where: int,
    drivers: Real,
    openings: Real,
    pairs: tuple[int, int],
    grid: Grid,
    signal: Signal,
    bounds: Bounds,
    counts: Whole,
) -> tuple[Real, Whole]:
    """Judge every grid point of a range of pairs and keep those that meet the brief.

    Parameters
    ----------
    where : int
        CLOSED, REAR or FRONT.
    pairs : tuple of int
        First and last + 1 of the pairs, counted driver by driver: pair = driver · openings + opening.
    counts : ndarray of int, shape (REASONS,)
        Added to: candidates by the first limit broken.

    Returns
    -------
    rows : ndarray, shape (n, len(COLUMNS))
        Figures of those that fit. [SI]
    keys : ndarray of int, shape (n, 2)
        Pair and grid point of each.
    """
    tunings = grid.tuning.size if where != CLOSED else 1
    total = (pairs[1] - pairs[0]) * grid.inside.size * grid.share.size * tunings
    rows, keys = np.empty((total, _WIDTH)), np.empty((total, 2), np.int64)
    found = _sweep(
        where, False, drivers, openings, pairs[0], grid, _NONE, np.empty((0, 6)), signal, bounds,
        scratch(signal.w.size), counts, rows, keys, total,
    )  # fmt: skip
    return rows[:found], keys[:found]


def judge_each(
    where: int,
    drivers: Real,
    openings: Real,
    which: Whole,
    points: Real,
    grid: Grid,
    signal: Signal,
    bounds: Bounds,
    *,
    full: bool,
) -> tuple[Real, Whole]:
    """Judge candidates that are named one by one.

    Parameters
    ----------
    where : int
        CLOSED, REAR or FRONT.
    which : ndarray of int, shape (n, 2)
        Driver and opening row of each; sorted by driver for speed.
    points : ndarray, shape (n, 6)
        Inside volume, tuning, share, weight and price of the wood, longest vent. [m³, Hz, -, kg, currency, m]
    full : bool
        Go on after the first broken limit, so that every shortfall is known.

    Returns
    -------
    rows : ndarray, shape (n, len(COLUMNS))
        [SI]
    outcomes : ndarray of int, shape (n,)
        FITS or the first limit broken.
    """
    total = which.shape[0]
    rows, keys = np.zeros((total, _WIDTH)), np.zeros((total, 2), np.int64)
    if total:
        _sweep(
            where, full, drivers, openings, 0, grid, which, points, signal, bounds, scratch(signal.w.size),
            np.zeros(REASONS, np.int64), rows, keys, total,
        )  # fmt: skip
    return rows, keys[:, 0].copy()
