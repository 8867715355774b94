"""Vented boxes whose vent is a mass alone: Butterworth, quasi-Butterworth and Chebyshev alignments."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal
from tests.support.cases import Case, load
from tests.support.normalised import FS, highest, last_crossing, passband_level, vented

from boxwright.acoustics.response import predict
from boxwright.design import Design


def gain(design: Design, frequency: np.ndarray) -> np.ndarray:
    return predict(design, frequency=frequency).level - passband_level(design)


def reach(design: Design) -> float:
    """Frequency at which the response is 3.01 dB down, over fs."""
    return last_crossing(lambda f: gain(design, f), -10.0 * math.log10(2.0), 0.2 * FS, 10.0 * FS) / FS


def ripple(design: Design) -> float:
    """From the highest peak to the deepest trough beyond the first peak; 0 where there is no peak. [dB]."""
    grid = np.geomspace(0.3 * FS, 100.0 * FS, 2001)
    level = gain(design, grid)
    peaks = np.nonzero((level[1:-1] > level[:-2]) & (level[1:-1] >= level[2:]))[0] + 1
    if not peaks.size:
        return 0.0
    _, top = highest(lambda f: gain(design, f), 0.3 * FS, 100.0 * FS)
    _, trough = highest(lambda f: -gain(design, f), float(grid[peaks[0]]), 100.0 * FS)
    return top + trough


@pytest.mark.parametrize("case", load("alignments_vented.toml"), ids=lambda c: c.name)
def test_reach_and_ripple(case: Case) -> None:
    design = vented(**case.inputs)
    case.check(f3=reach(design), ripple_db=ripple(design))


@pytest.mark.parametrize("case", load("alignments_vented_table.toml"), ids=lambda c: c.name)
def test_remembered_table(case: Case) -> None:
    case.check(f3=reach(vented(**case.inputs)))


def test_lossless_butterworth_is_scipys() -> None:
    # closed form: qts = 1/√(4 + 2√2), α = √2, h = 1 make the fourth-order Butterworth high-pass
    design = vented(qts=1.0 / math.sqrt(4.0 + 2.0 * math.sqrt(2.0)), h=1.0, alpha=math.sqrt(2.0))
    frequency = np.geomspace(FS / 10.0, FS * 10.0, 200)
    b, a = signal.butter(4, 2.0 * math.pi * FS, btype="highpass", analog=True)
    _, response = signal.freqs(b, a, 2.0 * math.pi * frequency)
    found = 10.0 ** (gain(design, frequency) / 20.0)
    np.testing.assert_allclose(found, np.abs(response), rtol=1e-9)


def test_leaky_butterworth_is_scipys() -> None:
    # closed form with Q_L: qts = 1/(√(4 + 2√2) − 1/Q_L), α = √2 − 1/(Q_L·qts), h = 1
    ql = 7.0
    qts = 1.0 / (math.sqrt(4.0 + 2.0 * math.sqrt(2.0)) - 1.0 / ql)
    design = vented(qts=qts, h=1.0, alpha=math.sqrt(2.0) - 1.0 / (ql * qts), ql=ql)
    frequency = np.geomspace(FS / 10.0, FS * 10.0, 200)
    b, a = signal.butter(4, 2.0 * math.pi * FS, btype="highpass", analog=True)
    _, response = signal.freqs(b, a, 2.0 * math.pi * frequency)
    found = 10.0 ** (gain(design, frequency) / 20.0)
    np.testing.assert_allclose(found, np.abs(response), rtol=1e-9)


@pytest.mark.parametrize("case", load("vented_travel.toml"), ids=lambda c: c.name)
def test_travel_above_tuning(case: Case) -> None:
    design = vented(**case.inputs)
    part = design.driver
    still = math.sqrt(2.0) * part.bl / part.re * part.cms
    low = case.inputs["h"] * FS
    frequency, travel = highest(lambda f: predict(design, frequency=f).driver_travel / still, low, 20.0 * FS)
    answers = {"travel": travel}
    if "f_travel" in case.expected:
        answers["f_travel"] = frequency / FS
    if "volume_ratio" in case.expected:
        # greatest volume displacement of vent over greatest of driver, in the same range
        sp = design.openings[0].passive.sp
        _, vent = highest(lambda f: predict(design, frequency=f).openings[0].travel / still, low, 20.0 * FS)
        answers["volume_ratio"] = vent * sp / (travel * part.sd)
    case.check(**answers)


def test_vent_moves_ql_times_the_drivers_volume_at_tuning() -> None:
    # closed form: at fb the vent's and the box's admittances cancel, so only the leak is left beside the
    # driver
    design = vented(qts=0.40481425, h=1.0, alpha=1.06132, ql=7.0)
    response = predict(design, frequency=np.array([FS]))
    ratio = response.openings[0].travel[0] * design.openings[0].passive.sp
    ratio /= response.driver_travel[0] * design.driver.sd
    assert ratio == pytest.approx(7.0, rel=1e-9)
