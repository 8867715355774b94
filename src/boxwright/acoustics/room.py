"""Sound in a rectangular room: the modal sum, cut where it may be cut and completed beyond.

With D = ωn² − ω² + 2jζωnω the sum Σ ψn(r)ψn(r0)/(Λn·D) converges slowly: every mode above the band still
adds its share of stiffness. Modes up to twice the highest frequency are therefore summed one by one, and all
others together through their moments T_q = Σ ψψ/(Λ·ωn^q), which do not depend on frequency:

    1/D = Σ_m U_m(−ζ)·(jω)^m / ωn^(m+2)      (|ω| < ωn; U: Chebyshev polynomials of the second kind)

The even moments come exactly out of the undamped sum, which is known in closed form along one axis: its
values on a circle in the plane of ω² less those of the low modes are analytic inside, and their Taylor
coefficients are the moments. The odd moments belong to the damping of the high modes only and are summed
over many modes with a soft end. Own derivation; the modal sum itself is the textbooks'.

References
----------
morse1968, kuttruff
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numba import njit

from boxwright.errors import InputError

__all__ = ["Modes", "closed_form", "modal_sum", "modes_of"]

Array = np.ndarray[tuple[int], np.dtype[np.float64]]
Complex = np.ndarray[tuple[int], np.dtype[np.complex128]]
Point = tuple[float, float, float]

_compiled = njit(cache=True, error_model="numpy")

_CIRCLE = 20  # points on the circle: the Taylor series is good to (1/4)^20
_LEAST_TOP = 2.0 * math.pi * 100.0
_MOST_MODES = 100_000
_SOFT_MODES = 400_000
_DECAY = 32.0  # e^−32 is where the closed form's sum over the two other axes may stop


@dataclass(frozen=True, slots=True, kw_only=True)
class Modes:
    """A room between one source and one listener, made ready for frequencies up to ``top``.

    Attributes
    ----------
    top : float
        Highest angular frequency it is good for. [rad/s]
    omega, weight : ndarray, shape (nm,)
        Angular frequencies above 0 up to twice ``top``, and ψ(r)·ψ(r0)/Λ. [rad/s], [-]
    even, odd : ndarray
        Moments T2, T4, … and T3, T5, … of all modes above those. [s^q]
    """

    top: float
    omega: Array
    weight: Array
    even: Array
    odd: Array


@lru_cache(maxsize=64)
def modes_of(size: Point, source: Point, listener: Point, c: float, top: float) -> Modes:
    """Make a room ready.

    Parameters
    ----------
    size, source, listener : tuple of float
        Length, width, height; positions from one corner. [m]
    c : float
        Speed of sound. [m/s]
    top : float
        Highest angular frequency wanted. [rad/s]

    Returns
    -------
    Modes

    Raises
    ------
    InputError
        If there are more than 100 000 modes below twice that frequency.
    """
    top = max(top, _LEAST_TOP)
    cut = 2.0 * top
    if _count(size, cut / c) > _MOST_MODES:
        limit = _reach(size, _MOST_MODES) * c / (4.0 * math.pi)
        raise InputError(
            f"frequency must be ≤ {limit:.3g} Hz in a room of {math.prod(size):.3g} m³ "
            f"(its modes cannot be told apart), got {top / (2.0 * math.pi):.4g} Hz",
            mend="use a lower frequency, or free, half, quarter or eighth space",
        )
    box, at, to = np.array(size), np.array(source), np.array(listener)
    omega, weight = _low_modes(box, at, to, c, cut)
    angle = math.pi * (2.0 * np.arange(_CIRCLE) + 1.0) / _CIRCLE
    square = top**2 * np.exp(1j * angle)  # no point on the real axis, where the modes are
    half = square[: _CIRCLE // 2]
    tail = np.array([_rest(z, omega, weight, size, source, listener, c) for z in half])
    tail = np.concatenate((tail, tail[::-1].conj()))
    powers = np.arange(_CIRCLE)
    even = np.real(np.mean(tail * square[None, :] ** -powers[:, None], axis=1))
    # far enough that the soft end is blurred over less than the distance, as long as that is affordable
    wanted = max(4.0 * cut, 12.0 * c / math.dist(source, listener))
    end = min(wanted, max(_reach(size, _SOFT_MODES) * c, 1.5 * cut))
    odd = _soft_moments(box, at, to, c, cut, end, _CIRCLE // 2)
    return Modes(top=top, omega=omega, weight=weight, even=even, odd=odd)


def modal_sum(modes: Modes, omega: Array, ratio: float, rate: float, leak: float) -> Complex:
    """Sum of ψψ/(Λ·D) over all modes, the zeroth too.

    Parameters
    ----------
    modes : Modes
        Of the room.
    omega : ndarray, shape (nf,)
        Angular frequency, > 0 and ≤ modes.top. [rad/s]
    ratio : float
        Damping ratio ζ of every mode: D = ωn² − ω² + 2jζωnω. [-]
    rate : float
        Damping constant δ of every mode, with D = ωn² − (ω − jδ)²; the two add. [1/s]
    leak : float
        Angular corner of the leak: D of the zeroth mode is −ω² + jω·leak (+ the part of δ). [rad/s]

    Returns
    -------
    ndarray of complex, shape (nf,)
        [s²]

    Notes
    -----
    The high modes take both kinds of damping exactly when only one of them is there, otherwise to first
    order.
    """
    low = _low_sum(modes.omega, modes.weight, omega, ratio, rate)
    shifted = omega - 1j * rate
    zeroth = 1.0 / (-(shifted**2) + 1j * omega * leak)
    terms = 2 * modes.odd.size
    moments = np.empty(terms)
    moments[0::2], moments[1::2] = modes.even[: terms // 2], modes.odd
    chebyshev = np.empty(terms)
    chebyshev[0], chebyshev[1] = 1.0, -2.0 * ratio
    for m in range(2, terms):
        chebyshev[m] = -2.0 * ratio * chebyshev[m - 1] - chebyshev[m - 2]
    if ratio == 0.0:  # the even ones reach further than the odd
        tail = np.polynomial.polynomial.polyval(shifted**2, modes.even)
    else:
        tail = np.polynomial.polynomial.polyval(1j * shifted, chebyshev * moments)
    return np.asarray(zeroth + low + tail, np.complex128)


@_compiled
def closed_form(square: complex, size: Point, source: Point, listener: Point, c: float) -> complex:
    """Undamped modal sum over all modes, the zeroth too, at one complex ω².

    Parameters
    ----------
    square : complex
        ω², or (ω − jδ)² with a damping constant δ; not on a mode. [rad²/s²]
    size, source, listener : tuple of float
        [m]
    c : float
        Speed of sound. [m/s]

    Returns
    -------
    complex
        Σ ψψ/(Λ·(ωn² − ω²)). [s²]

    Notes
    -----
    Along one axis of length L the sum over its modes is ``L·cosh κ(L−x>)·cosh κx</(κ·sinh κL)``, κ² = ky² +
    kz² − ω²/c². It falls as e^{−κ·d} with the distance d along that axis, so few pairs (ky, kz) are needed
    on the axis on which source and listener are furthest apart.

    References
    ----------
    morse1968
    """
    best = 0
    for i in range(1, 3):
        if (source[i] - listener[i]) ** 2 * size[i] > (source[best] - listener[best]) ** 2 * size[best]:
            best = i
    j, k = (best + 1) % 3, (best + 2) % 3
    length = size[best]
    near = min(source[best], listener[best])
    far = max(source[best], listener[best])
    furthest = (_DECAY / (far - near)) ** 2 + abs(square) / (c * c)
    total = 0.0j
    for nj in range(int(math.sqrt(furthest) * size[j] / math.pi) + 1):
        kj = nj * math.pi / size[j]
        wj = math.cos(kj * source[j]) * math.cos(kj * listener[j]) * (1.0 if nj == 0 else 2.0)
        most = int(math.sqrt(max(0.0, furthest - kj * kj)) * size[k] / math.pi)
        for nk in range(most + 1):
            kk = nk * math.pi / size[k]
            wk = math.cos(kk * source[k]) * math.cos(kk * listener[k]) * (1.0 if nk == 0 else 2.0)
            q = cmath.sqrt(kj * kj + kk * kk - square / (c * c))
            # cosh·cosh/sinh without the growing part
            grown = (1.0 + cmath.exp(-2.0 * q * (length - far))) * (1.0 + cmath.exp(-2.0 * q * near))
            along = cmath.exp(-q * (far - near)) * grown / (2.0 * q * (1.0 - cmath.exp(-2.0 * q * length)))
            total += wj * wk * length * along
    return total / (c * c)


def _rest(
    z: complex, omega: Array, weight: Array, size: Point, source: Point, listener: Point, c: float
) -> complex:
    low = complex(np.sum(weight / (omega * omega - z)))
    return complex(closed_form(z, size, source, listener, c)) + 1.0 / z - low


def _count(size: Point, k: float) -> float:
    """Rough number of modes below a wavenumber, with the terms of surfaces and edges."""
    x, y, z = size
    surface = 2.0 * (x * y + y * z + z * x)
    return (
        x * y * z * k**3 / (6.0 * math.pi**2)
        + surface * k**2 / (16.0 * math.pi)
        + (x + y + z) * k / (4 * math.pi)
    )


def _reach(size: Point, count: float) -> float:
    """Wavenumber below which there are about so many modes."""
    low, high = 0.0, 5.0 * count / min(size)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if _count(size, middle) > count else (middle, high)
    return low


@_compiled
def _shape(n: int, size: float, source: float, listener: float) -> float:
    k = n * math.pi / size
    return math.cos(k * source) * math.cos(k * listener) * (1.0 if n == 0 else 2.0)


@_compiled
def _low_modes(size: Array, source: Array, listener: Array, c: float, cut: float) -> tuple[Array, Array]:
    omega = []
    weight = []
    for a in range(int(cut * size[0] / (math.pi * c)) + 1):
        wa = _shape(a, size[0], source[0], listener[0])
        for b in range(int(cut * size[1] / (math.pi * c)) + 1):
            wb = wa * _shape(b, size[1], source[1], listener[1])
            for d in range(int(cut * size[2] / (math.pi * c)) + 1):
                k = math.sqrt((a / size[0]) ** 2 + (b / size[1]) ** 2 + (d / size[2]) ** 2)
                if 0.0 < math.pi * c * k <= cut:
                    omega.append(math.pi * c * k)
                    weight.append(wb * _shape(d, size[2], source[2], listener[2]))
    return np.array(omega, np.float64), np.array(weight, np.float64)


@_compiled
def _soft_moments(
    size: Array, source: Array, listener: Array, c: float, cut: float, end: float, count: int
) -> Array:
    """Odd moments of the modes above ``cut``, those below ``end`` weighted down smoothly from half way on."""
    total = np.zeros(count)
    begin = 0.5 * (cut + end)
    for a in range(int(end * size[0] / (math.pi * c)) + 1):
        wa = _shape(a, size[0], source[0], listener[0])
        for b in range(int(end * size[1] / (math.pi * c)) + 1):
            wb = wa * _shape(b, size[1], source[1], listener[1])
            for d in range(int(end * size[2] / (math.pi * c)) + 1):
                w = math.pi * c * math.sqrt((a / size[0]) ** 2 + (b / size[1]) ** 2 + (d / size[2]) ** 2)
                if w <= cut or w > end:
                    continue
                term = wb * _shape(d, size[2], source[2], listener[2]) / w**3
                if w > begin:
                    term *= 0.5 + 0.5 * math.cos(math.pi * (w - begin) / (end - begin))
                for m in range(count):
                    total[m] += term
                    term /= w * w
    return total


@njit(cache=True, error_model="numpy", fastmath={"reassoc", "contract", "arcp"})
def _low_sum(modes: Array, weight: Array, omega: Array, ratio: float, rate: float) -> Complex:
    out = np.empty(omega.size, np.complex128)
    for i in range(omega.size):
        w = omega[i]
        real = 0.0
        imag = 0.0
        for n in range(modes.size):
            a = modes[n] * modes[n] - w * w + rate * rate
            b = 2.0 * w * (ratio * modes[n] + rate)
            share = weight[n] / (a * a + b * b)
            real += share * a
            imag -= share * b
        out[i] = complex(real, imag)
    return out
