"""The passive radiator: a cone without a motor."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from boxwright.air import Air
from boxwright.parts.curve import Curves
from boxwright.parts.driver import Body

__all__ = ["Passive"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Passive:
    """One passive radiator without added mass.

    Attributes
    ----------
    mmp : float
        Moving mass with air load, without added mass. [kg]
    cmp : float
        Suspension compliance. [m/N]
    rmp : float
        Mechanical resistance. [N·s/m]
    sp : float
        Effective cone area. [m²]
    xmax : float or None
        One-way travel over which the suspension is linear, peak; None: not stated. [m]
    xmech : float or None
        One-way travel to the stop; None: not stated. [m]
    added_mass_max : float or None
        Most mass that may be added; None: not stated. [kg]
    price : float or None
        In the user's currency.

    References
    ----------
    small1974
    """

    name: str = ""
    mmp: float
    cmp: float
    rmp: float
    sp: float
    xmax: float | None = None
    xmech: float | None = None
    added_mass_max: float | None = None
    body: Body = field(default_factory=Body)
    curves: Curves = field(default_factory=Curves)
    price: float | None = None
    notes: str = ""

    @property
    def fp(self) -> float:
        """Resonance in free air, without added mass. [Hz]."""
        return 1.0 / (2.0 * math.pi * math.sqrt(self.mmp * self.cmp))

    @property
    def qmp(self) -> float:
        """Mechanical Q at fp. [-]."""
        return math.sqrt(self.mmp / self.cmp) / self.rmp if self.rmp > 0 else math.inf

    def vap(self, air: Air) -> float:
        """Volume of air with the compliance of the suspension. [m³]."""
        return air.bulk_modulus * self.sp**2 * self.cmp
