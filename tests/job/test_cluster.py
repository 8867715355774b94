"""The same search on a Dask scheduler on loopback, one of its two workers killed midway."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from typing import Any

import distributed
import pytest
from tests.support.small_store import OFFER, brief, driver

from boxwright.errors import InputError
from boxwright.search import blocks, workers
from boxwright.search.families import PartsOffer
from boxwright.search.run import shortlist
from boxwright.search.shortlist import Shortlist

ASKED = brief(families=("closed", "vented", "passive", "bandpass"), cones=2, passives=4)
# Enough drivers for a dozen blocks.
PARTS = PartsOffer(
    drivers=(*OFFER.drivers, *(driver(f"Wren {n}", fs=22.0 + n, price=60.0 + n) for n in range(16))),
    passives=OFFER.passives,
    vents=OFFER.vents,
    sheets=OFFER.sheets,
)


@pytest.fixture(scope="module")
def local() -> Shortlist:
    """Searched here first, which also compiles for the workers."""
    return shortlist(ASKED, PARTS, workers=2)


@pytest.fixture
def cluster() -> Iterator[Any]:
    """Two worker processes."""
    with distributed.LocalCluster(
        n_workers=2, processes=True, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
    ) as made:
        yield made


def _plain(found: Shortlist) -> dict[str, object]:
    return {key: value for key, value in found.to_dict().items() if key != "seconds"}


def test_the_same_answer_to_the_last_bit_with_a_worker_killed_midway(
    local: Shortlist, cluster: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(blocks, "_LARGEST", 15_000)
    first, second = (nanny.pid for nanny in cluster.workers.values())
    assert first != second
    heard: list[float] = []

    def kill_one(_: str, share: float) -> None:
        heard.append(share)
        if len(heard) == 2:
            os.kill(first, signal.SIGKILL)

    found = shortlist(ASKED, PARTS, cluster=cluster.scheduler_address, progress=kill_one)
    assert len(heard) > 15
    assert first not in {nanny.pid for nanny in cluster.workers.values()}
    assert found.candidates == local.candidates
    assert _plain(found) == _plain(local)
    assert found.candidates


def test_an_interrupt_ends_the_search_there_too(cluster: Any) -> None:
    def interrupt(_: str, share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        shortlist(ASKED, PARTS, cluster=cluster.scheduler_address, progress=interrupt)
    clients = [name for name in cluster.scheduler.clients if name.startswith("Client-")]
    assert clients == []
    assert not any(task.state == "processing" for task in cluster.scheduler.tasks.values())


def test_nobody_at_the_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "_ANSWERS_WITHIN", 1)
    with pytest.raises(InputError, match=r"no Dask scheduler answers at tcp://127\.0\.0\.1:1;"):
        shortlist(ASKED, PARTS, cluster="tcp://127.0.0.1:1")
