"""Highest clean level over frequency with everything that moves at level, what binds, and how far off the rest is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import filters
from boxwright.acoustics.limits import NO_LIMIT, air_speed_limit, linear_travel
from boxwright.acoustics.response import REFERENCE_PRESSURE, Response, predict
from boxwright.design import Design, PassiveOpening
from boxwright.errors import InputError
from boxwright.largesignal import reading
from boxwright.largesignal.model import Model, model_of
from boxwright.largesignal.steady import level_map
from boxwright.largesignal.waves import LevelMap, Wave

__all__ = ["DISTORTION", "CleanLevels", "CleanLimit", "clean_levels", "twelfths"]

Real = NDArray[np.float64]

DISTORTION = 0.10
"""Harmonics 2 to 7 of the pressure over its fundamental that still count as clean. [-]"""
DISTORTION_NAME, NO_MOTION = "distortion", "no steady motion"
_LEVELS, _MOST_LEVELS = 12, 24
_OVER = math.sqrt(2.0)
"""How far over the amplifier's limit levels are followed, so that the margin of the other limits is seen. [-]"""
_FAR = 1.5
"""The same over what the linear model allows, where no amplifier is stated. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanLimit:
    """One limit over frequency.

    Attributes
    ----------
    name : str
        As of `acoustics.limits.Limit`, or distortion, or no steady motion.
    part : str
        The part it belongs to.
    allowed : float
        [m, m/s, V, A or -]
    voltage : ndarray, shape (nf,)
        At the amplifier's terminals, rms, that reaches it; inf: beyond the levels that were followed. [V]
    """

    name: str
    part: str
    allowed: float
    voltage: Real


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanLevels:
    """What is clean at level.

    Attributes
    ----------
    frequency : ndarray, shape (nf,)
        [Hz]
    voltage : ndarray, shape (nf,)
        At the amplifier's terminals, rms, at the highest clean level; inf where nothing limits. [V]
    level : ndarray, shape (nf,)
        Of the fundamental there. [dB re 20 µPa rms]
    binding : tuple of str
        The limit that binds at each frequency.
    limits : tuple of CleanLimit
    linear : Response
        What the linear model says of the same design, at the same frequencies.
    sweep : LevelMap
        Steady motion at every level that was followed.
    distortion : ndarray, shape (nf,)
        At the highest clean level. [-]
    offset : ndarray, shape (nf,)
        Of the cone off its rest position there, outward. [m]
    opening_offsets : tuple of ndarray, shape (nf,)
        The same of each set of passives [m]; of vents the mean air speed. [m/s]
    threshold : float
        Distortion that counts as clean. [-]
    remarks : tuple of str
        What it rests on, and what was met on the way.
    """

    frequency: Real
    voltage: Real
    level: Real
    binding: tuple[str, ...]
    limits: tuple[CleanLimit, ...]
    linear: Response
    sweep: LevelMap
    distortion: Real
    offset: Real
    opening_offsets: tuple[Real, ...]
    threshold: float
    remarks: tuple[str, ...]

    @property
    def cost(self) -> Real:
        """What the linear model promises beyond this, shape (nf,). [dB]."""
        return np.asarray(self.linear.clean_level - self.level)

    def margins(self) -> tuple[Real, ...]:
        """How far the drive may rise from the clean level until each limit is reached, shape (nf,) each. [dB]."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return tuple(20.0 * np.log10(limit.voltage / self.voltage) for limit in self.limits)

    def at_level(self, wanted: float) -> tuple[Real, Real]:
        """Voltage and distortion at which the fundamental has a level, shape (nf,) each; nan: not reached. [V], [-]."""
        grid, followed = np.log(self.sweep.voltage), _followed(self.sweep)
        levels = reading.held((_fundamental_level(self.sweep) - wanted)[:, :, None], followed)
        crossing = reading.crossings(grid, levels)[:, 0]
        crossing = np.where(np.isfinite(crossing), crossing, np.nan)
        thd = reading.held(reading.log(self.sweep.pressure.distortion)[:, :, None], followed)[:, :, 0]
        return np.exp(crossing), np.exp(reading.read(grid, thd, crossing))


def twelfths(low: float, high: float) -> Real:
    """Twelfths of an octave on the grid through 1 kHz that lie within a band. [Hz].

    Raises
    ------
    InputError
        If none does.
    """
    if not 0.0 < low < high:
        raise InputError(f"band must reach from a low to a higher note, got {low:g} to {high:g} Hz")
    first, last = (12.0 * math.log2(f / 1000.0) for f in (low, high))
    steps = np.arange(math.ceil(first - 1e-9), math.floor(last + 1e-9) + 1)
    if not steps.size:
        raise InputError(f"band must hold a twelfth of an octave, got {low:g} to {high:g} Hz")
    return np.asarray(1000.0 * 2.0 ** (steps / 12.0))


def clean_levels(
    design: Design,
    frequency: Real,
    *,
    model: Model | None = None,
    threshold: float = DISTORTION,
    workers: int | None = None,
) -> CleanLevels:
    """Highest level at each frequency that breaks no limit, by steady sines.

    Parameters
    ----------
    design : Design
        Its filters change which source voltage it takes, not which level is clean.
    frequency : ndarray, shape (nf,)
        Rising. [Hz]
    model : Model, optional
        Of that design, if it is at hand.
    threshold : float
        Distortion of the pressure that still counts as clean, > 0. [-]
    workers : int, optional
        Threads; by default one a core.

    Returns
    -------
    CleanLevels

    Raises
    ------
    InputError
        If the threshold is not positive.

    Notes
    -----
    Steady motion over some 3 dB steps of voltage; between them every quantity is read off monotone cubics over the
    logarithms, which are exact for a linear box. Limits: travel of cone and passives on either side of where they are
    without sound, sag and offset included, against the linear travel; peak air speed; voltage and current of the
    amplifier; the current that turns the rated power into heat; distortion. The first crossing from below counts.

    References
    ----------
    iec62458, klippel2006
    """
    if not (math.isfinite(threshold) and threshold > 0.0):
        raise InputError(f"threshold of distortion must be > 0, got {threshold:g}")
    frequency = np.asarray(frequency, np.float64)
    model = model_of(design) if model is None else model
    linear = predict(design, frequency=frequency)
    sweep = level_map(model, frequency, _levels(design, linear), threads=workers)
    quantities = _quantities(design, model, sweep, threshold)
    grid = np.log(sweep.voltage)
    followed = _followed(sweep)
    ends = np.where(followed.all(axis=1), np.inf, _last(sweep.voltage, followed))
    ratios = reading.log(np.stack([q.ratio for q in quantities], axis=-1))
    reached = np.exp(reading.crossings(grid, reading.held(ratios, followed)))
    limits = [
        CleanLimit(name=q.name, part=q.part, allowed=q.allowed, voltage=np.where(v <= ends, v, np.inf))
        for q, v in zip(quantities, reached.T, strict=True)
    ]  # fmt: skip
    if design.source.voltage_limit is not None:
        exact = np.full(frequency.shape, design.source.voltage_limit)
        limits.append(
            CleanLimit(name="amplifier voltage", part="", allowed=design.source.voltage_limit, voltage=exact)
        )
    if np.isfinite(ends).any():
        limits.append(CleanLimit(name=NO_MOTION, part="", allowed=math.nan, voltage=ends))
    return _gathered(model, sweep, tuple(limits), linear, threshold, followed)


def _gathered(
    model: Model,
    sweep: LevelMap,
    limits: tuple[CleanLimit, ...],
    linear: Response,
    threshold: float,
    followed: NDArray[np.bool_],
) -> CleanLevels:
    voltages = np.stack([limit.voltage for limit in limits])
    first = np.argmin(voltages, axis=0)
    voltage = voltages[first, np.arange(voltages.shape[1])]
    limited = np.isfinite(voltage)
    grid, at = np.log(sweep.voltage), np.log(np.where(limited, np.maximum(voltage, 1e-12), 1.0))

    def read(values: Real) -> Real:
        return np.where(
            limited, reading.read(grid, reading.held(values[:, :, None], followed)[:, :, 0], at), np.nan
        )

    level = np.where(voltage > 0.0, read(_fundamental_level(sweep)), -np.inf)
    return CleanLevels(
        frequency=sweep.frequency,
        voltage=voltage,
        level=np.where(limited, level, np.inf),
        binding=tuple(limits[i].name if ok else NO_LIMIT for i, ok in zip(first, limited, strict=True)),
        limits=limits,
        linear=linear,
        sweep=sweep,
        distortion=np.exp(read(reading.log(sweep.pressure.distortion))),
        offset=read(sweep.driver.harmonics[..., 0]) - float(model.rest[model.travel_at[0]]),
        opening_offsets=tuple(
            read(wave.harmonics[..., 0]) - (float(model.rest[state]) if state >= 0 else 0.0)
            for wave, state in zip(sweep.openings, model.travel_at[1:], strict=True)
        ),
        threshold=threshold,
        remarks=(*model.announced, *_met(sweep, voltage, limited)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Quantity:
    """A limit and how much of it is used up, shape (nf, nl)."""

    name: str
    part: str
    allowed: float
    ratio: Real


def _quantities(design: Design, model: Model, sweep: LevelMap, threshold: float) -> list[_Quantity]:
    driver = model.driver
    found = []

    def travel(name: str, part: str, allowed: float, wave: Wave, at: int) -> None:
        if math.isfinite(allowed):
            used = _used(wave, float(model.rest[at]), allowed)
            found.append(_Quantity(name=name, part=part, allowed=allowed, ratio=used))

    travel(
        "driver travel",
        driver.name,
        linear_travel(driver.xmax, driver.xmech, 0.0),
        sweep.driver,
        model.travel_at[0],
    )
    for opening, wave, at in zip(design.openings, sweep.openings, model.travel_at[1:], strict=True):
        if isinstance(opening, PassiveOpening):
            p = opening.passive
            travel("passive travel", p.name, linear_travel(p.xmax, p.xmech, 0.0), wave, at)
        else:
            allowed = air_speed_limit(opening)
            found.append(
                _Quantity(name="air speed", part="", allowed=allowed, ratio=_used(wave, 0.0, allowed))
            )
    current = _current(sweep.current)
    if design.source.current_limit is not None:
        allowed = design.source.current_limit
        found.append(_Quantity(name="amplifier current", part="", allowed=allowed, ratio=current / allowed))
    if driver.pmax is not None:
        allowed = math.sqrt(driver.pmax / driver.re)
        found.append(
            _Quantity(name="rated power", part=driver.name, allowed=allowed, ratio=current / allowed)
        )
    ratio = sweep.pressure.distortion / threshold
    found.append(_Quantity(name=DISTORTION_NAME, part="", allowed=threshold, ratio=ratio))
    return found


def _used(wave: Wave, rest: float, allowed: float) -> Real:
    """Share of the travel used on either side, from where the part is without sound to its limit."""
    low, high = reading.extremes(wave)
    with np.errstate(divide="ignore", invalid="ignore"):
        out = np.where(allowed > rest, (high - rest) / (allowed - rest), np.inf)
        back = np.where(allowed > -rest, (rest - low) / (allowed + rest), np.inf)
    return np.asarray(np.maximum(out, back))


def _current(wave: Wave) -> Real:
    """Root mean square. [A]."""
    return np.asarray(
        np.sqrt(wave.harmonics[..., 0] ** 2 + 0.5 * np.sum(wave.harmonics[..., 1:] ** 2, axis=-1))
    )


def _levels(design: Design, linear: Response) -> Real:
    """Voltages to follow: over what the amplifier gives, and from well below what the linear model allows."""
    moving = [limit for limit in linear.limits if not limit.name.startswith("amplifier")]
    gain = np.abs(filters.cascade(design.source.filters, linear.frequency))
    allowed = [limit.voltage * gain for limit in moving]
    lowest = np.min(allowed, axis=0) if allowed else np.array([])
    lowest = lowest[np.isfinite(lowest) & (lowest > 0.0)]
    tops = [_FAR * float(lowest.max())] if lowest.size else []
    if design.source.voltage_limit is not None:
        tops.append(_OVER * design.source.voltage_limit)
    top = min(tops) if tops else 4.0 * design.source.voltage
    bottom = min([top / 2.0 ** (0.5 * (_LEVELS - 1)), *(0.7 * lowest).tolist()])
    steps = math.ceil(2.0 * math.log2(top / bottom)) + 1
    return np.geomspace(bottom, top, min(max(steps, _LEVELS), _MOST_LEVELS))


def _followed(sweep: LevelMap) -> NDArray[np.bool_]:
    """Up to where a steady motion was found, without a gap, shape (nf, nl)."""
    finite = np.isfinite(sweep.driver.harmonics[..., 1])
    return np.asarray(np.logical_and.accumulate(sweep.settled & finite, axis=1))


def _fundamental_level(sweep: LevelMap) -> Real:
    with np.errstate(divide="ignore"):
        return np.asarray(
            20.0 * np.log10(sweep.pressure.harmonics[..., 1] / math.sqrt(2.0) / REFERENCE_PRESSURE)
        )


def _last(voltage: Real, followed: NDArray[np.bool_]) -> Real:
    """The highest voltage up to which each frequency was followed, shape (nf,)."""
    count = followed.sum(axis=1)
    return np.where(count > 0, voltage[np.maximum(count - 1, 0)], 0.0)


def _met(sweep: LevelMap, clean: Real, limited: NDArray[np.bool_]) -> list[str]:
    """What the motion did on the way up to the clean level, in words."""
    said = []
    if not limited.all():
        said.append(
            f"levels were followed up to {sweep.voltage[-1]:.3g} V, where nothing limits some frequencies yet"
        )
    within = sweep.voltage[None, :] <= clean[:, None]
    for what, words in (
        (sweep.two_ways & within, "two steady motions are possible within the clean level"),
        (sweep.jumped & within, "the motion jumps on the way up to the clean level"),
    ):
        where = sweep.frequency[what.any(axis=1)]
        if where.size:
            said.append(f"{words}, first at {where[0]:.3g} Hz: the box may leap from one to the other")
    return said
