"""Highest level of short shaped bursts, judged by their harmonics.

References
----------
cta2010
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.response import REFERENCE_PRESSURE
from boxwright.design import PassiveOpening, Placement
from boxwright.errors import CannotSolve, InputError
from boxwright.largesignal.model import Model
from boxwright.largesignal.transient import Transient, follow_voltage, pressure_at, substeps_for
from boxwright.parts import Driver, Passive

__all__ = [
    "CURVE_ENDS",
    "CYCLES",
    "FREQUENCIES",
    "THRESHOLDS",
    "Burst",
    "burst_levels",
    "burst_wave",
    "harmonic_peaks",
]

Real = NDArray[np.float64]

CYCLES = 6.5
FREQUENCIES = tuple(10.0 ** (n / 10.0) for n in range(13, 19))
"""Third octaves from 20 to 63 Hz, exact. [Hz]"""
THRESHOLDS = {2: -10.0, 3: -15.0, 4: -20.0, 5: -20.0, 6: -30.0, 7: -30.0, 8: -30.0} | dict.fromkeys(
    range(9, 17), -40.0
)
"""Highest level of each harmonic against the fundamental, the form of 2006; later ones go by frequency. [dB]"""

_PER_CYCLE = 64
_HALF_LOBE = 2.0 / CYCLES  # from its middle to its first nulls, over the frequency
_ROUNDS = 12
_LOUDEST = 40.0
_PADDING = 8
CURVE_ENDS = 3.0
"""Times xmax: how far curves are known at most where no stop is stated (common practice, no source). [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """The loudest clean burst at one frequency.

    Attributes
    ----------
    frequency : float
        [Hz]
    level : float
        Highest instantaneous pressure at 1 m over a floor. [dB re 20 µPa peak]
    voltage : float
        Highest instantaneous voltage of the burst at the amplifier's terminals. [V]
    binding : str
        harmonic 2 to 16, amplifier voltage, amplifier current, cone stop, passive stop, end of the cone's or of
        the passive's curve, or none.
    harmonics : dict of int to float
        Level of each harmonic against the fundamental at that burst. [dB]
    travel : float
        Highest of the cone, from where it is without sound. [m]
    openings : tuple of float
        Highest travel of each set of passives [m] or air speed in each set of vents [m/s].
    """

    frequency: float
    level: float
    voltage: float
    binding: str
    harmonics: dict[int, float]
    travel: float
    openings: tuple[float, ...]

    def to_dict(self) -> dict[str, object]:
        """Plain numbers, SI."""
        return {
            "frequency_hz": self.frequency,
            "peak_level_db": self.level,
            "peak_voltage_v": self.voltage,
            "binding": self.binding,
            "harmonics_db": {str(order): level for order, level in self.harmonics.items()},
            "driver_travel_m": self.travel,
            "openings": list(self.openings),
        }


def burst_wave(frequency: float, sample_rate: float, *, cycles: float = CYCLES) -> Real:
    """A sine under a raised cosine, highest value 1, from its first to its last moment.

    Parameters
    ----------
    frequency : float
        > 0. [Hz]
    sample_rate : float
        [Hz]

    Notes
    -----
    ``½·(1 − cos(2π·f·t/6.5))·sin(2π·f·t)``.

    References
    ----------
    cta2010
    """
    if not (math.isfinite(frequency) and 0.0 < frequency < 0.5 * sample_rate):
        raise InputError(
            f"frequency of a burst must be > 0 Hz and below half the sample rate, got {frequency:g}"
        )
    turns = frequency * np.arange(math.floor(cycles / frequency * sample_rate) + 1) / sample_rate
    return np.asarray(0.5 * (1.0 - np.cos(2.0 * np.pi * turns / cycles)) * np.sin(2.0 * np.pi * turns))


def harmonic_peaks(pressure: Real, sample_rate: float, frequency: float) -> dict[int, float]:
    """Level of the harmonics of a burst against its fundamental. [dB].

    Parameters
    ----------
    pressure : ndarray, shape (nt,)
        From rest to rest.
    sample_rate : float
        [Hz]
    frequency : float
        Of the burst. [Hz]

    Notes
    -----
    Each is the highest of the spectrum within the main lobe of the burst (0.308 of the fundamental to either side).
    That reading, and orders up to 16, are ours: the standard's own text was not at hand.
    """
    count = _PADDING * int(2 ** math.ceil(math.log2(pressure.size)))
    size = np.abs(np.fft.rfft(pressure, count))
    at = np.fft.rfftfreq(count, 1.0 / sample_rate)

    def highest(order: int) -> float:
        near = np.abs(at - order * frequency) <= _HALF_LOBE * frequency
        return float(size[near].max(initial=0.0))

    base = max(highest(1), 1e-300)
    return {order: 20.0 * math.log10(max(highest(order) / base, 1e-12)) for order in THRESHOLDS}


def burst_levels(
    model: Model,
    frequencies: tuple[float, ...] = FREQUENCIES,
    *,
    thresholds: dict[int, float] | None = None,
    start_voltage: float | None = None,
    workers: int | None = None,
) -> tuple[Burst, ...]:
    """The loudest clean burst at each frequency.

    Parameters
    ----------
    model : Model
    frequencies : tuple of float
        [Hz]
    thresholds : dict of int to float, optional
        Other than `THRESHOLDS`, of some or all of its orders. [dB]
    start_voltage : float, optional
        Peak voltage to begin from where no amplifier is stated; by default the source's own. [V]
    workers : int, optional
        Threads; by default one a core.

    Notes
    -----
    Bisection over the voltage. Besides harmonics the amplifier counts, at its peak values √2 times its limits, and
    the stops (xmech) of cone and passives, or three times xmax where none is stated, beyond which no curve tells
    anything; linear travel does not, the harmonics judge it. The box plays from the amplifier's terminals: its filters
    are left out. Level: the highest instantaneous pressure at 1 m over a floor, whatever the design's placement.

    References
    ----------
    cta2010
    """
    asked = THRESHOLDS | (thresholds or {})
    begin = start_voltage if start_voltage is not None else math.sqrt(2.0) * model.design.source.voltage
    threads = workers or os.cpu_count() or 1

    def loudest(frequency: float) -> Burst:
        return _loudest(_Player.of(model, frequency, asked), begin)

    with ThreadPoolExecutor(max(1, min(threads, len(frequencies)))) as pool:
        return tuple(pool.map(loudest, frequencies))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Player:
    """One burst's frequency with what every try of it needs."""

    model: Model
    frequency: float
    rate: float
    wave: Real
    substeps: int
    thresholds: dict[int, float]

    @classmethod
    def of(cls, model: Model, frequency: float, thresholds: dict[int, float]) -> _Player:
        # a box out in the open, on a floor
        ground = replace(model, design=replace(model.design, placement=Placement()))
        rate = _PER_CYCLE * frequency
        wave = burst_wave(frequency, rate)
        silent = np.zeros(wave.size)
        return cls(
            model=ground,
            frequency=frequency,
            rate=rate,
            wave=np.concatenate([wave, silent]),
            # half of what is asked for is far within the method's bound, its error far below a tenth of a decibel
            substeps=max(1, substeps_for(model, rate) // 2),
            thresholds=thresholds,
        )

    def play(self, peak: float) -> tuple[Burst, float]:
        """A burst of some peak voltage, and by how much it breaks the worst of its limits. [dB]."""
        try:
            moved = follow_voltage(self.model, peak * self.wave, self.rate, substeps=self.substeps)
        except CannotSolve:
            lost = Burst(
                frequency=self.frequency, level=math.nan, voltage=peak, binding="no bounded motion", harmonics={},
                travel=math.nan, openings=(),
            )  # fmt: skip
            return lost, math.inf
        pressure = pressure_at(self.model.design, moved.outside, self.rate)
        harmonics = harmonic_peaks(pressure, self.rate, self.frequency)
        used = {f"harmonic {order}": harmonics[order] - limit for order, limit in self.thresholds.items()}
        used |= self._beside(peak, moved)
        binding = max(used, key=lambda name: used[name])
        rest = self.model.rest
        burst = Burst(
            frequency=self.frequency,
            level=20.0 * math.log10(max(float(np.max(np.abs(pressure))), 1e-300) / REFERENCE_PRESSURE),
            voltage=peak,
            binding=binding,
            harmonics=harmonics,
            travel=float(np.max(np.abs(moved.travel - rest[self.model.travel_at[0]]))),
            openings=tuple(
                float(np.max(np.abs(wave - (rest[at] if at >= 0 else 0.0))))
                for wave, at in zip(moved.openings, self.model.travel_at[1:], strict=True)
            ),
        )
        return burst, used[binding]

    def _beside(self, peak: float, moved: Transient) -> dict[str, float]:
        """How far amplifier and stops are used up; 0: just. [dB]."""
        design = self.model.design
        used: dict[str, float] = {}

        def add(name: str, value: float, allowed: float | None) -> None:
            if allowed is not None:
                used[name] = 20.0 * math.log10(max(value / allowed, 1e-12))

        root = math.sqrt(2.0)
        source = design.source
        add("amplifier voltage", peak, root * source.voltage_limit if source.voltage_limit else None)
        highest = float(np.max(np.abs(moved.current)))
        add("amplifier current", highest, root * source.current_limit if source.current_limit else None)

        def stop(kind: str, wave: Real, part: Driver | Passive) -> None:
            highest = float(np.max(np.abs(wave)))
            if part.xmech is not None:
                add(f"{kind} stop", highest, part.xmech)
            elif part.xmax is not None:
                add(f"end of the {kind}'s curve", highest, CURVE_ENDS * part.xmax)

        stop("cone", moved.travel, self.model.driver)
        for opening, wave in zip(design.openings, moved.openings, strict=True):
            if isinstance(opening, PassiveOpening):
                stop("passive", wave, opening.passive)
        return used


def _loudest(player: _Player, begin: float) -> Burst:
    limit = player.model.design.source.voltage_limit
    if limit is not None:
        high = math.sqrt(2.0) * limit
        top, over = player.play(high)
        if over <= 1e-9:
            return top
    else:
        high = begin
        top, over = player.play(high)
        while over < 0.0 and high < begin * 10.0 ** (_LOUDEST / 20.0):
            high *= 2.0
            top, over = player.play(high)
        if over < 0.0:
            return replace(top, binding="none")
    low = high
    found: Burst | None = None
    while found is None and low > 1e-6 * high:
        low *= 0.5
        tried, over = player.play(low)
        if over <= 0.0:
            found = tried
        else:
            high, top = low, tried
    if found is None:
        return replace(top, level=-math.inf, voltage=0.0)
    return _bisected(player.play, found, top)


def _bisected(play: Callable[[float], tuple[Burst, float]], clean: Burst, broken: Burst) -> Burst:
    for _ in range(_ROUNDS):
        tried, over = play(math.sqrt(clean.voltage * broken.voltage))
        if over <= 0.0:
            clean = tried
        else:
            broken = tried
    # named after what the next louder one breaks
    return replace(clean, binding=broken.binding)
