"""Motion in time against ngspice: bl, stiffness, inductance and vent losses as behavioural sources."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from tests.support.level import Drive, drives
from tests.support.transient import Followed, follow

from boxwright.design import VentOpening
from boxwright.largesignal.model import model_of
from boxwright.largesignal.transient import follow_voltage

DRIVES = drives(seed=77, each=6)
PERIODS, POINTS = 3, 600
CLOSE = 5e-4


@pytest.fixture(scope="module")
def answers() -> dict[str, Followed]:
    return dict(zip(DRIVES, follow(list(DRIVES.values()), periods=PERIODS, points=POINTS), strict=True))


def test_there_are_enough() -> None:
    assert len(DRIVES) >= 20


@pytest.mark.parametrize(("name", "drive"), DRIVES.items(), ids=list(DRIVES))
def test_from_rest_into_a_sine(name: str, drive: Drive, answers: dict[str, Followed]) -> None:
    theirs = answers[name]
    rate = 400.0 * drive.frequency
    time = np.arange(400 * PERIODS + 1) / rate
    volts = math.sqrt(2.0) * drive.voltage * np.sin(2.0 * math.pi * drive.frequency * time)
    ours = follow_voltage(model_of(drive.design), volts, rate)
    pairs = {"travel": (ours.travel, theirs.travel[0]), "current": (ours.current, theirs.current)}
    for m, opening in enumerate(drive.design.openings, start=1):
        there = theirs.speed[m] if isinstance(opening, VentOpening) else theirs.travel[m]
        pairs[f"opening {m}"] = (ours.openings[m - 1], there)
    for k, pressure in enumerate(ours.pressures.values()):
        pairs[f"pressure {k}"] = (pressure, theirs.pressure[k])
    for what, (here, there) in pairs.items():
        off = np.max(np.abs(CubicSpline(time, here)(theirs.time) - there)) / np.ptp(there)
        assert off < CLOSE, (what, off)
