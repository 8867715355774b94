from __future__ import annotations

import pytest

from boxwright.design import Chamber, Design
from boxwright.parts import Driver


@pytest.fixture
def minimal_design() -> Design:
    driver = Driver(re=3.4, bl=11.5, mms=0.062, cms=0.42e-3, rms=2.1, sd=0.0215)
    return Design(driver=driver, rear=Chamber(volume=0.018))
