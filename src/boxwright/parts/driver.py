"""The driver: what moves, what drives it, and what it needs of the box around it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from boxwright.air import Air
from boxwright.parts.curve import Curves

__all__ = ["Body", "Coil", "Driver"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """The part of a voice coil's impedance that is not its d.c. resistance.

    ``Z = jω·le + k·(jω)^n + (r2 ∥ jω·l2)``: the ideal inductance, the lossy coil of Leach (2002) and
    the two-inductance model of IEC 62458 in one sum; what is zero takes no part.

    Attributes
    ----------
    le : float
        Series inductance. [H]
    k : float
        Factor of the lossy coil; 0 leaves it out. [Ω·sⁿ]
    n : float
        Exponent of the lossy coil, 0 to 1. [-]
    l2, r2 : float
        Second inductance and the resistance beside it; 0 leaves the pair out. [H], [Ω]

    References
    ----------
    leach2002, iec62458
    """

    le: float = 0.0
    k: float = 0.0
    n: float = 0.7
    l2: float = 0.0
    r2: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """The outside of a driver or passive: what the workshop needs. None: not stated.

    Attributes
    ----------
    frame_diameter : float or None
        Largest diameter of the mounting frame. [m]
    cutout_diameter : float or None
        Diameter of the hole in the panel. [m]
    depth : float or None
        How far it reaches in behind the panel's outer face, at rest. [m]
    magnet_diameter : float or None
        Diameter of the deep part. [m]
    bolt_circle : float or None
        Diameter of the screw circle. [m]
    bolts : int
        Number of screws. [-]
    displacement : float or None
        Volume of box air that it takes up. [m³]
    weight : float or None
        Mass of the whole part as bought. [kg]
    """

    frame_diameter: float | None = None
    cutout_diameter: float | None = None
    depth: float | None = None
    magnet_diameter: float | None = None
    bolt_circle: float | None = None
    bolts: int = 0
    displacement: float | None = None
    weight: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """One driver by its independent small-signal parameters; everything else is derived.

    Attributes
    ----------
    re : float
        Direct-current resistance of the voice coil, as wired. [Ω]
    bl : float
        Force factor, as wired. [N/A]
    mms : float
        Moving mass with air load. [kg]
    cms : float
        Suspension compliance. [m/N]
    rms : float
        Mechanical resistance. [N·s/m]
    sd : float
        Effective cone area. [m²]
    coil : Coil
        Inductive part of the coil's impedance, as wired.
    creep : float
        Suspension creep λ: ``Cms(ω) = Cms·(1 − λ·log10(jω/ωs))``. [-]
    xmax : float or None
        One-way linear travel, peak; None: not stated. [m]
    xmech : float or None
        One-way travel to the stop; None: not stated. [m]
    pmax : float or None
        Rated power; None: not stated. [W]
    coils : int
        Number of equal voice coils. [-]
    coils_as : str
        How the coils were connected when re, bl and the coil were stated: series, parallel or single. [-]
    price : float or None
        In the user's currency.

    References
    ----------
    small1972direct, iec60268_5
    """

    name: str = ""
    re: float
    bl: float
    mms: float
    cms: float
    rms: float
    sd: float
    coil: Coil = field(default_factory=Coil)
    creep: float = 0.0
    xmax: float | None = None
    xmech: float | None = None
    pmax: float | None = None
    coils: int = 1
    coils_as: str = "series"
    body: Body = field(default_factory=Body)
    curves: Curves = field(default_factory=Curves)
    price: float | None = None
    notes: str = ""

    @property
    def fs(self) -> float:
        """Resonance in free air. [Hz]."""
        return 1.0 / (2.0 * math.pi * math.sqrt(self.mms * self.cms))

    @property
    def qms(self) -> float:
        """Mechanical Q at fs. [-]."""
        return math.sqrt(self.mms / self.cms) / self.rms if self.rms > 0 else math.inf

    @property
    def qes(self) -> float:
        """Electrical Q at fs. [-]."""
        return math.sqrt(self.mms / self.cms) * self.re / self.bl**2

    @property
    def qts(self) -> float:
        """Total Q at fs. [-]."""
        return 1.0 / (1.0 / self.qes + 1.0 / self.qms)

    def vas(self, air: Air) -> float:
        """Volume of air with the compliance of the suspension. [m³]."""
        return air.bulk_modulus * self.sd**2 * self.cms

    def eta0(self, air: Air) -> float:
        """Reference efficiency into half space. [-]."""
        return 4.0 * math.pi**2 / air.speed_of_sound**3 * self.fs**3 * self.vas(air) / self.qes
