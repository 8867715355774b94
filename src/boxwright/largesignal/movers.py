"""What moves in a design at level: the cone and every set of openings, each as one mass between two places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boxwright.acoustics import ends, lines
from boxwright.acoustics.limits import GRAVITY
from boxwright.acoustics.loads import chamber_resonance, named_chambers
from boxwright.design import Design, Facing, Opening, PassiveOpening, VentOpening
from boxwright.errors import InputError
from boxwright.largesignal.curvetable import CurveTable
from boxwright.largesignal.ladders import CreepLadder
from boxwright.parts.driver import Driver

__all__ = ["Mover", "cone_of", "opening_of", "sagged", "tight_chambers", "vent_loss"]

# Pressure that the flow through a vent loses, over ½ρ·v²: a plain edge loses about all of it; a rounding of a quarter
# of the opening or more is credited with seven tenths of it (common practice, no source).
SHARP_LOSS = 1.0
ROUND_GAIN = 0.7
ROUND_FULL = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Mover:
    """One thing that moves; positive motion goes from where it begins to where it ends.

    Attributes
    ----------
    name : str
    mass, damping, stiffness : float
        Of all equal ones together. [kg], [N·s/m], [N/m]
    area : float
        [m²]
    quadratic : float
        Force over velocity squared. [N·s²/m²]
    weight : float
        Positive where it pulls in the direction of positive motion. [N]
    begins, ends : str
        Names of chambers, or "outside".
    curve : CurveTable or None
        Stiffness over travel.
    give : float
        Acoustic compliance that it adds to the chambers at its two ends, each. [m³/Pa]
    creep : tuple of (float, float)
        Compliance that gives way late, and its delay. [m/N], [s]
    """

    name: str
    mass: float
    damping: float
    stiffness: float
    area: float
    quadratic: float = 0.0
    weight: float = 0.0
    begins: str
    ends: str
    curve: CurveTable | None = None
    give: float = 0.0
    creep: tuple[tuple[float, float], ...] = ()


def vent_loss(opening: VentOpening) -> float:
    """Loss factor K of a vent, both ends together: ½ρK·v|v| is lost. [-].

    1 with plain edges, down to 0.3 when both are rounded by a quarter of the opening (common practice, no source).
    """
    across = opening.diameter if opening.shape == "round" else min(opening.width, opening.height)
    return SHARP_LOSS - ROUND_GAIN * min(opening.flare / (ROUND_FULL * across), 1.0)


def cone_of(design: Design, driver: Driver, curve: CurveTable | None, creep: CreepLadder) -> Mover:
    """The cone of the equivalent driver.

    Parameters
    ----------
    curve : CurveTable or None
        Its stiffness over travel.
    creep : CreepLadder
        How its compliance grows with time.
    """
    # of push-push pairs that face up and down one sags out and one in: together they do not move
    still = design.arrangement.mounting == "push-push"
    return Mover(
        name="cone",
        mass=driver.mms,
        damping=driver.rms,
        stiffness=1.0 / (driver.cms * creep.prompt),
        area=driver.sd,
        weight=_weight(driver.mms, "sideways" if still else design.arrangement.facing),
        begins="rear" if design.rear is not None else "outside",
        ends="front" if design.front is not None else "outside",
        curve=curve,
        creep=tuple((driver.cms * share, delay) for share, delay in creep.cells),
    )


def _weight(mass: float, facing: Facing) -> float:
    return {"sideways": 0.0, "down": 1.0, "up": -1.0}[facing] * mass * GRAVITY


def opening_of(
    design: Design, driver: Driver, opening: Opening, curve: CurveTable | None, number: int
) -> Mover:
    """All openings of a set as one: masses, resistances, stiffnesses and areas add.

    Parameters
    ----------
    number : int
        Of the set, from 1.

    Notes
    -----
    A vent is one mass and one resistance, with half of the give of its own air at either end: its duct as a π circuit,
    with the values at the chamber's tuning, boundary layers included. Exact there; within a few tenths of a decibel up
    to about two thirds of the first pipe resonance.

    References
    ----------
    stinson1991
    """
    count = opening.count
    if isinstance(opening, PassiveOpening):
        part = opening.passive
        mass = count * (part.mmp + opening.added_mass)
        return Mover(
            name=f"opening {number}",
            mass=mass,
            damping=count * part.rmp,
            stiffness=count / part.cmp,
            area=count * part.sp,
            weight=_weight(mass, opening.facing),
            begins=opening.chamber,
            ends=opening.to,
            curve=curve,
        )
    chamber = next((c for c in named_chambers(design) if c.name == opening.chamber), None)
    if chamber is None:
        raise InputError(f"chamber of a vent must be one of the design's, got {opening.chamber}")
    w = np.array([2.0 * np.pi * chamber_resonance(design, chamber, driver)])
    near, across, _ = lines.vent_two_port(w, opening, design.air)
    give = float((near[0] - across[0]).imag) / float(w[0])
    impedance = 1.0 / (near[0] - 1j * w[0] * give)
    area = count * ends.vent_area(opening)
    return Mover(
        name=f"opening {number}",
        mass=area**2 * float(impedance.imag) / float(w[0]),
        damping=area**2 * float(impedance.real),
        stiffness=0.0,
        area=area,
        quadratic=0.5 * design.air.density * vent_loss(opening) * area,
        give=give,
        begins=opening.chamber,
        ends=opening.to,
    )


def tight_chambers(
    movers: list[Mover], leaks: list[float], place: dict[str, int]
) -> dict[str, tuple[str, ...]]:
    """Chambers whose filling follows from displacements: one of every group that no slow flow of air can leave.

    Parameters
    ----------
    leaks : list of float
        Conductance of every chamber's leak. [m³/(Pa·s)]
    place : dict of str to int
        Chambers and their place in ``leaks``; "outside" at −1.

    Returns
    -------
    dict of str to tuple of str
        That chamber, and all of its group: chambers that vents join.
    """
    group = {name: {name} for name in place}
    for mover in movers:
        if mover.stiffness == 0.0:
            joined = group[mover.begins] | group[mover.ends]
            for name in joined:
                group[name] = joined
    tight: dict[str, tuple[str, ...]] = {}
    for name, k in place.items():
        members = group[name]
        leaky = any(leaks[place[m]] > 0.0 for m in members if m != "outside")
        if k >= 0 and "outside" not in members and not leaky and not any(m in tight for m in members):
            tight[name] = tuple(sorted(members))
    return tight


def sagged(mover: Mover) -> float:
    """Travel at which the suspension alone carries the weight, creep done. [m]."""
    if mover.weight == 0.0:
        return 0.0

    def missing(x: float) -> float:
        ratio = mover.curve(x)[0] if mover.curve is not None else 1.0
        return mover.weight - mover.stiffness * ratio * (x - crept)

    from scipy.optimize import brentq

    crept = mover.weight * sum(compliance for compliance, _ in mover.creep)
    far = crept + mover.weight / mover.stiffness
    while missing(far) * mover.weight > 0.0:
        far *= 2.0
    return float(brentq(missing, crept, far, xtol=1e-12))
