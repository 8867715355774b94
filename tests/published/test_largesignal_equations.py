"""The state equations against scipy's DOP853 on the same physics written out a second time in plain numpy.

See tests/support/level.py: other states (flux, every chamber's filling), other means for curves, vents and leaks.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.level import Drive, drives, integrate, plain

from boxwright.design import VentOpening
from boxwright.largesignal.model import model_of
from boxwright.largesignal.transient import follow_voltage

DRIVES = drives(seed=31, each=3) | drives(seed=32, each=1, families=("coupled",))
CREEPING = {name: drive for name, drive in DRIVES.items() if name in ("closed 2", "passive 0")}
PERIODS, POINTS, STRIDE = 2, 2000, 50
# Losses of a slot are a formula here and a series there: within a quarter of a percent, see test_ducts.
WITH_VENTS, WITHOUT = 5e-5, 1e-6


def compare(drive: Drive, air: str) -> None:
    design = drive.design
    numbers = plain(design, adiabatic=air == "adiabatic")
    rate = POINTS * drive.frequency
    time = np.arange(PERIODS * POINTS + 1) / rate
    peak, omega = math.sqrt(2.0) * drive.voltage, 2.0 * math.pi * drive.frequency
    said = follow_voltage(model_of(design, air=air), peak * np.sin(omega * time), rate)  # type: ignore[arg-type]
    seen = time[::STRIDE]
    y = integrate(numbers, numbers.start(), lambda t: peak * math.sin(omega * t), seen, rtol=1e-9)
    wanted = {
        "travel": (said.travel, y[numbers.travel_at(0)]),
        "outside": (said.outside, np.array([numbers.outside(state) for state in y.T])),
        "current": (
            said.current,
            np.array(
                [numbers.current(s, peak * math.sin(omega * t)) for s, t in zip(y.T, seen, strict=True)]
            ),
        ),
    }
    for m, opening in enumerate(design.openings, start=1):
        at = numbers.speed_at(m) if isinstance(opening, VentOpening) else numbers.travel_at(m)
        wanted[f"opening {m}"] = (said.openings[m - 1], y[at])
    pressures = np.array([numbers.air(state)[0] for state in y.T])
    for k, name in enumerate(said.pressures):
        wanted[f"pressure in {name}"] = (said.pressures[name], pressures[:, k])
    vents = any(isinstance(o, VentOpening) for o in design.openings)
    for what, (ours, theirs) in wanted.items():
        off = float(np.max(np.abs(ours[::STRIDE] - theirs)) / np.ptp(theirs))
        assert off < (WITH_VENTS if vents else WITHOUT), (what, off)


@pytest.mark.parametrize("air", ["linear", "adiabatic"])
@pytest.mark.parametrize(("name", "drive"), DRIVES.items(), ids=list(DRIVES))
def test_from_rest_into_a_sine(name: str, drive: Drive, air: str) -> None:
    compare(drive, air)


@pytest.mark.parametrize(("name", "drive"), CREEPING.items(), ids=list(CREEPING))
def test_with_creep(name: str, drive: Drive) -> None:
    creeping = replace(drive.design, driver=replace(drive.design.driver, creep=0.12))
    compare(Drive(creeping, drive.frequency, drive.voltage), "linear")
