"""Ducts against Stinson's theory evaluated elsewhere, its limits, integrated equations and principles."""

from __future__ import annotations

import cmath
import math

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from tests.support.cases import Case, load

from boxwright.acoustics import ducts, media
from boxwright.air import standard_air

AIR = standard_air()
RHO, C, MU = AIR.density, AIR.speed_of_sound, AIR.viscosity
GAMMA = AIR.bulk_modulus / AIR.pressure
PRANDTL = 0.71
MEDIUM = (RHO, C, MU, GAMMA, PRANDTL)

frequencies = st.floats(1.0, 2000.0)
radii = st.floats(0.001, 0.2)


@pytest.mark.parametrize("case", load("ducts_lag.toml"), ids=lambda c: c.name)
def test_lag(case: Case) -> None:
    x = cmath.sqrt(1j) * case.inputs["s"]
    tube, slot = media.round_lag(x), media.slot_lag(x)
    case.check(round_real=tube.real, round_imag=tube.imag, slot_real=slot.real, slot_imag=slot.imag)


@given(exponent=st.floats(-1.0, 3.0))
def test_round_lag_everywhere(exponent: float) -> None:
    x = cmath.sqrt(1j) * 10.0**exponent
    with mpmath.workdps(30):
        z = mpmath.mpc(x) / 1j
        expected = complex(1 - 2 * mpmath.besselj(1, z) / (z * mpmath.besselj(0, z)))
    assert abs(media.round_lag(x) / expected - 1.0) < 1e-10


def test_narrow_ducts_follow_poiseuille_and_are_isothermal() -> None:
    w, a = 0.01, 1e-4
    z, y = media.round_duct(w, a, *MEDIUM)
    assert z.real == pytest.approx(8.0 * MU / (math.pi * a**4), rel=1e-6)
    assert z.imag == pytest.approx(w * RHO * 4.0 / 3.0 / (math.pi * a**2), rel=1e-6)
    assert y.imag == pytest.approx(w * math.pi * a**2 / AIR.pressure, rel=1e-6)
    width, height = 1.0, 1e-4
    z, y = media.slot_duct(w, width, height, *MEDIUM)
    assert z.real == pytest.approx(12.0 * MU / (width * height**3), rel=1e-3)
    assert y.imag == pytest.approx(w * width * height / AIR.pressure, rel=1e-6)


@pytest.mark.parametrize("a", [0.02, 0.05, 0.1])
def test_wide_ducts_follow_kirchhoff(a: float) -> None:
    # α = (1/(a·c))·√(ωμ/2ρ)·(1 + (γ − 1)/√Pr), from memory; the same as extra phase.
    w = 2.0 * math.pi * 200.0
    z, y = media.round_duct(w, a, *MEDIUM)
    propagation = cmath.sqrt(z * y)
    alpha = math.sqrt(w * MU / (2.0 * RHO)) * (1.0 + (GAMMA - 1.0) / math.sqrt(PRANDTL)) / (a * C)
    assert propagation.real == pytest.approx(alpha, rel=0.01)
    assert propagation.imag - w / C == pytest.approx(alpha, rel=0.02)


@pytest.mark.parametrize(("width", "height"), [(0.3, 0.02), (0.1, 0.05), (0.08, 0.08)])
def test_slot_against_the_series_of_a_rectangle(width: float, height: float) -> None:
    # Stinson's double sum for a rectangular tube (from memory), both cross directions in full.
    w = 2.0 * math.pi * 30.0
    k = (np.arange(4000) + 0.5) * math.pi
    a, b = (k[:, None] / (width / 2.0)) ** 2, (k[None, :] / (height / 2.0)) ** 2
    share = np.sum(4.0 / (k[:, None] * k[None, :]) ** 2 * (1j * w * RHO) / (1j * w * RHO + MU * (a + b)))
    z, _ = media.slot_duct(w, width, height, *MEDIUM)
    exact = 1j * w * RHO / (width * height * share)
    assert z.imag == pytest.approx(exact.imag, rel=2e-4)
    assert z.real == pytest.approx(exact.real, rel=0.02)


def integrated(
    w: float, start: float, end: float, length: float, resistivity: float
) -> tuple[complex, complex, complex, complex]:
    """Transfer matrix of a cone by integrating dp/dx = −z·U, dU/dx = −y·p backwards from its end."""
    radius = 0.5 * (math.sqrt(start) + math.sqrt(end)) / math.sqrt(math.pi)
    area = math.pi * radius**2
    if resistivity:
        z, y = media.filled_duct(w, area, resistivity, RHO, C, GAMMA, PRANDTL)
    else:
        z, y = media.round_duct(w, radius, *MEDIUM)

    def slope(x: float, state: np.ndarray) -> np.ndarray:
        here = (math.sqrt(start) + (math.sqrt(end) - math.sqrt(start)) * x / length) ** 2
        return np.array([-z * area / here * state[1], -y / area * here * state[0]])

    columns = []
    for final in ((1.0 + 0j, 0j), (0j, 1.0 + 0j)):
        run = solve_ivp(slope, (length, 0.0), np.array(final), rtol=1e-11, atol=1e-13, method="DOP853")
        columns.append(run.y[:, -1])
    return columns[0][0], columns[1][0], columns[0][1], columns[1][1]


@pytest.mark.parametrize(("start", "end"), [(0.01, 0.01), (0.01, 0.04), (0.05, 0.004)])
@pytest.mark.parametrize("resistivity", [0.0, 800.0])
def test_cone_against_the_integrated_equations(start: float, end: float, resistivity: float) -> None:
    w, length = 2.0 * math.pi * 90.0, 1.3
    radius = 0.5 * (math.sqrt(start) + math.sqrt(end)) / math.sqrt(math.pi)
    area = math.pi * radius**2
    if resistivity:
        z, y = media.filled_duct(w, area, resistivity, RHO, C, GAMMA, PRANDTL)
    else:
        z, y = media.round_duct(w, radius, *MEDIUM)
    found = ducts.cone_abcd(z * area, y / area, length, start, end)
    for ours, theirs in zip(found, integrated(w, start, end, length, resistivity), strict=True):
        assert abs(ours - theirs) < 1e-8 * abs(theirs)


@given(f=frequencies, start=st.floats(1e-4, 0.1), end=st.floats(1e-4, 0.1), length=st.floats(0.01, 2.0))
def test_reciprocity(f: float, start: float, end: float, length: float) -> None:
    w = 2.0 * math.pi * f
    z, y = media.round_duct(w, 0.03, *MEDIUM)
    area = math.pi * 0.03**2
    for a, b, c, d in (
        ducts.duct_abcd(z, y, length),
        ducts.cone_abcd(z * area, y / area, length, start, end),
    ):
        assert abs(a * d - b * c - 1.0) < 1e-9 * (1.0 + abs(a * d))
    a, b, c, d = ducts.cone_abcd(z * area, y / area, length, start, end)
    e, f_, g, h = ducts.cone_abcd(z * area, y / area, length, end, start)  # the same cone, turned round
    assert abs(a - h) + abs(d - e) < 1e-9 * (abs(a) + abs(d))
    assert abs(b - f_) < 1e-9 * abs(b)
    assert abs(c - g) < 1e-7 * abs(c)


def test_a_whole_cone_resonates_like_an_open_pipe() -> None:
    # Closed at its tip, a cone to an open mouth has p ∝ sin(kx)/x: zero at the mouth when k·l = π.
    def far_flow(f: float) -> float:
        w = 2.0 * math.pi * f
        d = ducts.cone_abcd(1j * w * RHO, 1j * w / AIR.bulk_modulus, 1.0, 1e-10, 0.01)[3]
        return d.real

    assert brentq(far_flow, 0.8 * C / 2.0, 1.2 * C / 2.0) == pytest.approx(C / 2.0, rel=1e-4)


@given(
    f=frequencies,
    radius=radii,
    length=st.floats(0.01, 3.0),
    load=st.complex_numbers(max_magnitude=1e7, allow_nan=False, allow_infinity=False),
)
def test_loaded_duct_is_its_matrix_and_gains_no_power(
    f: float, radius: float, length: float, load: complex
) -> None:
    load = complex(abs(load.real), load.imag)
    z, y = media.round_duct(2.0 * math.pi * f, radius, *MEDIUM)
    impedance, share = ducts.duct_input(z, y, length, load)
    a, b, c, d = ducts.duct_abcd(z, y, length)
    assert abs(impedance * (c * load + d) - (a * load + b)) < 1e-9 * (abs(a * load) + abs(b))
    assert abs(share * (c * load + d) - 1.0) < 1e-9
    assert impedance.real >= abs(share) ** 2 * load.real * (1.0 - 1e-9)


@given(
    f=frequencies,
    areas=st.lists(st.floats(1e-4, 0.1), min_size=2, max_size=5),
    length=st.floats(0.05, 4.0),
    resistivity=st.floats(0.0, 1e5),
    is_open=st.booleans(),
)
def test_lines_are_passive_and_finite(
    f: float, areas: list[float], length: float, resistivity: float, is_open: bool
) -> None:
    n = len(areas) - 1
    impedance, share = ducts.line_input(
        2.0 * math.pi * f,
        np.full(n, length),
        np.array(areas[:-1]),
        np.array(areas[1:]),
        np.full(n, resistivity),
        is_open,
        0.05,
        *MEDIUM,
    )
    assert cmath.isfinite(impedance)
    assert cmath.isfinite(share)
    assert impedance.real > 0.0
    assert (share == 0.0) == (not is_open) or abs(share) < 1e-100


@pytest.mark.parametrize("is_open", [True, False])
def test_line_is_the_product_of_its_pieces(is_open: bool) -> None:
    w = 2.0 * math.pi * 55.0
    lengths, start, end = np.array([0.4, 0.3]), np.array([0.02, 0.01]), np.array([0.02, 0.01])
    sigma = np.array([0.0, 2000.0])
    one = np.array(ducts.duct_abcd(*media.round_duct(w, math.sqrt(0.02 / math.pi), *MEDIUM), 0.4)).reshape(
        2, 2
    )
    two = np.array(ducts.duct_abcd(*media.filled_duct(w, 0.01, 2000.0, RHO, C, GAMMA, PRANDTL), 0.3)).reshape(
        2, 2
    )
    (a, b), (c, d) = one @ two
    impedance, share = ducts.line_input(w, lengths, start, end, sigma, is_open, 0.0, *MEDIUM)
    assert impedance == pytest.approx(b / d if is_open else a / c, rel=1e-10)
    assert share == pytest.approx(1.0 / d if is_open else 0.0, rel=1e-10)


def test_closed_short_line_is_its_volume() -> None:
    impedance, _ = ducts.line_input(
        2.0 * math.pi * 1.0,
        np.array([0.3]),
        np.array([0.04]),
        np.array([0.09]),
        np.zeros(1),
        False,
        0.0,
        *MEDIUM,
    )
    volume = 0.3 * (0.04 + 0.06 + 0.09) / 3.0  # of a truncated pyramid
    stiffness = AIR.bulk_modulus / (2.0 * math.pi * volume)
    # a little softer than adiabatic: heat gets into the walls
    assert -impedance.imag == pytest.approx(stiffness, rel=0.03)
    assert -impedance.imag < stiffness


def test_filling_has_its_limits() -> None:
    area, sigma = 0.02, 3000.0
    z, y = media.filled_duct(1e-3, area, sigma, RHO, C, GAMMA, PRANDTL)
    assert z.real == pytest.approx(sigma / area)
    assert y.imag == pytest.approx(1e-3 * area / AIR.pressure, rel=1e-6)  # isothermal
    z, y = media.filled_duct(1e6, area, sigma, RHO, C, GAMMA, PRANDTL)
    assert z.imag == pytest.approx(1e6 * RHO / area)
    assert y.imag == pytest.approx(1e6 * area / AIR.bulk_modulus, rel=1e-4)  # adiabatic
    assert y.real > 0.0


@pytest.mark.parametrize("shape", ["round", "slot"])
def test_lumped_vent_is_the_limit_of_the_duct(shape: str) -> None:
    length, worst = 0.1, []
    for f in (10.0, 20.0, 40.0, 80.0):
        w = 2.0 * math.pi * f
        if shape == "round":
            area, perimeter = math.pi * 0.05**2, math.pi * 0.1
            z, share = ducts.vent_input_round(w, 0.05, length, *MEDIUM)
        else:
            area, perimeter = 0.006, 0.64
            z, share = ducts.vent_input_slot(w, 0.3, 0.02, length, *MEDIUM)
        mass = ducts.vent_mass(RHO, length, area)
        loss = ducts.vent_resistance(w, length, area, perimeter, RHO, MU)
        # the boundary layer adds as much reactance as resistance
        assert z.imag == pytest.approx(w * mass + loss, rel=(w * length / C) ** 2)
        # the expansion's next term is about three Womersley numbers down; the air in the vent also gives way
        womersley = 2.0 * area / perimeter * math.sqrt(w * RHO / MU)
        assert z.real == pytest.approx(loss, rel=3.0 / womersley + (w * length / C) ** 2)
        assert share.real == pytest.approx(1.0 + 0.5 * (w * length / C) ** 2, abs=0.1 * (w * length / C) ** 2)
        assert loss == ducts.vent_loss_factor(length, area, perimeter, RHO, MU) * math.sqrt(w)
        worst.append(abs(z.imag - w * mass - loss) / (w * mass))
    assert worst[3] / worst[2] == pytest.approx(4.0, rel=0.15)  # second order in k·l


def test_vent_pipe_resonance() -> None:
    # Open at both ends: the impedance is least where the acoustic length is half a wave.
    f = np.linspace(400.0, 480.0, 801)
    z = np.array([abs(ducts.vent_input_round(2.0 * math.pi * x, 0.04, 0.4, *MEDIUM)[0]) for x in f])
    assert f[np.argmin(z)] == pytest.approx(C / 0.8, rel=0.005)


@pytest.mark.parametrize(("width", "height"), [(0.3, 0.03), (0.16, 0.025), (0.05, 0.05)])
@pytest.mark.parametrize("hertz", [10.0, 40.0, 150.0])
def test_a_slots_loss_is_that_of_its_rectangle(width: float, height: float, hertz: float) -> None:
    # closed form: the double Fourier series of the viscous wave equation in a rectangle, summed over odd orders
    air = standard_air()
    w = 2.0 * math.pi * hertz
    s2 = 1j * w * air.density / air.viscosity
    odd = np.arange(1, 4001, 2)
    m, n = odd[:, None], odd[None, :]
    eigen = math.pi**2 * ((m / width) ** 2 + (n / height) ** 2)
    series = np.sum(64.0 / (math.pi**4 * (m * n) ** 2) * s2 / (s2 + eigen))
    ours = media.rectangle_lag(cmath.sqrt(s2), width, height)
    assert (1j / ours).real == pytest.approx((1j / series).real, rel=6e-3)
    assert abs(ours - series) < 1e-3
