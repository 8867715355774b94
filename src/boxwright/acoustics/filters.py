"""The filters before the amplifier: analogue, minimum phase, evaluated where they are wanted.

Designs are made once for a corner of 1 rad/s and kept; a response is their poles and zeros at jf/fc.

References
----------
linkwitz1976, bristowjohnson
"""

from __future__ import annotations

import cmath
import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from boxwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from boxwright.design import Filter

__all__ = ["cascade", "check", "sections"]

Frequencies = np.ndarray[tuple[int], np.dtype[np.float64]]
Response = np.ndarray[tuple[int], np.dtype[np.complex128]]
_Analogue = tuple[tuple[complex, ...], tuple[complex, ...], float]
_Band = Literal["highpass", "lowpass"]

_BANDS: dict[str, _Band] = {"high-pass": "highpass", "low-pass": "lowpass"}
_MOST_ORDER = 8
_MOST_GAIN = 40.0


def cascade(filters: tuple[Filter, ...], frequency: Frequencies) -> Response:
    """Transfer function of filters in a row.

    Parameters
    ----------
    filters : tuple of Filter
        None at all: 1 everywhere.
    frequency : ndarray, shape (nf,)
        ≥ 0. [Hz]

    Returns
    -------
    ndarray of complex, shape (nf,)
        Voltage out over voltage in. [-]

    Raises
    ------
    InputError
        If a filter has an impossible value.

    Notes
    -----
    Passes are scipy's analogue designs. A Linkwitz–Riley filter is a Butterworth filter of half the order
    twice, 6 dB down at its corner; a Bessel filter is 3 dB down there; a Chebyshev filter leaves its ripple
    there (peaks of the pass band at 0 dB). With A = 10^(gain/40) and s over the corner: peak ``(s² + s·A/q +
    1)/(s² + s/(A·q) + 1)``, low shelf ``A·(s² + s·√A/q + A)/(A·s² + s·√A/q + 1)``, high shelf the same
    mirrored in s → 1/s.

    References
    ----------
    linkwitz1976, bristowjohnson
    """
    h = np.ones(np.shape(frequency), np.complex128)
    for f in filters:
        check(f)
        zeros, poles, gain = _analogue(f)
        s = 1j * np.asarray(frequency, np.float64) / f.frequency
        # pairing a zero with a pole keeps the product at ordinary size far from the corner
        h *= gain
        for i, pole in enumerate(poles):
            h *= ((s - zeros[i]) if i < len(zeros) else 1.0) / (s - pole)
    return h


def sections(
    filters: tuple[Filter, ...], sample_rate: float
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Digital second-order sections of filters in a row.

    Parameters
    ----------
    filters : tuple of Filter
        None at all: no sections.
    sample_rate : float
        More than twice every corner. [Hz]

    Returns
    -------
    ndarray, shape (n, 6)
        b0 b1 b2 a0 a1 a2 of each section, as scipy.signal.sosfilt wants them.

    Raises
    ------
    InputError
        If a filter has an impossible value or its corner is not below half the sample rate.

    Notes
    -----
    Bilinear transform of the analogue filter, warped so that both agree at the corner.
    """
    from scipy.signal import bilinear_zpk, zpk2sos

    rows = [np.zeros((0, 6))]
    for f in filters:
        check(f)
        if not f.frequency < 0.5 * sample_rate:
            raise InputError(
                f"frequency of a filter must be < half the sample rate ({0.5 * sample_rate:g} Hz), "
                f"got {f.frequency:g} Hz"
            )
        zeros, poles, gain = _analogue(f)
        warped = 2.0 * math.tan(math.pi * f.frequency / sample_rate)
        scaled = gain * warped ** (len(poles) - len(zeros))
        digital = bilinear_zpk(np.array(zeros) * warped, np.array(poles) * warped, scaled, fs=1.0)
        rows.append(zpk2sos(*digital))
    return np.concatenate(rows)


def check(f: Filter) -> None:
    """Refuse a filter that cannot be built.

    Raises
    ------
    InputError
        With the field, what it must be and what it is.
    """
    if not (math.isfinite(f.frequency) and f.frequency > 0.0):
        raise InputError(f"frequency of a filter must be > 0 Hz, got {f.frequency:g}")
    if f.kind in _BANDS:
        if f.family not in _PASSES:
            raise InputError(f"family of a filter must be one of {', '.join(_PASSES)}, got {f.family}")
        if isinstance(f.order, bool) or not (isinstance(f.order, int) and 1 <= f.order <= _MOST_ORDER):
            raise InputError(
                f"order of a filter must be a whole number from 1 to {_MOST_ORDER}, got {f.order}"
            )
        if f.family == "linkwitz-riley" and f.order % 2:
            raise InputError(
                f"order of a linkwitz-riley filter must be even, got {f.order}",
                mend=f"use {f.order + 1}",
            )
        if f.family == "chebyshev" and not 0.0 < f.ripple <= _MOST_GAIN:
            raise InputError(f"ripple of a filter must be > 0 and ≤ {_MOST_GAIN:g} dB, got {f.ripple:g}")
        return
    if f.kind not in _SHAPES:
        raise InputError(f"kind of a filter must be one of {', '.join((*_BANDS, *_SHAPES))}, got {f.kind}")
    if not (math.isfinite(f.q) and f.q > 0.0):
        raise InputError(f"q of a filter must be > 0, got {f.q:g}")
    if not abs(f.gain) <= _MOST_GAIN:
        raise InputError(
            f"gain of a filter must be from −{_MOST_GAIN:g} to {_MOST_GAIN:g} dB, got {f.gain:g}"
        )


def _analogue(f: Filter) -> _Analogue:
    if f.kind in _BANDS:
        return _PASSES[f.family](_BANDS[f.kind], f.order, f.ripple if f.family == "chebyshev" else 0.0)
    return _SHAPES[f.kind](10.0 ** (f.gain / 40.0), f.q)


def _plain(zpk: Any) -> _Analogue:
    zeros, poles, gain = zpk
    return tuple(map(complex, zeros)), tuple(map(complex, poles)), float(gain)


@lru_cache(maxsize=256)
def _butterworth(band: _Band, order: int, _: float) -> _Analogue:
    # Poles evenly on the unit circle. scipy.signal gives the same, but takes a second to import, and this is the
    # filter that nearly every design has.
    poles = tuple(cmath.exp(0.5j * math.pi * (2 * k + order + 1) / order) for k in range(order))
    return ((0.0j,) * order if band == "highpass" else ()), poles, 1.0


@lru_cache(maxsize=256)
def _linkwitz_riley(band: _Band, order: int, _: float) -> _Analogue:
    zeros, poles, gain = _butterworth(band, order // 2, 0.0)
    return zeros * 2, poles * 2, gain * gain


@lru_cache(maxsize=256)
def _bessel(band: _Band, order: int, _: float) -> _Analogue:
    from scipy.signal import bessel

    return _plain(bessel(order, 1.0, band, analog=True, output="zpk", norm="mag"))


@lru_cache(maxsize=256)
def _chebyshev(band: _Band, order: int, ripple: float) -> _Analogue:
    from scipy.signal import cheby1

    return _plain(cheby1(order, ripple, 1.0, band, analog=True, output="zpk"))


def _roots(a: float, b: float, c: float) -> tuple[complex, complex]:
    """Zeros of a·s² + b·s + c with b > 0, without cancellation."""
    far = -0.5 * (b + cmath.sqrt(b * b - 4.0 * a * c))
    return far / a, c / far


@lru_cache(maxsize=256)
def _peak(a: float, q: float) -> _Analogue:
    return _roots(1.0, a / q, 1.0), _roots(1.0, 1.0 / (a * q), 1.0), 1.0


@lru_cache(maxsize=256)
def _low_shelf(a: float, q: float) -> _Analogue:
    slope = math.sqrt(a) / q
    return _roots(1.0, slope, a), _roots(a, slope, 1.0), 1.0


@lru_cache(maxsize=256)
def _high_shelf(a: float, q: float) -> _Analogue:
    slope = math.sqrt(a) / q
    return _roots(a, slope, 1.0), _roots(1.0, slope, a), a * a


_PASSES: dict[str, Callable[[_Band, int, float], _Analogue]] = {
    "butterworth": _butterworth,
    "linkwitz-riley": _linkwitz_riley,
    "bessel": _bessel,
    "chebyshev": _chebyshev,
}
_SHAPES: dict[str, Callable[[float, float], _Analogue]] = {
    "low-shelf": _low_shelf,
    "high-shelf": _high_shelf,
    "peak": _peak,
}
