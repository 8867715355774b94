"""From flow to pressure: open spaces, rooms and tables against closed forms and sums made otherwise."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.cases import Case, load

from boxwright.acoustics import placement, room
from boxwright.air import Air
from boxwright.design import Placement, Room, TransferTable
from boxwright.errors import InputError

AIR = Air(density=1.2, speed_of_sound=343.0)
CABIN = Room(size=(3.0, 2.0, 1.5), source=(0.3, 0.4, 0.2), listener=(2.2, 1.3, 1.1))
LARGE = Room(size=(5.0, 4.0, 2.5), source=(0.3, 0.4, 0.2), listener=(4.0, 2.0, 1.1))


def modes(where: Room, highest: float, c: float = 343.0) -> room.Modes:
    return room.modes_of(where.size, where.source, where.listener, c, 2.0 * math.pi * highest)


@pytest.mark.parametrize("highest", [90.0, 200.0, 400.0])
@pytest.mark.parametrize("case", load("placement_room.toml"), ids=lambda c: c.name)
def test_room_pressure(case: Case, highest: float) -> None:
    omega = np.array([2.0 * math.pi * case.inputs["frequency"]])
    total = room.modal_sum(modes(CABIN, highest), omega, 0.0, 120.0, 0.0)
    p = 1j * omega * AIR.bulk_modulus / 9.0 * total
    case.check(pressure=abs(p[0]))


@pytest.mark.parametrize("case", load("placement_duct.toml"), ids=lambda c: c.name)
def test_duct(case: Case) -> None:
    # so narrow that no cross mode reaches the listener; the flow per area is that of the wide duct
    thin = Room(size=(2.5, 0.01, 0.01), source=(0.0, 0.0, 0.0), listener=(1.7, 0.0, 0.0))
    omega = np.array([2.0 * math.pi * case.inputs["frequency"]])
    total = room.modal_sum(modes(thin, 80.0), omega, 0.0, 0.0, 0.0)
    p = 1j * omega * AIR.bulk_modulus / (2.5 * 1.2) * total
    exact = -AIR.density * 343.0 * math.cos(omega[0] / 343.0 * 0.8) / (1.2 * math.sin(omega[0] / 343.0 * 2.5))
    assert p[0].imag == pytest.approx(exact, rel=1e-9)
    case.check(imaginary=p[0].imag)


@pytest.mark.parametrize("case", load("placement_modes.toml"), ids=lambda c: c.name)
def test_modes(case: Case) -> None:
    f = np.sort(modes(LARGE, 200.0).omega) / (2.0 * math.pi)
    found = {f"f{n + 1}": float(f[n]) for n in range(10)}
    case.check(**found, below_200=float(np.count_nonzero(f < 200.0)))


@pytest.mark.parametrize("case", load("placement_gain.toml"), ids=lambda c: c.name)
def test_sealed_cabin_against_half_space(case: Case) -> None:
    small = Room(size=(2.0, 1.5, 1.0), source=(0.2, 0.3, 0.2), listener=(1.2, 0.9, 0.7), damping=0.02)
    f = np.array([case.inputs["frequency"]])
    gain = placement.transfer(Placement(room=small), AIR, f) / placement.transfer(Placement(), AIR, f)
    case.check(gain=20.0 * math.log10(abs(gain[0])))


def test_sealed_cabin_rises_twelve_decibels_an_octave() -> None:
    f = np.array([0.5, 1.0, 2.0, 4.0])
    gain = placement.transfer(Placement(room=CABIN), AIR, f) / placement.transfer(Placement(), AIR, f)
    level = 20.0 * np.log10(np.abs(gain))
    np.testing.assert_allclose(np.diff(level), -40.0 * math.log10(2.0), atol=0.1)


def test_leak_turns_the_pressure_zone_down_below_its_corner() -> None:
    f = np.array([0.01, 5.0])
    tight = placement.transfer(Placement(room=CABIN), AIR, f)
    leaky = placement.transfer(Placement(room=replace(CABIN, leak_frequency=5.0)), AIR, f)
    zone = AIR.bulk_modulus / (2j * math.pi * f * 9.0)
    # a first-order high-pass on the zeroth mode alone
    np.testing.assert_allclose(leaky - tight, zone / (1.0 - 5.0j / f) - zone, rtol=1e-9)
    assert abs(leaky[0]) == pytest.approx(AIR.bulk_modulus / (9.0 * 2.0 * math.pi * 5.0), rel=1e-3)


@pytest.mark.parametrize("where", [CABIN, LARGE], ids=["cabin", "room"])
@pytest.mark.parametrize("ratio", [0.01, 0.05, 0.3])
def test_room_against_two_million_modes(where: Room, ratio: float) -> None:
    f = np.geomspace(5.0, 150.0, 9)
    omega = 2.0 * np.pi * f
    end = 2.0 * math.pi * 6000.0 * (20.0 / (math.prod(where.size) * 1.0)) ** (1.0 / 3.0)
    axes = [np.arange(int(end * size / (math.pi * 343.0)) + 1) for size in where.size]
    shapes, squares = [], []
    for n, size, at, to in zip(axes, where.size, where.source, where.listener, strict=True):
        k = n * math.pi / size
        shapes.append(np.cos(k * at) * np.cos(k * to) * np.where(n == 0, 1.0, 2.0))
        squares.append((343.0 * k) ** 2)
    square = (squares[0][:, None, None] + squares[1][None, :, None] + squares[2][None, None, :]).ravel()
    weight = (shapes[0][:, None, None] * shapes[1][None, :, None] * shapes[2][None, None, :]).ravel()
    own = np.sqrt(square)
    soft = np.where(own < end / 2, 1.0, 0.5 + 0.5 * np.cos(np.pi * (2.0 * np.minimum(own, end) / end - 1.0)))
    weight = weight * soft
    expected = [np.sum(weight / (square - w * w + 2j * ratio * own * w)) for w in omega]
    found = placement.transfer(Placement(room=replace(where, damping=ratio)), AIR, f)
    scale = 1j * omega * AIR.bulk_modulus / math.prod(where.size)
    np.testing.assert_allclose(found, scale * np.array(expected), rtol=2e-4)


@pytest.mark.parametrize("ratio", [0.02, 0.2])
def test_room_does_not_depend_on_where_the_sum_is_cut(ratio: float) -> None:
    omega = 2.0 * np.pi * np.geomspace(5.0, 150.0, 20)
    low = room.modal_sum(modes(CABIN, 150.0), omega, ratio, 0.0, 0.0)
    high = room.modal_sum(modes(CABIN, 500.0), omega, ratio, 0.0, 0.0)
    np.testing.assert_allclose(low, high, rtol=1e-4)


inside = st.floats(0.0, 1.0)
points = st.tuples(inside, inside, inside)


@settings(max_examples=30, deadline=None)
@given(
    size=st.tuples(st.floats(0.8, 8.0), st.floats(0.8, 8.0), st.floats(0.8, 4.0)),
    here=points,
    there=points,
    ratio=st.floats(0.005, 0.5),
)
def test_rooms_are_reciprocal_and_finite(
    size: tuple[float, float, float],
    here: tuple[float, float, float],
    there: tuple[float, float, float],
    ratio: float,
) -> None:
    source = tuple(a * b for a, b in zip(here, size, strict=True))
    listener = tuple(a * b for a, b in zip(there, size, strict=True))
    if math.dist(source, listener) < 0.4:
        return
    f = np.geomspace(3.0, 150.0, 12)
    one = Room(size=size, source=source, listener=listener, damping=ratio)
    other = replace(one, source=listener, listener=source)
    p = placement.transfer(Placement(room=one), AIR, f)
    assert np.all(np.isfinite(p))
    np.testing.assert_allclose(p, placement.transfer(Placement(room=other), AIR, f), rtol=1e-7)


@pytest.mark.parametrize(
    ("space", "level"), [("free", 0.0), ("half", 6.0206), ("quarter", 12.0412), ("eighth", 18.0618)]
)
def test_spaces(space: str, level: float) -> None:
    f = np.array([20.0, 40.0])
    free = 2j * np.pi * f * 1.2 / (4.0 * np.pi * 2.0)
    p = placement.transfer(Placement(space=space, distance=2.0), AIR, f)
    np.testing.assert_allclose(p / free, 10.0 ** (level / 20.0), rtol=1e-5)


def test_one_acoustic_watt_in_half_space() -> None:
    # 112.1424 dB at 1 m for rho 1.20, c 343: 10·log10(ρc/(2π)/4e-10); a small source's power is ρω²U²/(2πc).
    f = 50.0
    flow = math.sqrt(2.0 * math.pi * 343.0 / (1.2 * (2.0 * math.pi * f) ** 2))
    p = abs(placement.transfer(Placement(), AIR, np.array([f]))[0]) * flow
    assert 20.0 * math.log10(p / 20e-6) == pytest.approx(112.1424, abs=5e-5)


def test_table_is_read_straight_over_log_frequency_and_held_beyond_its_ends() -> None:
    table = TransferTable(frequency=(10.0, 40.0, 160.0), level=(6.0, 0.0, -8.0), phase=(170.0, -170.0, 60.0))
    f = np.array([1.0, 10.0, 20.0, 40.0, 80.0, 160.0, 1000.0])
    plain = placement.transfer(Placement(space="quarter", distance=3.0), AIR, f)
    ratio = placement.transfer(Placement(space="quarter", distance=3.0, table=table), AIR, f) / plain
    np.testing.assert_allclose(20.0 * np.log10(np.abs(ratio)), [6, 6, 3, 0, -4, -8, -8], atol=1e-9)
    # 170° to −170° is a step of 20° through 180°
    expected = np.radians([170.0, 170.0, 180.0, 190.0, 125.0, 60.0, 60.0])
    np.testing.assert_allclose(ratio / np.abs(ratio), np.exp(1j * expected), atol=1e-9)


TABLE = TransferTable(frequency=(10.0, 20.0), level=(0.0, 0.0), phase=(0.0, 0.0))


@pytest.mark.parametrize(
    ("where", "words"),
    [
        (Placement(distance=0.0), "distance"),
        (Placement(distance=math.nan), "distance"),
        (Placement(space="outdoors"), "space"),
        (Placement(room=CABIN, table=TABLE), "both"),
        (Placement(room=replace(CABIN, source=(3.1, 0.4, 0.2))), "source must be inside .* length, got 3.1"),
        (Placement(room=replace(CABIN, listener=(1.0, -0.1, 0.2))), "listener must be inside .* width"),
        (Placement(room=replace(CABIN, size=(3.0, 2.0, 0.0))), "height"),
        (Placement(room=replace(CABIN, listener=CABIN.source)), "away from the source"),
        (Placement(room=replace(CABIN, damping=0.0)), "damping"),
        (Placement(room=replace(CABIN, damping=1.0)), "damping"),
        (Placement(room=replace(CABIN, leak_frequency=-1.0)), "leak_frequency"),
        (Placement(table=replace(TABLE, frequency=(20.0, 20.0))), "rise strictly"),
        (Placement(table=replace(TABLE, frequency=(-1.0, 20.0))), "frequency of a table"),
        (Placement(table=replace(TABLE, level=(0.0,))), "as many"),
        (Placement(table=replace(TABLE, phase=(0.0, math.inf))), "finite"),
        (Placement(table=TransferTable(frequency=(), level=(), phase=())), "at least one"),
    ],
)
def test_impossible_placements_are_refused(where: Placement, words: str) -> None:
    with pytest.raises(InputError, match=words):
        placement.transfer(where, AIR, np.array([30.0]))


def test_frequencies_beyond_a_rooms_modes_are_refused() -> None:
    with pytest.raises(InputError, match="frequency must be ≤"):
        placement.transfer(Placement(room=LARGE), AIR, np.array([30.0, 9000.0]))
    with pytest.raises(InputError, match="frequency must be > 0"):
        placement.transfer(Placement(), AIR, np.array([0.0]))
