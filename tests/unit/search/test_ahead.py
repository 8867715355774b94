"""The second process that compiles the layout: it spares the first one the work, and nothing depends on it."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from boxwright.search import ahead

FIRST_TIME = """
from boxwright.search.ahead import layout_compiling, layout_is_cold
from boxwright.workshop.layout_kernel import settle
from boxwright.workshop.layout_rehearsal import rehearse
assert layout_is_cold()
with layout_compiling() as started:
    pass
assert not layout_is_cold()
rehearse()
print(started, sum(settle.stats.cache_hits.values()), sum(settle.stats.cache_misses.values()))
"""


class Started(subprocess.Popen):  # type: ignore[type-arg]
    """Remembers the last process."""

    last: Started

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        Started.last = self


def _cold(monkeypatch: pytest.MonkeyPatch, code: str) -> None:
    monkeypatch.setattr(ahead, "layout_is_cold", lambda: True)
    monkeypatch.setattr(ahead, "_COMMAND", ("-c", code))
    monkeypatch.setattr(subprocess, "Popen", Started)


def test_first_process_compiles_none_of_the_layout(tmp_path: Path) -> None:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", FIRST_TIME], env=environment, capture_output=True, text=True, check=False
    )
    assert done.stdout.split() == ["True", "1", "0"], done.stderr


def test_waits_until_the_other_has_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    _cold(monkeypatch, "import time; time.sleep(0.5)")
    heard: list[str] = []
    with ahead.layout_compiling(lambda words, _share: heard.append(words)) as started:
        assert started
    assert Started.last.returncode == 0
    assert len(heard) > 1


def test_failure_of_the_other_is_none_of_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    _cold(monkeypatch, "raise SystemExit(3)")
    with ahead.layout_compiling() as started:
        assert started
    assert Started.last.returncode == 3


def test_an_interrupt_ends_the_other_too(monkeypatch: pytest.MonkeyPatch) -> None:
    _cold(monkeypatch, "import time; time.sleep(600)")
    with pytest.raises(KeyboardInterrupt), ahead.layout_compiling():
        raise KeyboardInterrupt
    assert Started.last.returncode is not None
    assert gc.isenabled()


def test_patience_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    _cold(monkeypatch, "import time; time.sleep(600)")
    monkeypatch.setattr(ahead, "_PATIENCE", 0.3)
    with ahead.layout_compiling():
        pass
    assert Started.last.returncode is not None


def test_goes_on_where_no_process_may_be_started(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_arguments: Any, **_named: Any) -> None:
        raise PermissionError

    _cold(monkeypatch, "")
    monkeypatch.setattr(subprocess, "Popen", refuse)
    with ahead.layout_compiling() as started:
        assert not started


def test_no_process_when_all_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_arguments: Any, **_named: Any) -> None:
        raise AssertionError("started")

    monkeypatch.setattr(subprocess, "Popen", refuse)
    monkeypatch.setattr(ahead, "layout_is_cold", lambda: False)
    with ahead.layout_compiling() as started:
        assert not started
