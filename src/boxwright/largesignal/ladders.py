"""Lossy coil and suspension creep as ladders: what follows powers and logarithms of frequency, in a few states."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.elements import coil_impedance
from boxwright.parts.driver import Coil

__all__ = ["CoilLadder", "CreepLadder", "coil_ladder", "creep_ladder"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

COIL_BAND, CREEP_BAND = (5.0, 1000.0), (5.0, 200.0)
"""Where the ladders hold; far above its resonance a suspension has no say. [Hz]"""
_COIL_CORNERS, _CREEP_CORNERS = (8.0, 50.0, 250.0, 1500.0), (4.0, 30.0, 250.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilLadder:
    """``Z = jω·le + Σ r ∥ jω·l``.

    Attributes
    ----------
    le : float
        [H]
    cells : tuple of (float, float)
        r and l of each. [Ω], [H]
    error : float
        Largest departure from the stated coil from 5 to 1000 Hz, as a share of its impedance with re; 0: exact. [-]
    """

    le: float
    cells: tuple[tuple[float, float], ...]
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CreepLadder:
    """``C(ω)/Cms = prompt + Σ share/(1 + jω·τ)``.

    Attributes
    ----------
    prompt : float
        Share of the stated compliance that gives way at once. [-]
    cells : tuple of (float, float)
        Share and τ of each. [-], [s]
    error : float
        Largest departure from the logarithmic law from 5 to 200 Hz; 0: no creep. [-]
    """

    prompt: float
    cells: tuple[tuple[float, float], ...]
    error: float


@lru_cache(maxsize=256)
def coil_ladder(coil: Coil, re: float) -> CoilLadder:
    """Bring a coil into the form that the state equations hold.

    Parameters
    ----------
    re : float
        D.c. resistance in series, which weighs the error. [Ω]

    Notes
    -----
    An ideal inductance and a pair r2 ∥ l2 are in that form already. The lossy ``k·(jω)^n`` has no finite set of states;
    four cells and an inductance, none negative, are fitted to it by least squares over the logarithm of frequency.
    Departure from source: that fit; its error is stated.

    References
    ----------
    leach2002, iec62458
    """
    cells = [(coil.r2, coil.l2)] if coil.l2 > 0.0 and coil.r2 > 0.0 else []
    if not coil.k > 0.0:
        return CoilLadder(le=coil.le, cells=tuple(cells), error=0.0)
    w = _band(COIL_BAND)
    wanted = np.array([coil_impedance(x, 0.0, coil.k, coil.n, 0.0, 0.0) for x in w])
    rest = np.array([coil_impedance(x, coil.le, 0.0, coil.n, coil.l2, coil.r2) for x in w]) + re
    weight = 1.0 / np.abs(rest + wanted)

    def columns(corners: Real) -> Complex:
        s = 1j * w[:, None]
        return np.hstack([s, s / (1.0 + s / corners)])

    corners, shares, fitted = _fit(wanted, weight, columns, _COIL_CORNERS)
    pairs = zip(shares[1:].tolist(), corners.tolist(), strict=True)
    cells += [(inductance * corner, inductance) for inductance, corner in pairs if inductance > 0.0]
    return CoilLadder(
        le=coil.le + float(shares[0]),
        cells=tuple(cells),
        error=float(np.max(np.abs(fitted - wanted) * weight)),
    )


@lru_cache(maxsize=256)
def creep_ladder(creep: float, ws: float) -> CreepLadder:
    """Bring a suspension's creep into the form that the state equations hold.

    Parameters
    ----------
    creep : float
        λ of ``cms(ω) = cms·(1 − λ·log10(jω/ωs))``. [-]
    ws : float
        Angular resonance in free air. [rad/s]

    Notes
    -----
    Three springs with a damper beside each, in a row with the prompt spring, fitted as the coil's cells are. Below the
    band the compliance grows no more, while the law's grows without end.

    References
    ----------
    knudsen1993
    """
    if creep == 0.0:
        return CreepLadder(prompt=1.0, cells=(), error=0.0)
    w = _band(CREEP_BAND)
    wanted = 1.0 - creep * (np.log10(w / ws) + 0.5j * np.pi / np.log(10.0))
    weight = 1.0 / np.abs(wanted)

    def columns(corners: Real) -> Complex:
        s = 1j * w[:, None]
        return np.hstack([np.ones_like(s), 1.0 / (1.0 + s / corners)])

    corners, shares, fitted = _fit(wanted, weight, columns, _CREEP_CORNERS)
    pairs = zip(shares[1:].tolist(), corners.tolist(), strict=True)
    return CreepLadder(
        prompt=float(shares[0]),
        cells=tuple((share, 1.0 / corner) for share, corner in pairs if share > 0.0),
        error=float(np.max(np.abs(fitted - wanted) * weight)),
    )


def _band(ends: tuple[float, float]) -> Real:
    return 2.0 * np.pi * np.geomspace(*ends, 60)


def _fit(
    wanted: Complex, weight: Real, columns: Callable[[Real], Complex], start: tuple[float, ...]
) -> tuple[Real, Real, Complex]:
    """Corners, shares that are not negative, and the fit: corners by least squares, shares within by NNLS."""
    from scipy.optimize import least_squares, nnls

    def parted(z: Complex) -> Real:
        return np.concatenate([z.real, z.imag])

    def best(log_corners: Real) -> tuple[Real, Complex]:
        matrix = columns(np.exp(log_corners))
        shares, _ = nnls(parted(matrix * weight[:, None]), parted(wanted * weight))
        return shares, matrix @ shares

    def missed(log_corners: Real) -> Real:
        return parted((best(log_corners)[1] - wanted) * weight)

    found = least_squares(missed, np.log(2.0 * np.pi * np.array(start)), xtol=1e-6).x
    shares, fitted = best(found)
    return np.exp(found), shares, fitted
