"""Any voltage followed in time: bursts, music, steps; fixed steps, compiled.

References
----------
klippel2006
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.acoustics.filters import sections
from boxwright.acoustics.placement import transfer
from boxwright.design import Design, Filter, PassiveOpening
from boxwright.errors import CannotSolve, InputError
from boxwright.largesignal.equations import step
from boxwright.largesignal.model import Model, linearised

__all__ = ["Transient", "follow_voltage", "march", "pressure_at", "substeps_for"]

Real = NDArray[np.float64]

# A step times the fastest rate: the method stays bounded up to 2.78; at 0.5 its error is far below the curves' own.
_REACH = 0.5
# How much faster a rate may become than at rest: inductance shrinks as the cone moves out, chambers stiffen.
_SPARE = 2.0
_BOUND = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Transient:
    """Everything that moves, sample by sample.

    Attributes
    ----------
    time : ndarray, shape (nt,)
        [s]
    voltage : ndarray, shape (nt,)
        At the amplifier's terminals, filters done. [V]
    current : ndarray, shape (nt,)
        [A]
    travel : ndarray, shape (nt,)
        Of the cone, outward. [m]
    velocity : ndarray, shape (nt,)
        Of the cone, outward. [m/s]
    openings : tuple of ndarray, shape (nt,)
        Travel of a passive [m] or air speed in a vent [m/s], outward.
    flows : tuple of ndarray, shape (nt,)
        Volume velocity through each set of openings. [m³/s]
    pressures : dict of str to ndarray, shape (nt,)
        In each chamber. [Pa]
    outside : ndarray, shape (nt,)
        Volume velocity into the outside, leaks counted. [m³/s]
    states : ndarray, shape (nt, n)
        All of them, as `Model.states` names them.
    remarks : tuple of str
        What the model assumes.
    """

    time: Real
    voltage: Real
    current: Real
    travel: Real
    velocity: Real
    openings: tuple[Real, ...]
    flows: tuple[Real, ...]
    pressures: dict[str, Real]
    outside: Real
    states: Real
    remarks: tuple[str, ...]


@njit(nogil=True, cache=True, error_model="numpy")
def march(
    y: Real, volts: Real, dt: float, substeps: int, rows: Real, inflow: Real, cubics: Real, record: Real
) -> int:
    """Step over all samples; returns how many were reached before a state stopped being finite.

    Parameters
    ----------
    y : ndarray, shape (n,)
        States at the first sample, replaced by those after the last.
    volts : ndarray, shape (nt + 5,)
        Two samples more on the left and three on the right than are asked for, so that every interval has its six
        neighbours for the quintic between them. [V]
    dt : float
        Between samples. [s]
    substeps : int
        Steps within it. [-]
    rows, inflow, cubics : ndarray
        The model.
    record : ndarray, shape (nt, n + 2 + nc)
        Receives states and what `equations.derivative` appends at every sample.
    """
    samples, width = record.shape
    work = np.empty((3, width))
    e = np.empty(3)
    h = dt / substeps
    # Lagrange's weights of the samples −2 to 3 at every half step between samples 0 and 1
    weights = np.ones((2 * substeps + 1, 6))
    for half in range(2 * substeps + 1):
        for one in range(6):
            for other in range(6):
                if other != one:
                    weights[half, one] *= (0.5 * half / substeps + 2.0 - other) / (one - other)
    for k in range(samples):
        for s in range(substeps):
            for half in range(3):
                e[half] = 0.0
                for one in range(6):
                    e[half] += weights[2 * s + half, one] * volts[k + one]
            step(y, e, h, rows, inflow, cubics, work, record[k], s == 0)
        if not abs(y[0]) < _BOUND:
            return int(k)
    return int(samples)


def substeps_for(model: Model, sample_rate: float) -> int:
    """Steps within a sample that the fastest part of a model asks for. [-].

    Parameters
    ----------
    sample_rate : float
        [Hz]
    """
    linear, _ = linearised(model)
    fastest = float(np.max(np.abs(np.linalg.eigvals(linear[: len(model.states)]))))
    return max(1, math.ceil(_SPARE * fastest / (_REACH * sample_rate)))


def follow_voltage(
    model: Model,
    voltage: Real,
    sample_rate: float,
    *,
    filters: tuple[Filter, ...] = (),
    start: Real | None = None,
    substeps: int | None = None,
) -> Transient:
    """Follow a design through a voltage.

    Parameters
    ----------
    voltage : ndarray, shape (nt,)
        Before the filters. [V]
    sample_rate : float
        [Hz]
    filters : tuple of Filter
        In front of the amplifier; a design's own are ``design.source.filters``.
    start : ndarray, shape (n,), optional
        States at the first sample; None: at rest.
    substeps : int or None
        Steps within a sample; None: as many as `substeps_for` says. [-]

    Returns
    -------
    Transient
        At the samples' times.

    Raises
    ------
    InputError
        If the voltage is empty or not finite.
    CannotSolve
        If the motion grows beyond all bounds.

    Notes
    -----
    Classical fourth-order Runge–Kutta; between samples the voltage is the quintic through the six nearest. The filters
    are digital at the sample rate.
    """
    voltage = np.asarray(voltage, np.float64)
    if voltage.ndim != 1 or voltage.size == 0 or not np.all(np.isfinite(voltage)):
        raise InputError("voltage must be a row of finite numbers")
    if not (math.isfinite(sample_rate) and sample_rate > 0.0):
        raise InputError(f"sample rate must be > 0 Hz, got {sample_rate:g}")
    if filters:
        from scipy.signal import sosfilt

        voltage = np.asarray(sosfilt(sections(filters, sample_rate), voltage), np.float64)
    y = (model.rest if start is None else np.asarray(start, np.float64)).copy()
    if y.shape != model.rest.shape:
        raise InputError(f"start must have {model.rest.size} states, got {y.size}")
    steps = substeps_for(model, sample_rate) if substeps is None else substeps
    record = np.empty((voltage.size, model.width))
    padded = _padded(voltage)
    reached = int(march(y, padded, 1.0 / sample_rate, steps, model.rows, model.inflow, model.cubics, record))
    if reached < voltage.size or not np.all(np.isfinite(record)):
        raise CannotSolve(
            f"the motion grew beyond all bounds {reached / sample_rate:.3g} s into the signal; more steps within a "
            f"sample than {steps} may help"
        )
    return _told(model, voltage, sample_rate, record)


def _padded(voltage: Real) -> Real:
    """Two samples more on the left and three on the right, on the parabolas through the three nearest."""
    if voltage.size < 3:
        return np.concatenate([voltage[:1], voltage[:1], voltage, voltage[-1:], voltage[-1:], voltage[-1:]])

    def onward(near: float, middle: float, far: float) -> list[float]:
        slope, bend = 1.5 * near - 2.0 * middle + 0.5 * far, 0.5 * (near - 2.0 * middle + far)
        return [near + k * (slope + k * bend) for k in (1.0, 2.0, 3.0)]

    before, after = onward(*voltage[:3]), onward(*voltage[:-4:-1])
    return np.concatenate([before[1::-1], voltage, after])


def _told(model: Model, voltage: Real, sample_rate: float, record: Real) -> Transient:
    n = len(model.states)
    openings, flows = [], []
    for number, opening in enumerate(model.design.openings, start=1):
        speed = record[:, model.speed_at[number]]
        openings.append(record[:, model.travel_at[number]] if isinstance(opening, PassiveOpening) else speed)
        flows.append(speed * model.areas[number])
    return Transient(
        time=np.arange(voltage.size) / sample_rate,
        voltage=voltage,
        current=record[:, n],
        travel=record[:, model.travel_at[0]],
        velocity=record[:, model.speed_at[0]],
        openings=tuple(openings),
        flows=tuple(flows),
        pressures={name: record[:, n + 1 + k] for k, name in enumerate(model.chambers)},
        outside=record[:, n + 1 + len(model.chambers)],
        states=record[:, :n],
        remarks=model.announced,
    )


def pressure_at(design: Design, outside: Real, sample_rate: float) -> Real:
    """Pressure at the listener from the volume velocity into the outside. [Pa].

    Parameters
    ----------
    outside : ndarray, shape (nt,)
        Beginning and ending near rest: the signal is taken as silent around its span. [m³/s]
    sample_rate : float
        [Hz]

    Notes
    -----
    Through the spectrum, on twice the span, so that what rings on does not come in again at the beginning.
    """
    count = 2 * int(outside.size)
    frequency = np.arange(count // 2 + 1, dtype=np.float64) * (sample_rate / count)
    spectrum = np.fft.rfft(outside, count)
    spectrum[1:] *= transfer(design.placement, design.air, frequency[1:])
    spectrum[0] = 0.0
    return np.asarray(np.fft.irfft(spectrum, count)[: outside.size], np.float64)
