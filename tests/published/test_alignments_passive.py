"""Passive boxes: flat alignments, the worked system, impedance humps, tuning and added mass."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.support.cases import Case, load
from tests.support.normalised import AIR, FS, last_crossing, passband_level, passive
from tests.support.worked import PASSIVE, passive_box

from boxwright.acoustics.response import predict
from boxwright.acoustics.tuning import added_mass_for, passive_tuning
from boxwright.design import Chamber, Design, PassiveOpening, Source
from boxwright.parts import Driver, Passive


def gain(design: Design, frequency: np.ndarray) -> np.ndarray:
    return predict(design, frequency=frequency).level - passband_level(design)


@pytest.mark.parametrize("case", load("alignments_passive.toml"), ids=lambda c: c.name)
def test_reach_of_flat_alignments(case: Case) -> None:
    design = passive(**case.inputs)
    half_power = -10.0 * math.log10(2.0)
    reach = last_crossing(lambda f: gain(design, f), half_power, 0.2 * FS, 10.0 * FS)
    case.check(f3=reach / FS, fp=design.openings[0].passive.fp / FS)


def test_lossless_anchor_is_exact() -> None:
    # closed form: δ = 2, qts = 1/4, h = √3, α = 5 give |G|² = x⁴(x² − 1)²/(x⁴(x² − 1)² + 64)
    design = passive(qts=0.25, h=math.sqrt(3.0), alpha=5.0, delta=2.0)
    x = np.geomspace(0.3, 10.0, 120)
    numerator = x**4 * (x**2 - 1.0) ** 2
    found = 10.0 ** (gain(design, x * FS) / 10.0)
    np.testing.assert_allclose(found, numerator / (numerator + 64.0), rtol=1e-9)
    reach = last_crossing(lambda f: gain(design, f), -10.0 * math.log10(2.0), 0.2 * FS, 10.0 * FS)
    assert reach / FS == pytest.approx(math.sqrt((1.0 + math.sqrt(33.0)) / 2.0), rel=1e-9)


def test_no_sound_at_the_passives_own_resonance_without_losses() -> None:
    design = passive(qts=0.25, h=math.sqrt(3.0), alpha=5.0, delta=2.0)
    assert gain(design, np.array([FS]))[0] < -180.0


@pytest.mark.parametrize("case", load("passive_worked.toml"), ids=lambda c: c.name)
def test_worked_system(case: Case) -> None:
    design = passive_box()
    response = predict(design, frequency=np.array([case.inputs["frequency"]]))
    per_volt = 1e3 / math.sqrt(2.0)
    cone, radiator = response.driver_travel[0], response.openings[0].travel[0]
    case.check(
        gain_db=response.level[0] - passband_level(design),
        ratio=radiator * 0.0330 / (cone * 0.0214),
        driver_mm=cone * per_volt,
        passive_mm=radiator * per_volt,
        impedance=abs(response.impedance[0]),
    )


@pytest.mark.parametrize("case", load("passive_level.toml"), ids=lambda c: c.name)
def test_level_of_the_worked_system(case: Case) -> None:
    response = predict(passive_box(voltage=2.83), frequency=np.array([case.inputs["frequency"]]))
    case.check(level=response.level[0])


def humps(design: Design) -> tuple[float, float]:
    """Frequencies of the two impedance poles of a lossless box: where the motional admittance passes zero."""

    # A trace of loss, lest the impedance be infinite exactly at a hump.
    design = replace(design, driver=replace(design.driver, rms=1e-9))

    def motional(frequency: float) -> float:
        z = predict(design, frequency=np.array([frequency])).impedance[0]
        return (1.0 / (z - design.driver.re)).imag

    # It rises through both humps; between them, at the tuning, it falls from +∞ to −∞.
    grid = np.geomspace(0.1 * FS, 10.0 * FS, 500)
    values = np.array([motional(f) for f in grid])
    rising = np.nonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))[0]
    roots = [brentq(motional, grid[i], grid[i + 1], xtol=1e-12, rtol=1e-14) for i in rising]
    assert len(roots) == 2, roots
    return roots[0], roots[1]


def test_humps_of_the_worked_impedance() -> None:
    # invented driver; figures from the lossless relations, fl and fh printed to six decimals
    driver = Driver(re=5.6, bl=8.5, mms=0.032, cms=0.75e-3, rms=0.0, sd=0.0215)
    cap = 0.090 / AIR.bulk_modulus
    part = Passive(mmp=0.03**2 / ((2 * math.pi * 14.0) ** 2 * cap), cmp=cap / 0.03**2, rmp=0.0, sp=0.03)
    design = Design(
        air=AIR,
        source=Source(voltage=1.0),
        driver=driver,
        rear=Chamber(name="rear", volume=0.022),
        openings=(PassiveOpening(passive=part),),
    )
    assert passive_tuning(part, 0.022, 1, AIR) == pytest.approx(31.588260, abs=5e-7)
    low, high = humps(design)
    assert low == pytest.approx(19.389489, abs=5e-7)
    assert high == pytest.approx(63.445890, abs=5e-7)


@pytest.mark.parametrize(("alpha", "delta", "h"), [(5.0, 2.0, 1.7), (1.5, 8.0, 1.1), (3.0, 3.0, 0.9)])
def test_hump_relations(alpha: float, delta: float, h: float) -> None:
    # closed form: fl² + fh² = fs²(1 + α) + fb² and (fl·fh)² = fs²(fb² + α·fp²); the vented rule fl·fh =
    # fs·fb fails
    low, high = humps(passive(qts=0.4, h=h, alpha=alpha, delta=delta))
    fb, fp = h * FS, h * FS / math.sqrt(1.0 + delta)
    assert low**2 + high**2 == pytest.approx(FS**2 * (1.0 + alpha) + fb**2, rel=1e-9)
    assert (low * high) ** 2 == pytest.approx(FS**2 * (fb**2 + alpha * fp**2), rel=1e-9)


def test_added_mass_for_a_wanted_tuning() -> None:
    # worked system: 18 L, 110 g passive, 47.48368 Hz bare; 45.010604 g more tune it to 40 Hz (circuit
    # simulator: 40.0000003)
    assert passive_tuning(PASSIVE, 0.018, 1, AIR) == pytest.approx(47.48368, abs=5e-6)
    grams = 1e3 * added_mass_for(PASSIVE, 0.018, 1, AIR, 40.0)
    assert grams == pytest.approx(45.010604, abs=5e-7)
    assert passive_tuning(PASSIVE, 0.018, 1, AIR, added_mass=grams * 1e-3) == pytest.approx(40.0, rel=1e-12)
