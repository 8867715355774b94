"""The unit of work: a pure function over a block of candidates.

A block knows nothing of its neighbours and returns the same numbers wherever it runs, so the result of a search does
not depend on how many threads or machines shared it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boxwright.search.candidate import BUDGET, COLUMNS, FITS, REASONS, WEIGHT
from boxwright.search.families import DriverChoice, Family, OpeningChoice
from boxwright.search.front import front_of
from boxwright.search.geometry import Geometry, Pieces
from boxwright.search.kernel import CLOSED
from boxwright.search.partition import Partition
from boxwright.search.rooms import Rooms
from boxwright.search.sweep import sweep_grid
from boxwright.search.tables import Bounds, Grid, Signal

__all__ = [
    "LAYOUT",
    "Block",
    "BlockResult",
    "Task",
    "blocks_of",
    "boxes_with_room",
    "objectives_of",
    "place",
    "run_block",
]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

LAYOUT = REASONS  # counted after the kernel's own reasons
_LARGEST = 120_000  # candidates a block

_CLEAN2, _PRICE, _WEIGHT, _SHARE, _AMOUNT = (
    COLUMNS.index(c) for c in ("clean2", "price", "weight", "share", "amount")
)
_OBJECTIVE_COLUMNS = [COLUMNS.index(c) for c in ("inside", "reach", "clean2", "price", "weight", "delay")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Everything that the blocks of one family share."""

    family: Family
    drivers: tuple[DriverChoice, ...]
    openings: tuple[OpeningChoice, ...]
    driver_table: Real
    opening_table: Real
    grid: Grid
    signal: Signal
    bounds: Bounds
    geometry: Geometry
    pieces: Pieces
    partition: Partition | None = None
    rooms: Rooms | None = None

    @property
    def offered(self) -> int:
        """Openings that each driver is combined with; 1 for a closed box."""
        return 1 if self.family.where == CLOSED else len(self.openings)

    @property
    def points(self) -> int:
        """Grid points of each pair."""
        tunings = 1 if self.family.where == CLOSED else self.grid.tuning.size
        return self.grid.inside.size * self.grid.share.size * tunings

    @property
    def candidates(self) -> int:
        """How many candidates the task holds."""
        return len(self.drivers) * self.offered * self.points


@dataclass(frozen=True, slots=True)
class Block:
    """A range of pairs of one task."""

    task: int
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockResult:
    """What a block found.

    Attributes
    ----------
    counts : ndarray of int, shape (REASONS + 1,)
        Candidates by the first limit broken; the last is the layout.
    rows : ndarray, shape (n, len(COLUMNS))
        The front of the block. [SI]
    keys : ndarray of int, shape (n, 2)
        Pair and grid point of each.
    """

    counts: Whole
    rows: Real
    keys: Whole


def objectives_of(rows: Real) -> Real:
    """Size, reach, clean level, price, weight and delay of rows of figures, shape (n, 6)."""
    picked = rows[:, _OBJECTIVE_COLUMNS].copy()
    # where no limit is stated the level has none either; 300 dB stand for that
    picked[:, 2] = 10.0 * np.log10(np.clip(rows[:, _CLEAN2], 1e-30, 1e30))
    return picked


def boxes_with_room(task: Task, pairs: Whole, rows: Real) -> tuple[NDArray[np.bool_], Real]:
    """Boxes whose vents run and whose partition carries the drivers, and what their bends cost, shape (axes, n)."""
    driver, opening = pairs // task.offered, pairs % task.offered
    boxes = np.ones((len(task.geometry.axes), pairs.size), bool)
    bends = np.zeros(boxes.shape)
    if task.partition is not None:
        boxes &= task.partition.takes(driver, rows[:, 0], rows[:, _SHARE])
    if task.rooms is not None:
        roomy, bends = task.rooms.take(driver, opening, rows[:, 0], rows[:, _AMOUNT])
        boxes &= roomy
    return boxes, bends


def place(task: Task, pairs: Whole, rows: Real) -> Whole:
    """Which limit each candidate breaks once its parts have to find places, shape (n,); FITS: none.

    The kernel counts the wood of the leanest box; where the parts need another one, ``rows`` get its weight and price.

    Parameters
    ----------
    pairs : ndarray of int, shape (n,)
    rows : ndarray, shape (n, len(COLUMNS))
        Changed in place.
    """
    if not pairs.size:
        return np.empty(0, np.int64)
    boxes, bends = boxes_with_room(task, pairs, rows)
    takes, weight, price = task.geometry.extra_wood(task.pieces, pairs, rows[:, 0], boxes, bends)
    rows[:, _WEIGHT] += np.where(takes, weight, 0.0)
    rows[:, _PRICE] += np.where(takes, price, 0.0)
    reasons = np.where(rows[:, _WEIGHT] > task.bounds.weight, WEIGHT, FITS)
    reasons = np.where(rows[:, _PRICE] > task.bounds.budget, BUDGET, reasons)
    return np.where(takes, reasons, LAYOUT)


def blocks_of(tasks: tuple[Task, ...]) -> Iterator[Block]:
    """All blocks of all tasks; their borders depend on the tasks alone."""
    for number, task in enumerate(tasks):
        pairs = len(task.drivers) * task.offered
        size = max(1, _LARGEST // max(task.points, 1))
        for first in range(0, pairs, size):
            yield Block(number, first, min(first + size, pairs))


def run_block(task: Task, first: int, last: int) -> BlockResult:
    """Judge one block: the kernel's limits first, then whether the parts can be laid out; keep its front.

    Parameters
    ----------
    first, last : int
        Range of pairs.
    """
    counts = np.zeros(REASONS + 1, np.int64)
    rows, keys = sweep_grid(
        task.family.where, task.driver_table, task.opening_table, (first, last), task.grid, task.signal, task.bounds,
        counts[:REASONS],
    )  # fmt: skip
    if keys.size:
        reasons = place(task, keys[:, 0], rows)
        counts[FITS] -= rows.shape[0]
        counts += np.bincount(reasons, minlength=counts.size)
        rows, keys = rows[reasons == FITS], keys[reasons == FITS]
    front = front_of(objectives_of(rows), keys)
    return BlockResult(counts=counts, rows=rows[front].copy(), keys=keys[front].copy())
