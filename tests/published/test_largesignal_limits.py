"""Default curves from xmax, and the distortion that the standard's limits of travel stand for."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.support.cases import load

from boxwright.air import Air
from boxwright.design import Design, PassiveOpening
from boxwright.largesignal.curves import curves_for
from boxwright.largesignal.model import model_of
from boxwright.largesignal.steady import steady
from boxwright.parts import Curve, Curves, Driver, Passive

CASES = {case.name: case for case in load("largesignal_limits.toml")}
XMAX, MASS, FS = 0.011, 0.05, 30.0
AIR = Air(density=1.2, speed_of_sound=343.0)


def cone(qts: float, curves: Curves, xmax: float | None = XMAX) -> Driver:
    """Damped by its motor alone."""
    w = 2.0 * math.pi * FS
    return Driver(
        re=5.0, bl=math.sqrt(w * MASS * 5.0 / qts), mms=MASS, cms=1.0 / (w * w * MASS), rms=1e-9, sd=0.02,
        xmax=xmax, curves=curves,
    )  # fmt: skip


def distortion(qts: float, q: float) -> float:
    """Of acceleration, which is that of pressure, the cone's peak just at XMAX; stiffness 1 + q·(x/XMAX)². [-]."""
    curves = Curves(bl=Curve(polynomial=(1.0,)), kms=Curve(polynomial=(1.0, 0.0, q / XMAX**2)))
    model = model_of(Design(air=AIR, driver=cone(qts, curves)))
    voltage = brentq(lambda u: steady(model, FS, u).driver_travel.highest - XMAX, 0.05, 100.0, rtol=1e-6)
    harmonics = steady(model, FS, voltage).driver_travel.harmonics * np.arange(8) ** 2
    return float(np.sqrt(np.sum(harmonics[2:] ** 2)) / harmonics[1])


@pytest.mark.parametrize("name", ["compliance down to 75 %", "compliance down to 50 %"])
def test_distortion_at_the_limit(name: str) -> None:
    case = CASES[name]
    q = 1.0 / case.inputs["left"] - 1.0
    answers = {f"thd_{k}": 100.0 * distortion(qts, q) for k, qts in enumerate(case.inputs["qts"])}
    case.check(**answers)


def test_weak_bend() -> None:
    """First order in the bend: a third harmonic of q/4 in the force, answered by |1 − 9 + 3j/Qts|, times nine."""
    q, qts = 0.01, 0.7
    assert distortion(qts, q) == pytest.approx(9.0 * q / 4.0 / abs(-8.0 + 3.0j / qts), rel=0.01)


def test_default_curves_are_the_standards_limits() -> None:
    """IEC 62458: bl down to 82 % and compliance down to 75 % at xmax."""
    passive = Passive(mmp=0.1, cmp=1e-3, rmp=1.0, sp=0.03, xmax=0.02)
    design = Design(air=AIR, driver=cone(0.5, Curves()), openings=(PassiveOpening(passive=passive),))
    found = curves_for(design)
    assert found.bl is not None
    assert found.kms is not None
    for x in (-XMAX, XMAX):
        assert found.bl(x)[0] == pytest.approx(0.82, rel=1e-12)
        assert found.kms(x)[0] == pytest.approx(1.0 / 0.75, rel=1e-12)
    (kmp,) = found.kmp
    assert kmp is not None
    assert kmp(0.02)[0] == pytest.approx(1.0 / 0.75, rel=1e-12)
    words = " / ".join(found.announced)
    assert all(word in words for word in ("driver bl", "driver kms", "passive kmp", "default"))


def test_intermodulation_of_the_default_bl() -> None:
    """bl over one period of a travel of ±xmax: its second order over its mean."""
    curve = curves_for(Design(air=AIR, driver=cone(0.5, Curves()))).bl
    assert curve is not None
    spectrum = np.fft.rfft([curve(XMAX * math.cos(2.0 * math.pi * k / 64))[0] for k in range(64)])
    CASES["bl down to 82 %"].check(imd=100.0 * 2.0 * abs(spectrum[2]) / abs(spectrum[0]))


def test_no_xmax_is_announced() -> None:
    found = curves_for(Design(air=AIR, driver=cone(0.5, Curves(), xmax=None)))
    assert found.bl is None
    assert any("no xmax" in words for words in found.announced)
