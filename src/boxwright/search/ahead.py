"""The first search on a machine: its two halves are compiled at the same time, the layout in a second process.

What is compiled is kept on disk, so all of this happens once. Where a second process cannot be had, or does not finish,
the search compiles everything itself when it comes to it: slower, with the same result.
"""

from __future__ import annotations

import gc
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boxwright.errors import BoxwrightError
from boxwright.search.front import front_of
from boxwright.search.points import judge_points
from boxwright.search.realise import at_level, sketch
from boxwright.workshop.layout_kernel import settle

if TYPE_CHECKING:
    from boxwright.brief import Brief
    from boxwright.search.prepare import Prepared
    from boxwright.search.workers import Progress

__all__ = ["layout_compiling", "layout_is_cold", "rehearse"]

WORDS = "compiling, for the first search on this machine"
_PATIENCE = 120.0  # that the other process is given; it needs ten. [s]
_ASKED_EVERY = 0.1  # [s]
_COMMAND = ("-P", "-m", "boxwright.workshop.layout_rehearsal")


def layout_is_cold() -> bool:
    """Whether the layout has neither been compiled in this process nor been kept on disk by another."""
    if getattr(settle, "signatures", True):
        return False
    folder = getattr(getattr(settle, "stats", None), "cache_path", None)
    return folder is not None and not any(Path(folder).glob("layout_kernel.settle-*.nbi"))


def _second_process() -> subprocess.Popen[bytes] | None:
    if not sys.executable or getattr(sys, "frozen", False):
        return None
    try:
        return subprocess.Popen(  # noqa: S603 - this very interpreter
            [sys.executable, *_COMMAND],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    except OSError:
        return None


@contextmanager
def layout_compiling(progress: Progress | None = None) -> Iterator[bool]:
    """Have the layout compiled elsewhere while the body runs, and wait for it at the end.

    Parameters
    ----------
    progress : callable, optional
        Called while waiting; what it raises ends the wait, and the other process with it.

    Yields
    ------
    bool
        Whether that was needed and could be started.
    """
    other = _second_process() if layout_is_cold() else None
    if other is None:
        yield False
        return
    collecting = gc.isenabled()
    gc.disable()  # compiling makes much that lives long: looking through it again and again takes a tenth of the time
    try:
        if progress is not None:
            progress(WORDS, 0.0)
        yield True
        until = time.monotonic() + _PATIENCE
        while other.poll() is None and time.monotonic() < until:
            if progress is not None:
                progress(WORDS, 0.0)
            time.sleep(_ASKED_EVERY)
    finally:
        if collecting:
            gc.enable()
        other.kill()  # does nothing to one that has ended
        other.wait()


def rehearse(brief: Brief, prepared: Prepared) -> None:
    """Run all but the layout once, on a candidate of each task, so that it is compiled; what comes out is dropped."""
    for task in prepared.tasks:
        grid = task.grid
        point = np.array([[grid.inside[-1], grid.tuning[grid.tuning.size // 2], grid.share[0]]])
        pair = np.zeros(1, np.int64)
        rows, _ = judge_points(task, pair, point, full=True)
        front_of(np.ones((1, 6)), np.zeros((1, 2), np.int64))
        try:
            design, _, _ = sketch(brief, task, 0, rows[0], prepared.high_passes)
            with np.errstate(all="ignore"):
                at_level(brief, design)
        except (BoxwrightError, ArithmeticError):
            continue  # no candidate to build, but the next one will do
