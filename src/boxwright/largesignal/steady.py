"""Steady motion under a sine of any level: harmonics of everything that moves, and whether it is the only one.

`level_map` follows the motion up over all levels at every frequency. At the highest level it also comes from lower and
from higher frequencies, and from what it finds it goes down again over all levels. Where the ways differ, the box has
two steady motions and jumps between them. `steady` answers for one sine.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.placement import transfer
from boxwright.design import PassiveOpening
from boxwright.errors import InputError
from boxwright.largesignal.model import Model, linearised
from boxwright.largesignal.orbit import SETTLED, UNSETTLED, follow
from boxwright.largesignal.waves import ORDERS, LevelMap, Steady, Wave

__all__ = ["level_map", "steady"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

_MAP_STEPS = 64
_STEPS = 128
# Two motions that differ by more than this share of the travel are two.
_SAME = 0.01
_RISE = np.array([1 / 32, 1 / 8, 1 / 4, 1 / 2, 1 / math.sqrt(2.0), 1.0])
_HIGHEST_LOOK = 2.0
# Steps within an octave on the way through frequencies.
_STRIDES = 12


def steady(model: Model, frequency: float, voltage: float, *, steps: int = _STEPS) -> Steady:
    """Steady motion under one sine at the amplifier's terminals.

    Parameters
    ----------
    model : Model
    frequency : float
        > 0. [Hz]
    voltage : float
        Rms, > 0. [V]
    steps : int
        Points in a period. [-]

    Raises
    ------
    InputError
        If frequency or voltage is not positive.

    Notes
    -----
    The level rises from a 32nd to the wanted one and goes on to twice that; there the motion also comes from an octave
    below and an octave above, as hard and soft springs each ask for, and the level comes down again.

    References
    ----------
    ascher1995
    """
    rising = voltage * _RISE
    above = voltage * np.geomspace(1.0, _HIGHEST_LOOK, 5)[1:]
    found = level_map(model, np.array([frequency]), np.concatenate([rising, above]), steps=steps)
    here = rising.size - 1
    down = found.down or found
    remarks = list(model.announced)
    up = _one(found, here, (), None)
    other = None
    if found.two_ways[0, here]:
        remarks.append(
            f"two steady motions are possible here: rising from rest the cone moves "
            f"{up.driver_travel.harmonics[1] * 1e3:.3g} mm, coming down from above "
            f"{down.driver.harmonics[0, here, 1] * 1e3:.3g} mm"
        )
        other = _one(down, here, tuple(remarks), None)
    jumps = np.flatnonzero(found.jumped[0, : here + 1])
    if jumps.size:
        remarks.append(f"the motion jumped on the way up, at or below {found.voltage[jumps[0]]:.3g} V")
    if up.status == "not settled":
        remarks.append(
            "no steady motion with the period of the voltage was found: these figures are not to be used"
        )
    return _one(found, here, tuple(remarks), other)


def level_map(
    model: Model,
    frequency: Real,
    voltage: Real,
    *,
    steps: int = _MAP_STEPS,
    both_ways: bool = True,
    threads: int | None = None,
) -> LevelMap:
    """Steady motion over frequencies and levels.

    Parameters
    ----------
    frequency : ndarray, shape (nf,)
        [Hz]
    voltage : ndarray, shape (nl,)
        Rms, strictly rising. [V]
    steps : int
        Points in a period, at least 32. [-]
    both_ways : bool
        Whether to come down from the highest level again, to find second motions.
    threads : int or None
        None: as many as there are processors. [-]

    Raises
    ------
    InputError
        If a frequency is not positive or the levels do not rise.
    """
    frequency = np.atleast_1d(np.asarray(frequency, np.float64))
    voltage = np.atleast_1d(np.asarray(voltage, np.float64))
    if not (np.all(np.isfinite(frequency)) and np.all(frequency > 0.0)):
        raise InputError(f"frequency must be > 0 Hz, got {float(np.min(frequency)):g}")
    if not (np.all(np.isfinite(voltage)) and np.all(voltage > 0.0) and np.all(np.diff(voltage) > 0.0)):
        raise InputError(f"voltages must be > 0 V and rise, got {voltage.tolist()}")
    peaks = math.sqrt(2.0) * voltage
    follower = _follower(model, steps)
    ways = 2 if both_ways else 1
    waves = np.empty((ways, frequency.size, voltage.size, steps, model.width))
    report = np.empty((ways, frequency.size, voltage.size, 4))
    workers = threads or os.cpu_count() or 1

    def up(k: int) -> None:
        ring = follower.near_rest(float(frequency[k]), float(peaks[0]))
        follower.along(float(frequency[k]), peaks, ring, waves[0, k], report[0, k])

    _share_out(up, range(frequency.size), workers)
    if both_ways:
        top = waves[0, :, -1, :, : len(model.states)]
        arrivals = np.empty((2, *top.shape))

        def across(way: int) -> None:
            _across(follower, frequency, float(peaks[-1]), way == 1, arrivals[way])

        _share_out(across, range(2), workers)

        def down(k: int) -> None:
            ring = _farthest(top[k], arrivals[:, k], model.travel_at[0])
            back, said = np.empty_like(waves[0, k]), np.empty_like(report[0, k])
            follower.along(float(frequency[k]), peaks[::-1].copy(), ring, back, said)
            waves[1, k], report[1, k] = back[::-1], said[::-1]

        _share_out(down, range(frequency.size), workers)
    way_down = _gathered(model, frequency, voltage, waves[1], report[1], None) if both_ways else None
    return _gathered(model, frequency, voltage, waves[0], report[0], way_down)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Follower:
    """A model with what every way through frequencies and levels needs of it."""

    model: Model
    steps: int
    linear: Real
    through: Real
    fastest: float

    def near_rest(self, frequency: float, peak: float) -> Real:
        """The linear model's motion, shape (steps, n)."""
        turning = np.exp(2j * np.pi * np.arange(self.steps) / self.steps)
        return np.asarray(self.model.rest + (self._phasor(frequency, peak)[None, :] * turning[:, None]).real)

    def along(self, frequency: float, peaks: Real, ring: Real, waves: Real, report: Real) -> None:
        """Follow the motion in ``ring``, that of about the first peak, through all peaks; see `orbit.follow`."""
        phasor = np.abs(self._phasor(frequency, float(peaks[0])))
        scale = phasor + 1e-12 + 1e-9 * np.max(phasor)
        omega = 2.0 * math.pi * frequency
        # room for a coil whose inductance shrinks with travel: five times the fastest rate at rest
        substeps = max(1, math.ceil(5.0 * self.fastest * 2.0 * math.pi / (omega * self.steps)))
        follow(self.model, omega, peaks, ring, scale, substeps, waves, report)

    def _phasor(self, frequency: float, peak: float) -> Complex:
        n = self.linear.shape[1]
        system = 2j * math.pi * frequency * np.eye(n) - self.linear
        return np.asarray(np.linalg.solve(system, self.through) * peak, np.complex128)


def _follower(model: Model, steps: int) -> _Follower:
    linear, through = linearised(model)
    n = len(model.states)
    fastest = float(np.max(np.abs(np.linalg.eigvals(linear[:n]))))
    return _Follower(model=model, steps=steps, linear=linear[:n], through=through[:n], fastest=fastest)


def _share_out(work: Callable[[int], None], items: range, workers: int) -> None:
    if min(workers, len(items)) == 1:
        for item in items:
            work(item)
        return
    with ThreadPoolExecutor(min(workers, len(items))) as pool:
        list(pool.map(work, items))


def _across(follower: _Follower, frequency: Real, peak: float, falling: bool, arrivals: Real) -> None:
    """Motion at one level, coming through all frequencies from an octave below the lowest or above the highest.

    ``arrivals`` (nf, steps, n) receives it at each frequency; nan from where the motion has no steady one to go to.
    """
    order = np.argsort(frequency)[:: -1 if falling else 1]
    here = float(frequency[order[0]]) * (2.0 if falling else 0.5)
    peaks = np.array([peak])
    rising = peak * _RISE
    ring = follower.near_rest(here, float(rising[0]))
    waves, report = np.empty((rising.size, follower.steps, follower.model.width)), np.empty((rising.size, 4))
    follower.along(here, rising, ring, waves, report)
    arrivals[:] = np.nan
    for k in order:
        goal = float(frequency[k])
        count = max(1, math.ceil(abs(math.log2(goal / here)) * _STRIDES))
        for at in np.geomspace(here, goal, count + 1)[1:]:
            follower.along(float(at), peaks, ring, waves, report)
            if report[0, 0] == UNSETTLED:
                return
        here = goal
        arrivals[k] = ring


def _farthest(usual: Real, arrivals: Real, travel_at: int) -> Real:
    """Of the motions that came from other frequencies the one farthest from the usual; that, if none is another."""
    apart = np.nan_to_num(np.max(np.abs(arrivals[:, :, travel_at] - usual[:, travel_at]), axis=1))
    far = int(np.argmax(apart))
    differs = apart[far] > _SAME * np.ptp(usual[:, travel_at])
    return np.ascontiguousarray(arrivals[far] if differs else usual)


def _gathered(
    model: Model, frequency: Real, voltage: Real, waves: Real, report: Real, down: LevelMap | None
) -> LevelMap:
    n = len(model.states)
    spectrum = np.fft.rfft(waves, axis=2)[:, :, :ORDERS] * (2.0 / waves.shape[2])
    spectrum[:, :, 0] *= 0.5

    def wave(at: int, factor: float = 1.0) -> Wave:
        return _wave(
            spectrum[..., at] * factor,
            waves[..., at].min(axis=2) * factor,
            waves[..., at].max(axis=2) * factor,
        )

    openings = []
    for number, opening in enumerate(model.design.openings, start=1):
        passive = isinstance(opening, PassiveOpening)
        openings.append(wave(model.travel_at[number] if passive else model.speed_at[number]))
    radiated = spectrum[..., n + 1 + len(model.chambers)]
    pressure = np.zeros_like(radiated)
    for k in range(1, ORDERS):
        pressure[..., k] = (
            radiated[..., k] * transfer(model.design.placement, model.design.air, k * frequency)[:, None]
        )
    driver = wave(model.travel_at[0])
    two_ways = np.zeros(report.shape[:2], bool)
    if down is not None:
        apart = np.max(np.abs(driver.harmonics - down.driver.harmonics), axis=-1)
        two_ways = (apart > _SAME * driver.harmonics[..., 1]) & (report[..., 0] != UNSETTLED) & down.settled
    empty = np.full(report.shape[:2], np.nan)
    return LevelMap(
        frequency=frequency,
        voltage=voltage,
        driver=driver,
        current=wave(n),
        openings=tuple(openings),
        pressure=_wave(pressure, empty, empty),
        chambers=tuple(wave(n + 1 + k) for k in range(len(model.chambers))),
        settled=report[..., 0] != UNSETTLED,
        jumped=report[..., 0] == SETTLED,
        two_ways=two_ways,
        rounds=report[..., 1].astype(np.int64),
        correction=report[..., 2],
        multiplier=report[..., 3],
        down=down,
    )


def _wave(spectrum: Complex, lowest: Real, highest: Real) -> Wave:
    harmonics = np.abs(spectrum)
    harmonics[..., 0] = spectrum[..., 0].real
    return Wave(harmonics=harmonics, phase=np.angle(spectrum), lowest=lowest, highest=highest)


def _one(found: LevelMap, here: int, remarks: tuple[str, ...], other: Steady | None) -> Steady:
    at = (0, here)
    status = "converged"
    if not found.settled[at]:
        status = "not settled"
    elif found.jumped[at]:
        status = "settled in time"
    return Steady(
        frequency=float(found.frequency[0]),
        voltage=float(found.voltage[here]),
        driver_travel=found.driver.at(*at),
        openings=tuple(w.at(*at) for w in found.openings),
        current=found.current.at(*at),
        pressure=found.pressure.at(*at),
        chambers=tuple(w.at(*at) for w in found.chambers),
        status=status,
        rounds=int(found.rounds[0, : here + 1].sum()),
        correction=float(found.correction[at]),
        multiplier=float(found.multiplier[at]),
        other=other,
        remarks=remarks,
    )
