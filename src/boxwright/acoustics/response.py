"""The small-signal response of a design: level, travel, impedance, and the highest clean level with what binds it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boxwright.acoustics import ends, filters, placement
from boxwright.acoustics.checking import check_design, check_voltage
from boxwright.acoustics.features import find_passband
from boxwright.acoustics.limits import Limit, clean_level, limits_of
from boxwright.acoustics.loads import chamber_resonance, named_chambers
from boxwright.acoustics.motion import Motion, solve
from boxwright.compound import equivalent_driver
from boxwright.design import Design, PassiveOpening, VentOpening
from boxwright.errors import InputError
from boxwright.parts.driver import Driver

__all__ = [
    "REFERENCE_PRESSURE",
    "OpeningResponse",
    "Response",
    "default_frequencies",
    "level_per_volt",
    "predict",
]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

REFERENCE_PRESSURE = 20e-6
HALF_POWER = 10.0 * math.log10(2.0)

# Range above the tuning in which the passband is looked for.
_LEAST_SPAN, _MOST_SPAN = 3.0, 12.0

# Relative step of the difference behind the group delay: it is that of a frequency half a millionth higher, and keeps
# ten digits.
_DELAY_STEP = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningResponse:
    """One set of equal openings at the source voltage.

    Attributes
    ----------
    kind : str
        passive or vent.
    travel : ndarray, shape (nf,), or None
        Of each passive, peak. [m]
    air_speed : ndarray, shape (nf,), or None
        In each vent, peak, mean over its cross-section. [m/s]
    volume : ndarray, shape (nf,)
        Volume moved by all of the set, peak. [m³]
    """

    kind: str
    name: str
    count: int
    travel: Real | None
    air_speed: Real | None
    volume: Real

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON."""
        curves = {"travel_m": self.travel, "air_speed_m_s": self.air_speed, "volume_m3": self.volume}
        return {
            "kind": self.kind,
            "name": self.name,
            "count": self.count,
            **{key: _plain(curve) for key, curve in curves.items() if curve is not None},
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """What `predict` returns; frequency is the last axis of every curve.

    Attributes
    ----------
    frequency : ndarray, shape (nf,)
        [Hz]
    voltage : float
        At the source, before the filters, rms. [V]
    level : ndarray, shape (nf,)
        At the listener. [dB re 20 µPa rms]
    phase : ndarray, shape (nf,)
        Of the pressure, the flight time to the listener taken out. [degree]
    group_delay : ndarray, shape (nf,)
        −dφ/dω of the same. [s]
    impedance : ndarray, shape (nf,)
        At the terminals of the box. [Ω]
    driver_travel : ndarray, shape (nf,)
        Peak. [m]
    driver_volume : ndarray, shape (nf,)
        Volume moved by the cones, peak. [m³]
    openings : tuple of OpeningResponse
    clean_level : ndarray, shape (nf,)
        Highest level that breaks no limit; inf where nothing limits. [dB re 20 µPa rms]
    binding : tuple of str
        The limit that binds at each frequency.
    limits : tuple of Limit
        Every limit with the source voltage that reaches it.
    tuning : float
        Of the openings, or the resonance of a closed box. [Hz]
    reach : float or None
        Where the level is half its passband power; None: nowhere. [Hz]
    ripple : float
        Highest minus lowest level in the passband, from its first peak on. [dB]
    warnings : tuple of str
    """

    name: str
    frequency: Real
    voltage: float
    level: Real
    phase: Real
    group_delay: Real
    impedance: Complex
    driver_travel: Real
    driver_volume: Real
    openings: tuple[OpeningResponse, ...]
    clean_level: Real
    binding: tuple[str, ...]
    limits: tuple[Limit, ...]
    tuning: float
    reach: float | None
    ripple: float
    warnings: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON; what is infinite or not a number becomes None."""
        return {
            "name": self.name,
            "voltage_v": self.voltage,
            "frequency_hz": _plain(self.frequency),
            "level_db": _plain(self.level),
            "phase_deg": _plain(self.phase),
            "group_delay_s": _plain(self.group_delay),
            "impedance_ohm": _plain(np.abs(self.impedance)),
            "impedance_phase_deg": _plain(np.degrees(np.angle(self.impedance))),
            "driver_travel_m": _plain(self.driver_travel),
            "openings": [opening.to_dict() for opening in self.openings],
            "clean_level_db": _plain(self.clean_level),
            "binding": list(self.binding),
            "tuning_hz": self.tuning,
            "reach_hz": self.reach,
            "ripple_db": self.ripple,
            "warnings": list(self.warnings),
        }


def _plain(values: Real) -> list[float | None]:
    return [float(v) if math.isfinite(v) else None for v in values]


def default_frequencies(points: int = 300, start: float = 10.0, stop: float = 300.0) -> Real:
    """Logarithmically spaced frequencies. [Hz]."""
    return np.geomspace(start, stop, points)


def _decibel(pressure: Complex) -> Real:
    with np.errstate(divide="ignore"):
        return np.asarray(20.0 * np.log10(np.abs(pressure) / REFERENCE_PRESSURE), dtype=np.float64)


def _pressure(design: Design, driver: Driver, frequency: Real) -> tuple[Motion, Complex, Complex]:
    motion = solve(design, driver, frequency)
    gain = filters.cascade(design.source.filters, frequency)
    return motion, gain, motion.outside * gain * placement.transfer(design.placement, design.air, frequency)


def _check_frequencies(frequency: ArrayLike | None) -> Real:
    if frequency is None:
        return default_frequencies()
    try:
        found = np.atleast_1d(np.asarray(frequency, dtype=np.float64))
    except (TypeError, ValueError) as error:
        raise InputError("frequency must be numbers in Hz, got something else") from error
    if found.ndim != 1 or found.size == 0:
        raise InputError(
            "frequency must be one list of numbers in Hz, got " + ("none" if found.size == 0 else "a table")
        )
    bad = ~(np.isfinite(found) & (found >= 0.01) & (found <= 100e3))
    if bad.any():
        raise InputError(f"frequency must lie between 0.01 and 100 000 Hz, got {found[bad][0]:g}")
    return found


def _tuning(design: Design, driver: Driver) -> float:
    chambers = {c.name: c for c in named_chambers(design)}
    with_openings = [name for name in chambers if any(name in (o.chamber, o.to) for o in design.openings)]
    for name in (*with_openings, *chambers):
        return chamber_resonance(design, chambers[name], driver)
    return driver.fs


def _asymptote(design: Design, driver: Driver) -> float:
    """Level per volt that the mass-controlled cone tends to without its inductance; inf if it is hidden. [dB]."""
    if design.front is not None or design.rear is None:
        return math.inf
    acceleration = driver.bl / ((driver.re + design.source.series_resistance) * driver.mms)
    solid = placement.SOLID_ANGLES[design.placement.space]
    pressure = design.air.density * driver.sd * acceleration / (solid * design.placement.distance)
    return 20.0 * math.log10(pressure / REFERENCE_PRESSURE)


def _highest_of_interest(design: Design, tuning: float, driver: Driver) -> float:
    """How far up the passband is looked for: well above the tuning, but below the vents' pipe tones. [Hz]."""
    base = tuning if design.front is not None else max(tuning, driver.fs)
    pipes = [
        design.air.speed_of_sound / (2.0 * ends.vent_effective_length(o))
        for o in design.openings
        if isinstance(o, VentOpening)
    ]
    return max(_LEAST_SPAN * base, min(_MOST_SPAN * base, 0.6 * min(pipes, default=math.inf)))


def _without_room(design: Design) -> tuple[Design, tuple[str, ...]]:
    """The design in plain space, where reach and ripple are read, and a note if that differs from the curves."""
    place = design.placement
    if place.room is None and place.table is None:
        return design, ()
    plain = replace(design, placement=replace(place, room=None, table=None))
    return plain, (f"reach and ripple are those of the box in {place.space} space, without the room",)


def _long_chambers(design: Design, highest: float) -> tuple[str, ...]:
    """A warning for each lumped chamber that is longer than an eighth of a wavelength within the curves."""
    found = []
    for chamber in named_chambers(design):
        if chamber.segments:
            continue
        longest = chamber.volume ** (1.0 / 3.0)
        if design.box is not None and chamber.name == "rear" and design.front is None:
            inside = (design.box.width, design.box.height, design.box.depth)
            longest = max(longest, *(side - 2.0 * design.box.wall for side in inside))
        edge = design.air.speed_of_sound / (8.0 * longest)
        if edge < highest:
            found.append(
                f"above {edge:.0f} Hz the {chamber.name} chamber is longer than an eighth of a wavelength: its air no"
                " longer acts as one spring there"
            )
    return tuple(found)


def _openings(design: Design, motion: Motion, drive: Real, w: Real) -> tuple[OpeningResponse, ...]:
    found = []
    for opening, first, second in zip(design.openings, motion.inner, motion.outer, strict=True):
        flow = drive * np.maximum(np.abs(first), np.abs(second))
        passive = opening.passive if isinstance(opening, PassiveOpening) else None
        found.append(
            OpeningResponse(
                kind="vent" if passive is None else "passive",
                name="" if passive is None else passive.name,
                count=opening.count,
                travel=None if passive is None else flow / (w * opening.count * passive.sp),
                air_speed=flow / (opening.count * ends.vent_area(opening))
                if isinstance(opening, VentOpening)
                else None,
                volume=flow / w,
            )
        )
    return tuple(found)


def _one(design: Design, frequency: Real, asked: float | None) -> Response:
    check_design(design)
    voltage = design.source.voltage if asked is None else asked
    driver = equivalent_driver(design.driver, design.arrangement)
    nf = frequency.size
    stacked = np.concatenate((frequency, frequency * (1.0 + _DELAY_STEP)))
    motion, gain, pressure = _pressure(design, driver, stacked)
    with np.errstate(divide="ignore", invalid="ignore"):
        delay = -np.angle(pressure[nf:] / pressure[:nf]) / (2.0 * np.pi * _DELAY_STEP * frequency)
    motion = motion.first(nf)
    gain, pressure = gain[:nf], pressure[:nf]
    w = 2.0 * np.pi * frequency
    drive = voltage * np.abs(gain)
    peak = math.sqrt(2.0)

    travel = peak * drive * np.abs(motion.velocity) / w
    limits, remarks = limits_of(design, driver, motion, np.abs(gain), w)
    per_volt = _decibel(pressure)
    clean, binding = clean_level(per_volt, limits)
    tuning = _tuning(design, driver)
    plain, notes = _without_room(design)
    band = find_passband(
        lambda f: _decibel(_pressure(plain, driver, f)[2]),
        low=0.08 * min(tuning, driver.fs),
        high=_highest_of_interest(plain, tuning, driver),
        asymptote=_asymptote(plain, driver),
        drop=HALF_POWER,
    )
    return Response(
        name=design.name,
        frequency=frequency,
        voltage=voltage,
        level=per_volt + 20.0 * math.log10(voltage),
        phase=np.degrees(np.angle(pressure)),
        group_delay=delay,
        impedance=motion.impedance[:nf],
        driver_travel=travel,
        driver_volume=travel * driver.sd,
        openings=_openings(design, motion, peak * drive, w),
        clean_level=clean,
        binding=binding,
        limits=limits,
        tuning=tuning,
        reach=band.reach,
        ripple=band.ripple,
        warnings=(*remarks, *notes, *_long_chambers(design, float(frequency.max()))),
    )


def level_per_volt(design: Design, frequency: ArrayLike) -> Real:
    """Level at the listener for a source voltage of 1 V, and nothing else. [dB re 20 µPa rms].

    Parameters
    ----------
    frequency : array_like, shape (nf,)
        [Hz]
    """
    driver = equivalent_driver(design.driver, design.arrangement)
    return _decibel(_pressure(design, driver, _check_frequencies(frequency))[2])


@overload
def predict(
    design: Design, *, frequency: ArrayLike | None = None, voltage: float | None = None
) -> Response: ...
@overload
def predict(
    design: Sequence[Design], *, frequency: ArrayLike | None = None, voltage: float | None = None
) -> list[Response]: ...
def predict(
    design: Design | Sequence[Design], *, frequency: ArrayLike | None = None, voltage: float | None = None
) -> Response | list[Response]:
    """Compute the small-signal response of one design or of several.

    Parameters
    ----------
    design : Design or sequence of Design
    frequency : array_like, shape (nf,), optional
        Where to compute; by default 300 from 10 to 300 Hz. [Hz]
    voltage : float, optional
        At the source, rms; by default each design's own. [V]

    Returns
    -------
    Response or list of Response

    Raises
    ------
    InputError
        If a frequency or the voltage is out of range.

    Notes
    -----
    ``Zm = jω·mms + rms + 1/(jω·cms) + sd²·(Z_rear + Z_front)``, ``v = bl·V/(Ze·Zm + bl²)``; pressure from the signed
    sum of all volume velocities that face outside, leaks included. Phase and group delay are referred to the box: the
    flight time to the listener is left out. The reach is where the level is half its passband power; the passband
    level is the one that the mass-controlled cone tends to without its inductance, or the highest level if that is
    less.

    References
    ----------
    small1972direct, small1973vented, small1974
    """
    checked = _check_frequencies(frequency)
    if voltage is not None:
        check_voltage(voltage)
    if isinstance(design, Design):
        return _one(design, checked, voltage)
    several: object = design
    if isinstance(several, str) or not isinstance(several, Iterable):
        check_design(several)
    return [_one(each, checked, voltage) for each in design]
