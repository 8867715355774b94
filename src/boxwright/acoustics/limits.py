"""What limits the output: each limit as the source voltage that reaches it, and which one binds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import ends
from boxwright.design import Design, Facing, PassiveOpening, VentOpening
from boxwright.parts.driver import Driver

if TYPE_CHECKING:
    from boxwright.acoustics.motion import Motion

__all__ = ["GRAVITY", "Limit", "air_speed_limit", "clean_level", "limits_of", "linear_travel", "sag"]

Real = NDArray[np.float64]

GRAVITY = 9.80665

# Onset of audible noise, peak air speed at the level wanted: guidance from the papers, editable in every file.
PLAIN_EDGE_SPEED = 17.0
# A rounding of a quarter of the diameter or more is credited with half as much again (common practice, no source).
FLARE_GAIN = 0.5
FLARE_FULL = 0.25

NO_LIMIT = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit over frequency.

    Attributes
    ----------
    name : str
        driver travel, passive travel, air speed, amplifier voltage, amplifier current or rated power.
    part : str
        The part it belongs to.
    allowed : float
        The value that must not be exceeded, in the unit of the quantity; the rated power as the current that makes it
        in re. [m, m/s, V or A]
    voltage : ndarray, shape (nf,)
        Source voltage before the filters, rms, that reaches it. [V]
    """

    name: str
    part: str
    allowed: float
    voltage: Real


def sag(mass: float, compliance: float, facing: Facing) -> float:
    """How far a cone hangs off its rest position under its own weight. [m].

    Parameters
    ----------
    mass : float
        Moving mass. [kg]
    compliance : float
        [m/N]
    facing : str
        A cone that faces sideways does not sag.
    """
    return 0.0 if facing == "sideways" else mass * GRAVITY * compliance


def linear_travel(xmax: float | None, xmech: float | None, sagged: float) -> float:
    """One-way travel left for sound; inf when the part states none. [m]."""
    stated = [x for x in (xmax, xmech) if x is not None]
    return max(min(stated) - sagged, 0.0) if stated else math.inf


def air_speed_limit(opening: VentOpening) -> float:
    """Highest peak air speed allowed in a vent: the file's own, else by its edge. [m/s].

    References
    ----------
    roozen1998, salvatti2002
    """
    if opening.max_air_speed is not None:
        return opening.max_air_speed
    across = opening.diameter if opening.shape == "round" else min(opening.width, opening.height)
    return PLAIN_EDGE_SPEED * (1.0 + FLARE_GAIN * min(opening.flare / (FLARE_FULL * across), 1.0))


def limits_of(
    design: Design, driver: Driver, motion: Motion, gain: Real, w: Real
) -> tuple[tuple[Limit, ...], tuple[str, ...]]:
    """Every limit of a design, and remarks on what could not be judged.

    Parameters
    ----------
    driver : Driver
        The equivalent driver.
    motion : Motion
        Per volt at the amplifier's terminals.
    gain : ndarray, shape (nf,)
        Magnitude of the filters. [-]
    w : ndarray, shape (nf,)
        [rad/s]
    """
    peak = math.sqrt(2.0)
    limits: list[Limit] = []
    remarks: list[str] = []

    def add(name: str, part: str, allowed: float, per_volt: Real) -> None:
        with np.errstate(divide="ignore", invalid="ignore"):
            voltage = np.where(per_volt > 0.0, allowed / per_volt, np.inf)
        limits.append(Limit(name=name, part=part, allowed=allowed, voltage=voltage))

    hang = sag(driver.mms, driver.cms, design.arrangement.facing)
    allowed = linear_travel(driver.xmax, driver.xmech, hang)
    if math.isinf(allowed):
        remarks.append("the driver states no xmax: its travel is not limited here")
    else:
        add("driver travel", driver.name, allowed, peak * np.abs(motion.velocity) * gain / w)
    if hang > 0.0:
        remarks.append(
            f"the cone faces {design.arrangement.facing} and sags by {hang * 1e3:.2g} mm, taken off its travel"
        )

    for opening, inner, outer in zip(design.openings, motion.inner, motion.outer, strict=True):
        flow = peak * np.maximum(np.abs(inner), np.abs(outer)) * gain / opening.count
        if isinstance(opening, PassiveOpening):
            part = opening.passive
            hang = sag(part.mmp + opening.added_mass, part.cmp, opening.facing)
            allowed = linear_travel(part.xmax, part.xmech, hang)
            if math.isinf(allowed):
                remarks.append("a passive states no xmax: its travel is not limited here")
            else:
                add("passive travel", part.name, allowed, flow / (w * part.sp))
            if hang > 0.0:
                remarks.append(
                    f"the passive faces {opening.facing} and sags by {hang * 1e3:.2g} mm, taken off its travel"
                )
            if part.added_mass_max is not None and opening.added_mass > part.added_mass_max:
                remarks.append(
                    f"{opening.added_mass * 1e3:.0f} g are added to a passive that takes "
                    f"{part.added_mass_max * 1e3:.0f} g"
                )
        else:
            add("air speed", "", air_speed_limit(opening), flow / ends.vent_area(opening))

    source = design.source
    if source.voltage_limit is not None:
        add("amplifier voltage", "", source.voltage_limit, gain)
    if source.current_limit is not None:
        add("amplifier current", "", source.current_limit, np.abs(motion.current) * gain)
    if driver.pmax is not None:
        # the current that turns the rated power into heat in re
        current = math.sqrt(driver.pmax / driver.re)
        add("rated power", driver.name, current, np.abs(motion.current) * gain)
    return tuple(limits), tuple(remarks)


def clean_level(level_per_volt: Real, limits: tuple[Limit, ...]) -> tuple[Real, tuple[str, ...]]:
    """Highest level that breaks no limit, and the name of the limit that binds.

    Parameters
    ----------
    level_per_volt : ndarray, shape (nf,)
        Level at a source voltage of 1 V. [dB]
    limits : tuple of Limit

    Returns
    -------
    level : ndarray, shape (nf,)
        inf where nothing limits. [dB]
    binding : tuple of str
    """
    if not limits:
        return np.full(level_per_volt.shape, np.inf), (NO_LIMIT,) * level_per_volt.size
    voltages = np.stack([limit.voltage for limit in limits])
    first = np.argmin(voltages, axis=0)
    lowest = voltages[first, np.arange(voltages.shape[1])]
    with np.errstate(divide="ignore"):
        level = level_per_volt + 20.0 * np.log10(lowest)
    names = (*(limit.name for limit in limits), NO_LIMIT)
    which = np.where(np.isfinite(lowest), first, len(limits)).tolist()
    return level, tuple(names[i] for i in which)
