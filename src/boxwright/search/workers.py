"""Who does the blocks: threads of this machine, or a Dask scheduler's workers."""

from __future__ import annotations

import os
import pickle
import re
import socket
import zlib
from collections.abc import Callable, Generator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import closing
from typing import Any

import numpy as np

from boxwright.errors import CannotSolve, InputError
from boxwright.search.blocks import Block, BlockResult, Task, blocks_of, objectives_of, run_block
from boxwright.search.front import front_of

__all__ = ["Progress", "run_all"]

Progress = Callable[[str, float], None]

_ADDRESS = re.compile(r"(?:(?:tcp|tls)://)?(\[[0-9a-fA-F:.%]+\]|[^\s:/\[\]]+):(\d{1,5})")
_MERGE_EVERY = 24
_RETRIES = 3
_ANSWERS_WITHIN = 10  # a scheduler that is there. [s]


class _Merged:
    """Results of one task so far. The front of fronts is the front of all, so they may come in any order."""

    def __init__(self) -> None:
        self.parts: list[BlockResult] = []

    def add(self, result: BlockResult) -> None:
        self.parts.append(result)
        if len(self.parts) >= _MERGE_EVERY:
            self.parts = [self.whole()]

    def whole(self) -> BlockResult:
        counts = np.sum([p.counts for p in self.parts], axis=0)
        rows = np.concatenate([p.rows for p in self.parts])
        keys = np.concatenate([p.keys for p in self.parts])
        front = front_of(objectives_of(rows), keys)
        return BlockResult(counts=counts, rows=rows[front], keys=keys[front])


def _by_threads(
    tasks: tuple[Task, ...], blocks: list[Block], workers: int
) -> Generator[tuple[Block, BlockResult]]:
    with ThreadPoolExecutor(workers, thread_name_prefix="boxwright") as pool:
        waiting: dict[Future[BlockResult], Block] = {}
        queue = iter(blocks)
        try:
            for block in queue:
                waiting[pool.submit(run_block, tasks[block.task], block.first, block.last)] = block
                if len(waiting) >= 2 * workers:
                    yield from _collect(waiting)
            while waiting:
                yield from _collect(waiting)
        finally:
            for future in waiting:
                future.cancel()


def _collect(waiting: dict[Future[BlockResult], Block]) -> Generator[tuple[Block, BlockResult]]:
    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
    for future in done:
        yield waiting.pop(future), future.result()


def _unpacked(data: bytes) -> Task:
    task = pickle.loads(zlib.decompress(data))  # noqa: S301 - packed by `_by_cluster`
    assert isinstance(task, Task)  # noqa: S101 - internal
    return task


def _require_listener(address: str) -> None:
    """Find out that nobody is there before a client is made: a failed one leaves threads behind."""
    parts = _ADDRESS.fullmatch(address.strip())
    if parts is None or not 0 < int(parts[2]) < 65536:
        raise InputError(
            f'cluster must be the address of a scheduler, got "{address[:100]}"',
            mend="write it like tcp://host:8786",
        )
    try:
        socket.create_connection((parts[1].strip("[]"), int(parts[2])), timeout=_ANSWERS_WITHIN).close()
    except (OSError, ValueError) as error:
        raise _unanswered(address) from error


def _unanswered(address: str) -> InputError:
    return InputError(f"no Dask scheduler answers at {address}", mend="start one with: dask scheduler")


def _by_cluster(
    tasks: tuple[Task, ...], blocks: list[Block], address: str
) -> Generator[tuple[Block, BlockResult]]:
    try:
        import distributed
    except ImportError as error:
        raise InputError(
            "a cluster needs the extra `cluster`", mend="install it with: pip install 'boxwright[cluster]'"
        ) from error
    dask: Any = distributed
    _require_listener(address)
    try:
        client = dask.Client(address, timeout=_ANSWERS_WITHIN)
    except (OSError, ValueError, TimeoutError) as error:
        raise _unanswered(address) from error
    with client:
        # What every block needs travels as a computation, not as data: whoever dies, it can be made again.
        packed = [zlib.compress(pickle.dumps(task, pickle.HIGHEST_PROTOCOL), 1) for task in tasks]
        shared = [client.submit(_unpacked, data, pure=False, retries=_RETRIES) for data in packed]
        futures = {
            client.submit(run_block, shared[b.task], b.first, b.last, pure=False, retries=_RETRIES): b
            for b in blocks
        }
        try:
            for future in dask.as_completed(list(futures)):
                try:
                    result = future.result()
                except Exception as error:
                    raise CannotSolve(f"a block failed on the cluster: {error}") from error
                yield futures.pop(future), result
                future.release()
        finally:
            client.cancel(list(futures))


def run_all(
    tasks: tuple[Task, ...],
    *,
    progress: Progress | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    span: tuple[float, float] = (0.0, 1.0),
) -> list[BlockResult | None]:
    """Judge every block of every task and merge what they found.

    Parameters
    ----------
    progress : callable, optional
        Called with words and the share done; what it raises ends the search.
    workers : int, optional
        Threads; by default one a core.
    cluster : str, optional
        Address of a Dask scheduler.
    span : tuple of float
        Share of the whole job before and after this.

    Returns
    -------
    list of BlockResult or None
        One a task; None for a task without candidates.
    """
    blocks = list(blocks_of(tasks))
    total = max(sum(t.candidates for t in tasks), 1)
    merged = [_Merged() for _ in tasks]
    done = 0
    count = workers if workers is not None else os.cpu_count() or 1
    if not isinstance(count, int) or count < 1:
        raise InputError(f"workers must be at least 1, got {ascii(count)[:40]}")
    found = _by_cluster(tasks, blocks, cluster) if cluster else _by_threads(tasks, blocks, count)
    # closed at once when the caller ends the search, not when its traceback is thrown away
    with closing(found) as results:
        for block, result in results:
            merged[block.task].add(result)
            done += (block.last - block.first) * tasks[block.task].points
            if progress is not None:
                progress(
                    f"{done:,} of {total:,} boxes tried".replace(",", "\u202f"),
                    span[0] + (span[1] - span[0]) * done / total,
                )
    return [m.whole() if m.parts else None for m in merged]
