"""Blocks of candidates: the grid over volume, share and tuning for ranges of drivers and openings, and single ones."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.search.candidate import COLUMNS, FITS, Scratch, judge
from boxwright.search.kernel import CLOSED, driver_rows
from boxwright.search.tables import Bounds, DriverTable, Grid, OpeningTable, Signal

__all__ = ["judge_each", "sweep_grid"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

_fast = njit(cache=True, nogil=True, error_model="numpy")
_WIDTH = len(COLUMNS)


@_fast
def _load(drivers: DriverTable, d: int, signal: Signal, work: Scratch) -> None:
    row = (
        drivers.re[d], drivers.mms[d], drivers.rms[d], drivers.cms[d], drivers.creep[d],
        drivers.le[d], drivers.k[d], drivers.n[d], drivers.l2[d], drivers.r2[d],
    )  # fmt: skip
    driver_rows(signal.w, row, work.electrical, work.mechanical)


@_fast
def sweep_grid(
    where: int,
    drivers: DriverTable,
    openings: OpeningTable,
    pairs: tuple[int, int],
    grid: Grid,
    signal: Signal,
    bounds: Bounds,
    work: Scratch,
    counts: Whole,
    rows: Real,
    keys: Whole,
) -> int:
    """Judge every grid point of a range of pairs and keep those that meet the brief.

    Parameters
    ----------
    where : int
        CLOSED, REAR or FRONT.
    pairs : tuple of int
        First and last + 1 of the pairs, counted driver by driver: pair = driver · openings + opening.
    counts : ndarray of int, shape (REASONS,)
        Added to: candidates by the first limit broken.
    rows : ndarray, shape (n, len(COLUMNS))
        Written: figures of those that fit.
    keys : ndarray of int, shape (n, 2)
        Written: pair, grid point.

    Returns
    -------
    int
        How many fit; more than n when the room was not enough.
    """
    found = 0
    row = np.empty(_WIDTH)
    offered = openings.number.size if where != CLOSED else 1
    nt = grid.tuning.size if where != CLOSED else 1
    ns = grid.share.size
    loaded = -1
    for pair in range(pairs[0], pairs[1]):
        d = pair // offered
        o = pair % offered
        if d != loaded:
            _load(drivers, d, signal, work)
            loaded = d
        for v in range(grid.inside.size):
            for s in range(ns):
                for t in range(nt):
                    outcome = judge(
                        where, False, drivers, d, openings, o, grid.inside[v], grid.tuning[t], grid.share[s],
                        grid.wood_weight[v], grid.wood_price[v], grid.room[v, o], signal, bounds, work, row,
                    )  # fmt: skip
                    counts[outcome] += 1
                    if outcome == FITS:
                        if found < rows.shape[0]:
                            rows[found] = row
                            keys[found, 0] = pair
                            keys[found, 1] = (v * ns + s) * nt + t
                        found += 1
    return found


@_fast
def judge_each(
    where: int,
    full: bool,
    drivers: DriverTable,
    openings: OpeningTable,
    which: Whole,
    points: Real,
    signal: Signal,
    bounds: Bounds,
    work: Scratch,
    rows: Real,
    outcomes: Whole,
) -> None:
    """Judge candidates that are named one by one.

    Parameters
    ----------
    where : int
        CLOSED, REAR or FRONT.
    full : bool
        Go on after the first broken limit, so that every shortfall is known.
    which : ndarray of int, shape (n, 2)
        Driver and opening row of each; sorted by driver for speed.
    points : ndarray, shape (n, 6)
        Inside volume, tuning, share, weight and price of the wood, longest vent. [m³, Hz, -, kg, currency, m]
    rows : ndarray, shape (n, len(COLUMNS))
        Written.
    outcomes : ndarray of int, shape (n,)
        Written: FITS or the first limit broken.
    """
    loaded = -1
    for i in range(which.shape[0]):
        if which[i, 0] != loaded:
            loaded = which[i, 0]
            _load(drivers, loaded, signal, work)
        outcomes[i] = judge(
            where, full, drivers, which[i, 0], openings, which[i, 1], points[i, 0], points[i, 1], points[i, 2],
            points[i, 3], points[i, 4], points[i, 5], signal, bounds, work, rows[i],
        )  # fmt: skip
