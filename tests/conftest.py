"""What all tests share: one place for imports of the helpers in tests/support, one hypothesis profile."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# `from tests.support import ...` works from any file, whatever the working directory.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

# A run that was started in the background ignores the interrupt, and so would every program it starts: the tests that
# stop one would wait for ever.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# The first call of a compiled function takes seconds, so a deadline would fail by the weather; the same
# examples every time make a failure in CI a failure on the laptop.
settings.register_profile(
    "boxwright", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("boxwright")


def pytest_configure(config: pytest.Config) -> None:
    """Throw away compiled code older than what it was compiled from: Numba does not follow calls across files."""
    if hasattr(config, "workerinput"):
        return
    source = Path(__file__).resolve().parents[1] / "src" / "boxwright"
    compiled = [path for pattern in ("*.nbi", "*.nbc") for path in source.rglob(pattern)]
    sources = [path for path in source.rglob("*.py") if "njit" in path.read_text(encoding="utf-8")]
    newest = max((path.stat().st_mtime for path in sources), default=0.0)
    if compiled and min(path.stat().st_mtime for path in compiled) < newest:
        for path in compiled:
            path.unlink(missing_ok=True)
