"""What all tests share: one place for imports of the helpers in tests/support, one hypothesis profile."""

from __future__ import annotations

import sys
from pathlib import Path

from hypothesis import HealthCheck, settings

# `from tests.support import ...` works from any file, whatever the working directory.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

# The first call of a compiled function takes seconds, so a deadline would fail by the weather; the same
# examples every time make a failure in CI a failure on the laptop.
settings.register_profile(
    "boxwright", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("boxwright")
