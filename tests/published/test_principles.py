"""The small-signal model held against principles: no element gives energy, what goes in comes out, limits are met."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.strategies import designs

from boxwright.acoustics.loads import branches_of, chamber_losses, nodes_of, two_loads
from boxwright.acoustics.motion import solve
from boxwright.acoustics.network import nodal_pressures
from boxwright.acoustics.response import predict
from boxwright.acoustics.tuning import added_mass_for, passive_tuning, vent_length_for
from boxwright.air import Air
from boxwright.compound import equivalent_driver
from boxwright.design import Chamber, Design, PassiveOpening, Source, VentOpening
from boxwright.errors import BoxwrightError
from boxwright.parts import Coil, Driver, Passive

AIR = Air(density=1.2, speed_of_sound=343.0)
DRIVER = Driver(
    re=3.6,
    bl=11.0,
    mms=0.060,
    cms=0.55e-3,
    rms=2.0,
    sd=0.0214,
    xmax=0.010,
    coil=Coil(le=1.0e-3, l2=0.6e-3, r2=4.0),
)
PASSIVE = Passive(mmp=0.110, cmp=0.80e-3, rmp=1.6, sp=0.0330, xmax=0.015)
FREQUENCY = np.geomspace(8.0, 250.0, 60)


def _box(**changes: object) -> Design:
    plain = Design(air=AIR, driver=DRIVER, rear=Chamber(volume=0.018), source=Source(voltage=1.0))
    return replace(plain, **changes)  # type: ignore[arg-type]


@settings(max_examples=60)
@given(design=designs())
def test_no_box_gives_energy(design: Design) -> None:
    """Passivity: the real part of the impedance of what has no source of its own is never negative."""
    try:
        impedance = predict(design, frequency=FREQUENCY).impedance
    except BoxwrightError:
        return
    assert (impedance.real >= -1e-9 * np.abs(impedance)).all()


@settings(max_examples=60)
@given(design=designs())
def test_figures_are_numbers(design: Design) -> None:
    try:
        found = predict(design, frequency=FREQUENCY)
    except BoxwrightError:
        return
    for curve in (
        found.level,
        found.phase,
        found.group_delay,
        found.driver_travel,
        found.impedance,
        found.clean_level,
    ):
        assert not np.isnan(curve).any()


@given(
    count=st.integers(1, 3), ql=st.floats(3.0, 50.0), added=st.floats(0.0, 0.2), volume=st.floats(0.008, 0.08)
)
def test_what_goes_in_is_lost_in_the_losses(count: int, ql: float, added: float, volume: float) -> None:
    """Energy balance: electrical power in = heat in coil, suspensions and leak; nothing else of this box dissipates."""
    opening = PassiveOpening(passive=PASSIVE, count=count, added_mass=added)
    design = _box(rear=Chamber(volume=volume, q_leak=ql), openings=(opening,))
    motion = solve(design, DRIVER, FREQUENCY)
    w = 2.0 * np.pi * FREQUENCY
    current2 = np.abs(motion.current) ** 2
    pair = 1j * w * DRIVER.coil.l2
    coil = (DRIVER.coil.r2 * pair / (DRIVER.coil.r2 + pair)).real
    leak = chamber_losses(design, replace(design.rear, name="rear"), DRIVER)[1]  # type: ignore[type-var]
    lost = (
        (DRIVER.re + coil) * current2
        + DRIVER.rms * np.abs(motion.velocity) ** 2
        + count * PASSIVE.rmp * np.abs(motion.outer[0] / (count * PASSIVE.sp)) ** 2
        + leak * np.abs(motion.pressures["rear"]) ** 2
    )
    np.testing.assert_allclose(motion.impedance.real * current2, lost, rtol=1e-9)


@settings(max_examples=40)
@given(design=designs())
def test_the_nodal_solve_is_the_two_loads(design: Design) -> None:
    """Where no opening joins two chambers both forms are the same network (1e-10)."""
    if (
        any(o.to != "outside" for o in design.openings)
        or design.chambers
        or (design.rear or design.front) is None
    ):
        return
    driver = equivalent_driver(design.driver, design.arrangement)
    w = 2.0 * np.pi * FREQUENCY
    try:
        nodes, branches = nodes_of(design, driver, w), branches_of(design, w)
    except BoxwrightError:
        return
    loads, nodal = two_loads(nodes, branches, driver.sd), nodal_pressures(nodes, branches, driver.sd)
    for name, pressure in loads.items():
        np.testing.assert_allclose(nodal[name], pressure, rtol=1e-10)


def test_reciprocity_of_coupled_chambers() -> None:
    """The transfer from the rear to the front chamber is that from the front to the rear: one impedance matrix."""
    design = _box(
        front=Chamber(volume=0.012),
        openings=(
            VentOpening(chamber="rear", to="front", diameter=0.06, length=0.10),
            VentOpening(chamber="front", diameter=0.08, length=0.15),
        ),
    )
    w = 2.0 * np.pi * FREQUENCY
    nodes, branches = nodes_of(design, DRIVER, w), branches_of(design, w)
    both = nodal_pressures(nodes, branches, 1.0)
    # with the cone's two flows driven one by one: p = Z·U, and Z must be symmetric
    y = np.zeros((w.size, 2, 2), complex)
    for k, node in enumerate(nodes):
        y[:, k, k] = node.air + node.leak
    inner, outer = branches
    y[:, 0, 0] += inner.y11
    y[:, 1, 1] += inner.y22 + outer.y11
    y[:, 0, 1] = y[:, 1, 0] = -inner.y21
    z = np.linalg.inv(y)
    np.testing.assert_allclose(z[:, 0, 1], z[:, 1, 0], rtol=1e-12)
    np.testing.assert_allclose(both["rear"], -z[:, 0, 0] + z[:, 0, 1], rtol=1e-9)
    np.testing.assert_allclose(both["front"], -z[:, 1, 0] + z[:, 1, 1], rtol=1e-9)


def test_a_limp_passive_is_a_vent() -> None:
    """A passive without suspension or loss has the mass ρ·l/S of a short vent (Helmholtz), closed form."""
    area, length, volume = 0.005, 0.20, 0.040
    mass = AIR.density * length * area  # moving mass of the air in the vent
    limp = Passive(mmp=mass, cmp=1e9, rmp=1e-15, sp=area)
    found = predict(
        _box(rear=Chamber(volume=volume), openings=(PassiveOpening(passive=limp),)), frequency=FREQUENCY
    )
    helmholtz = AIR.speed_of_sound / (2.0 * math.pi) * math.sqrt(area / (volume * length))
    assert found.tuning == pytest.approx(helmholtz, rel=1e-9)


def test_a_vent_that_closes_is_a_closed_box() -> None:
    closed = predict(_box(), frequency=FREQUENCY)
    narrow = predict(_box(openings=(VentOpening(diameter=2e-4, length=1.0),)), frequency=FREQUENCY)
    np.testing.assert_allclose(narrow.level, closed.level, atol=1e-3)
    wide = predict(_box(openings=(VentOpening(diameter=0.05, length=0.2),)), frequency=FREQUENCY)
    assert np.abs(wide.level - closed.level).max() > 3.0


def test_a_very_heavy_passive_is_a_wall() -> None:
    closed = predict(_box(), frequency=FREQUENCY)
    heavy = predict(
        _box(openings=(PassiveOpening(passive=replace(PASSIVE, rmp=1e-9), added_mass=1e6),)),
        frequency=FREQUENCY,
    )
    np.testing.assert_allclose(heavy.level, closed.level, atol=1e-3)


@given(
    volume=st.floats(0.005, 0.2),
    added=st.floats(0.0, 0.5),
    more=st.floats(0.001, 0.5),
    count=st.integers(1, 4),
)
def test_more_mass_tunes_lower(volume: float, added: float, more: float, count: int) -> None:
    """Common practice, no source."""
    light = passive_tuning(PASSIVE, volume, count, AIR, added_mass=added)
    assert passive_tuning(PASSIVE, volume, count, AIR, added_mass=added + more) < light


@given(volume=st.floats(0.005, 0.2), less=st.floats(0.5, 0.95), tuning=st.floats(20.0, 60.0))
def test_a_smaller_box_or_a_larger_opening_needs_more(volume: float, less: float, tuning: float) -> None:
    """Common practice, no source: for the same tuning a longer port, or more mass on the passives."""
    length = vent_length_for(0.005, 0.05, volume, 1, AIR, tuning)
    assert vent_length_for(0.005, 0.05, less * volume, 1, AIR, tuning) > length
    assert vent_length_for(0.005 / less, 0.05, volume, 1, AIR, tuning) > length
    grams = added_mass_for(PASSIVE, volume, 1, AIR, tuning)
    assert added_mass_for(PASSIVE, less * volume, 1, AIR, tuning) > grams
    assert added_mass_for(PASSIVE, volume, 2, AIR, tuning) > grams
