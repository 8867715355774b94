"""Gravity and recoil: how far cones hang, how hard they push the box about, and when it walks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boxwright.acoustics import filters
from boxwright.acoustics.limits import GRAVITY, linear_travel, sag
from boxwright.acoustics.motion import solve
from boxwright.compound import equivalent_driver
from boxwright.design import Design, Facing, PassiveOpening, VentOpening
from boxwright.errors import InputError
from boxwright.largesignal.directions import Directions, directions_of, taken_from
from boxwright.workshop.carcass import carcass, finished_weight

if TYPE_CHECKING:
    from boxwright.parts import Sheet
    from boxwright.workshop.layout import Layout

__all__ = ["FRICTION", "Hang", "Reaction", "box_mass", "hang_of", "reaction"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

FRICTION = 0.4
"""Of a box with plain feet on a wooden floor. Common practice, no source. [-]"""
_PHASES = 360


@dataclass(frozen=True, slots=True, kw_only=True)
class Hang:
    """What gravity does to one kind of cone.

    Attributes
    ----------
    kind : str
        driver or passive.
    name : str
        Of the part.
    facing : str
        sideways, up or down.
    sag : float
        Off its rest position: inward when it faces up, outward when it faces down. [m]
    travel : float
        Linear travel that is stated; inf: none is. [m]
    left : float
        Of it, each way. [m]
    words : str
        The same in a sentence.
    """

    kind: Literal["driver", "passive"]
    name: str
    facing: Facing
    sag: float
    travel: float
    left: float
    words: str

    @property
    def lost(self) -> float:
        """Share of the travel that gravity takes. [-]."""
        return 0.0 if math.isinf(self.travel) or self.travel <= 0.0 else 1.0 - self.left / self.travel


def _hang(
    kind: Literal["driver", "passive"], name: str, facing: Facing, hang: float, travel: float, left: float
) -> Hang:
    which = f"the {kind}{' ' + name if name else ''}"
    if hang == 0.0:
        words = f"{which} faces sideways and does not sag"
    else:
        way = "inward" if facing == "up" else "outward"
        words = f"{which} faces {facing} and hangs {hang * 1e3:.2g} mm {way}"
        if math.isfinite(travel):
            words += f", {left * 1e3:.2g} of {travel * 1e3:.2g} mm of travel are left"
        if left <= 0.0:
            words += ": it must not face that way"
    return Hang(kind=kind, name=name, facing=facing, sag=hang, travel=travel, left=left, words=words)


def hang_of(design: Design) -> tuple[Hang, ...]:
    """Sag and the travel that is left, of the cones and of each set of passives.

    Notes
    -----
    ``sag = m·g·C``, the mass with everything added to it: the linear suspension. One that stiffens hangs less; how far
    a cone moves off its rest position under drive is for the large-signal solver.
    """
    part, facing = equivalent_driver(design.driver, design.arrangement), design.arrangement.facing
    hang = sag(part.mms, part.cms, facing)
    travel = linear_travel(part.xmax, part.xmech, 0.0)
    left = linear_travel(part.xmax, part.xmech, hang)
    found = [_hang("driver", part.name, facing, hang, travel, left)]
    for opening in design.openings:
        if isinstance(opening, PassiveOpening):
            p = opening.passive
            hang = sag(p.mmp + opening.added_mass, p.cmp, opening.facing)
            travel = linear_travel(p.xmax, p.xmech, 0.0)
            left = linear_travel(p.xmax, p.xmech, hang)
            found.append(_hang("passive", p.name, opening.facing, hang, travel, left))
    return tuple(found)


def box_mass(design: Design, sheet: Sheet) -> float:
    """Mass of the finished box: wood, drivers, passives and what is added to them. [kg].

    Raises
    ------
    InputError
        If the design has no box.
    """
    if design.box is None:
        raise InputError("design must have a [box] for its weight, got none", mend="state its mass")
    passives = [(o.passive, o.count, o.added_mass) for o in design.openings if isinstance(o, PassiveOpening)]
    return finished_weight(
        carcass(design.box, sheet), drivers=[(design.driver, design.arrangement.count)], passives=passives
    ).total


@dataclass(frozen=True, slots=True, kw_only=True)
class Reaction:
    """Recoil of everything that moves, over frequency.

    Attributes
    ----------
    frequency : ndarray, shape (nf,)
        [Hz]
    force : ndarray of complex, shape (nf, 3)
        On the box, per volt rms at the source, rms: to the right, upwards, to the back. [N/V]
    alone : ndarray, shape (nf,)
        Sum of the magnitudes of all cones as if all faced one way, per volt rms, rms. [N/V]
    if_opposed : ndarray, shape (nf,)
        Magnitude that would be left with every even set mounted in opposed pairs, per volt rms, rms. [N/V]
    slide_voltage, hop_voltage : ndarray, shape (nf,)
        Source voltage, rms, at which the box begins to slide and to leave the floor; inf: never. [V]
    mass : float
        Of the box. [kg]
    friction : float
        [-]
    voltage : float
        The source's. [V]
    words : tuple of str
        What it comes to, and what was assumed.
    """

    frequency: Real
    force: Complex
    alone: Real
    if_opposed: Real
    slide_voltage: Real
    hop_voltage: Real
    mass: float
    friction: float
    voltage: float
    words: tuple[str, ...]

    @property
    def size(self) -> Real:
        """Largest instantaneous force per volt rms, shape (nf,). [N/V].

        The force may go round an ellipse; this is its long half-axis.
        """
        return _largest(self.force)

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON; what is infinite becomes None."""

        def plain(values: Real) -> list[float | None]:
            return [float(v) if math.isfinite(v) else None for v in values]

        return {
            "frequency_hz": plain(self.frequency),
            "force_n_per_v": plain(self.size),
            "if_opposed_n_per_v": plain(math.sqrt(2.0) * self.if_opposed),
            "slide_voltage_v": plain(self.slide_voltage),
            "hop_voltage_v": plain(self.hop_voltage),
            "mass_kg": self.mass,
            "friction": self.friction,
            "words": list(self.words),
        }


def _largest(force: Complex) -> Real:
    """Long half-axis of the ellipse that a force of so many volts goes round, peak: √(Σ|F|² + |ΣF²|). [N/V]."""
    return np.asarray(np.sqrt(np.sum(np.abs(force) ** 2, axis=1) + np.abs(np.sum(force**2, axis=1))))


def _dragging(force: Complex, friction: float) -> Real:
    """Largest of |horizontal| + friction·upward over a period, peak. [N/V]."""
    angle = np.exp(2j * np.pi * np.arange(_PHASES) / _PHASES)
    moments = math.sqrt(2.0) * np.real(angle[:, None, None] * force[None])
    pull = np.hypot(moments[:, :, 0], moments[:, :, 2]) + friction * moments[:, :, 1]
    return np.asarray(pull.max(axis=0))


def _recoils(design: Design, frequency: Real) -> list[Complex]:
    """Mass times outward acceleration of the cones and of each set of passives, per volt, rms; (nf,) each. [N/V]."""
    driver = equivalent_driver(design.driver, design.arrangement)
    motion = solve(design, driver, frequency)
    gain = filters.cascade(design.source.filters, frequency)
    s = 2j * np.pi * frequency
    found = [s * motion.velocity * driver.mms * gain]
    for opening, flow in zip(design.openings, motion.outer, strict=True):
        if isinstance(opening, PassiveOpening):
            mass = opening.passive.mmp + opening.added_mass
            found.append(s * flow / opening.passive.sp * mass * gain)
    return found


def reaction(
    design: Design,
    *,
    mass: float,
    frequency: ArrayLike | None = None,
    friction: float = FRICTION,
    layout: Layout | None = None,
) -> Reaction:
    """Force of all cones on the box, and the voltage at which it slides or hops.

    Parameters
    ----------
    design : Design
    mass : float
        Of the finished box, see `box_mass`, > 0. [kg]
    frequency : array_like, shape (nf,), optional
        By default 128 from 10 to 200 Hz. [Hz]
    friction : float
        Between box and floor, > 0. [-]
    layout : Layout, optional
        Where everything sits: drivers first, then the openings in their order, as the search lays them out. Without
        one, the design's box is laid out anew; without a box, directions are assumed from ``facing`` and the words say
        so.

    Returns
    -------
    Reaction

    Raises
    ------
    InputError
        If mass, friction or a frequency is not positive.

    Notes
    -----
    ``F = Σ m·a·n`` with n the inward normal and a the outward acceleration: each cone pushes the box the other way.
    m is mms and mmp with their air load and added mass; the air in vents, a few grams, is left out. The box is held
    to be heavy against its cones, and its recoil does not act back on them. It slides when ``|F_horizontal| + μ·F_up
    > μ·m·g`` at any moment of the period, and hops when ``F_up > m·g``.
    """
    for name, value, unit in (("mass", mass, "kg"), ("friction", friction, "")):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} must be > 0 {unit}, got {value:g}".replace("  ", " "))
    f = (
        np.geomspace(10.0, 200.0, 128)
        if frequency is None
        else np.atleast_1d(np.asarray(frequency, np.float64))
    )
    if not (np.all(np.isfinite(f)) and np.all(f > 0.0)):
        raise InputError("frequency must be > 0 Hz throughout")
    directions = directions_of(design) if layout is None else taken_from(design, layout)
    recoils = _recoils(design, f)
    force = np.zeros((f.size, 3), np.complex128)
    left = np.zeros((f.size, 3), np.complex128)
    for recoil, normal, count, first in zip(
        recoils, directions.mean, directions.counts, directions.first, strict=True
    ):
        force += recoil[:, None] * np.array(normal)
        # an even set can be opposed in full; of an odd one, one cone stays alone
        left += recoil[:, None] * np.array(first) * (count % 2) / count
    weight = mass * GRAVITY
    with np.errstate(divide="ignore"):
        slide = friction * weight / _dragging(force, friction)
        hop = weight / (math.sqrt(2.0) * np.abs(force[:, 1]))
    found = Reaction(
        frequency=f,
        force=force,
        alone=np.asarray(np.sum([np.abs(r) for r in recoils], axis=0)),
        if_opposed=np.sqrt(np.sum(np.abs(left) ** 2, axis=1)),
        slide_voltage=slide,
        hop_voltage=hop,
        mass=mass,
        friction=friction,
        voltage=design.source.voltage,
        words=(),
    )
    return replace(found, words=_words(design, found, directions))


def _words(design: Design, found: Reaction, directions: Directions) -> tuple[str, ...]:
    size, volts = found.size, found.voltage
    worst = int(np.argmax(size))
    said = [
        f"at {volts:.3g} V the cones push the box with up to {size[worst] * volts:.3g} N "
        f"({100.0 * size[worst] * volts / (found.mass * GRAVITY):.2g} % of its weight), "
        f"at {found.frequency[worst]:.3g} Hz"
    ]
    for name, limit in (("slides", found.slide_voltage), ("leaves the floor", found.hop_voltage)):
        at = int(np.argmin(limit))
        if not math.isfinite(limit[at]):
            continue
        if limit[at] <= volts:
            said.append(
                f"it {name} from {limit[at]:.3g} V on, at {found.frequency[at]:.3g} Hz: at {volts:.3g} V it does"
            )
        elif name == "slides":
            said.append(f"it begins to slide at {limit[at]:.3g} V, at {found.frequency[at]:.3g} Hz")
    after = math.sqrt(2.0) * found.if_opposed[worst] * volts
    before = size[worst] * volts
    if any(count > 1 for count in directions.counts) and after < 0.9 * before:
        said.append(
            f"opposed pairs cancel: with every even set mounted back to back the force there would fall from "
            f"{before:.3g} to {after:.3g} N"
        )
    elif directions.opposed:
        said.append("cones that sit opposite each other cancel: they leave no force, only stress in the wood")
    if any(isinstance(o, VentOpening) for o in design.openings):
        said.append("the air in the vents is left out of this, it weighs a few grams")
    return (*said, *directions.assumed)
