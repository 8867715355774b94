"""A design: parts, chambers, openings, source and placement; complete in itself, SI throughout."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from boxwright.air import Air, standard_air
from boxwright.parts.driver import Driver
from boxwright.parts.passive import Passive

__all__ = [
    "Arrangement",
    "BoxPlan",
    "Chamber",
    "Design",
    "DuctSegment",
    "Filter",
    "PassiveOpening",
    "Placement",
    "Room",
    "Source",
    "TransferTable",
    "VentOpening",
]

Facing = Literal["sideways", "up", "down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """How several equal drivers work as one.

    Attributes
    ----------
    series : int
        Drivers in each string. [-]
    parallel : int
        Strings beside each other. [-]
    coil_wiring : str or None
        How the coils of each driver are joined: series, parallel or single; None: as its data were stated.
    mounting : str
        side-by-side, push-push (opposed pairs, cones moving out together) or face-to-face (pairs that share
        one opening: twice the mass, half the area).
    facing : str
        sideways, up or down.
    """

    series: int = 1
    parallel: int = 1
    coil_wiring: Literal["series", "parallel", "single"] | None = None
    mounting: Literal["side-by-side", "push-push", "face-to-face"] = "side-by-side"
    facing: Facing = "sideways"

    @property
    def count(self) -> int:
        """Number of drivers."""
        return self.series * self.parallel


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctSegment:
    """A straight or conical piece of a line, from the cone outwards.

    Attributes
    ----------
    length : float
        Along the axis; folds count at the centre line. [m]
    area_start, area_end : float
        Cross-sections. [m²]
    flow_resistivity : float
        Of the filling; 0: empty. [Pa·s/m²]
    """

    length: float
    area_start: float
    area_end: float
    flow_resistivity: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chamber:
    """A volume of air behind or in front of the cone.

    A chamber with segments is a line: its volume is theirs and ``line_end`` says whether its far end is open.

    Attributes
    ----------
    volume : float
        Net volume. [m³]
    q_leak : float or None
        Leakage Q at the tuning (or closed-box resonance); None: tight. [-]
    q_absorption : float or None
        Absorption Q there; None: none. [-]
    fill : float
        Share of the volume that is lightly filled, 0 to 1. [-]
    segments : tuple of DuctSegment
        Empty: a lumped chamber.
    line_end : str
        "closed" or "open".
    """

    name: str = ""
    volume: float
    q_leak: float | None = None
    q_absorption: float | None = None
    fill: float = 0.0
    segments: tuple[DuctSegment, ...] = ()
    line_end: Literal["closed", "open"] = "closed"


@dataclass(frozen=True, slots=True, kw_only=True)
class PassiveOpening:
    """Equal passives between a chamber and the outside (or another chamber).

    Attributes
    ----------
    count : int
        How many. [-]
    added_mass : float
        Of each. [kg]
    """

    passive: Passive
    chamber: str = "rear"
    to: str = "outside"
    count: int = 1
    added_mass: float = 0.0
    facing: Facing = "sideways"


@dataclass(frozen=True, slots=True, kw_only=True)
class VentOpening:
    """Equal vents between a chamber and the outside (or another chamber).

    Attributes
    ----------
    shape : str
        "round" or "slot".
    diameter : float
        Of a round vent; 0 for a slot. [m]
    width, height : float
        Of a slot; 0 for a round vent. [m]
    length : float
        Physical length. [m]
    ends : tuple of str
        Outer and inner end, each "flanged" or "free".
    walls : int
        How many of a slot's sides run along walls of the box at its inner end, 0 to 3. [-]
    flare : float
        Radius of the rounding at both ends. [m]
    count : int
        How many. [-]
    max_air_speed : float or None
        Limit, peak; None: the default for its edge. [m/s]
    """

    chamber: str = "rear"
    to: str = "outside"
    shape: Literal["round", "slot"] = "round"
    diameter: float = 0.0
    width: float = 0.0
    height: float = 0.0
    length: float = 0.0
    ends: tuple[Literal["flanged", "free"], Literal["flanged", "free"]] = ("flanged", "free")
    walls: int = 0
    flare: float = 0.0
    count: int = 1
    max_air_speed: float | None = None
    price: float | None = None


Opening = PassiveOpening | VentOpening


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """One filter of the cascade before the amplifier.

    Attributes
    ----------
    kind : str
        high-pass, low-pass, low-shelf, high-shelf or peak.
    family : str
        butterworth, linkwitz-riley, bessel or chebyshev (passes only).
    order : int
        Of a pass. [-]
    frequency : float
        Corner or centre. [Hz]
    q : float
        Of a peak or shelf. [-]
    gain : float
        Of a peak or shelf. [dB]
    ripple : float
        Of a chebyshev pass. [dB]
    """

    kind: Literal["high-pass", "low-pass", "low-shelf", "high-shelf", "peak"]
    family: Literal["butterworth", "linkwitz-riley", "bessel", "chebyshev"] = "butterworth"
    order: int = 2
    frequency: float
    q: float = 0.7071067811865476
    gain: float = 0.0
    ripple: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Amplifier, cable and filters.

    Attributes
    ----------
    voltage : float
        For the curves, rms, before the filters. [V]
    max_voltage, max_current : float or None
        Limits of the amplifier, rms; None: what max_power and load imply, else none. [V], [A]
    max_power : float or None
        Rated power into ``load``. [W]
    load : float or None
        Rated load. [Ω]
    series_resistance : float
        Cable and output resistance. [Ω]
    """

    voltage: float = 2.83
    max_voltage: float | None = None
    max_current: float | None = None
    max_power: float | None = None
    load: float | None = None
    series_resistance: float = 0.0
    filters: tuple[Filter, ...] = ()

    @property
    def voltage_limit(self) -> float | None:
        """The voltage the amplifier can give, rms. [V]."""
        implied = (self.max_power * self.load) ** 0.5 if self.max_power and self.load else None
        limits = [v for v in (self.max_voltage, implied) if v is not None]
        return min(limits) if limits else None

    @property
    def current_limit(self) -> float | None:
        """The current the amplifier can give, rms. [A]."""
        implied = (self.max_power / self.load) ** 0.5 if self.max_power and self.load else None
        limits = [i for i in (self.max_current, implied) if i is not None]
        return min(limits) if limits else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A rectangular room or cabin with rigid, slightly lossy walls.

    Attributes
    ----------
    size : tuple of float
        Length, width, height. [m]
    source, listener : tuple of float
        Positions from one corner. [m]
    damping : float
        Modal damping ratio ζ of every mode. [-]
    leak_frequency : float
        Corner below which the pressure zone leaks away; 0: tight. [Hz]
    """

    size: tuple[float, float, float]
    source: tuple[float, float, float]
    listener: tuple[float, float, float]
    damping: float = 0.05
    leak_frequency: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferTable:
    """A measured transfer from the half-space level at 1 m to the listener.

    Attributes
    ----------
    frequency : tuple of float
        Strictly rising. [Hz]
    level : tuple of float
        Gain. [dB]
    phase : tuple of float
        [degree]
    """

    frequency: tuple[float, ...]
    level: tuple[float, ...]
    phase: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where the box plays and where it is heard.

    Attributes
    ----------
    space : str
        free, half, quarter or eighth.
    distance : float
        To the listener, in that space. [m]
    room : Room or None
        Replaces space and distance.
    table : TransferTable or None
        Applied to the level in ``space`` at ``distance``.
    """

    space: Literal["free", "half", "quarter", "eighth"] = "half"
    distance: float = 1.0
    room: Room | None = None
    table: TransferTable | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxPlan:
    """The box around the air: written by the search and the workshop, read by them and by pictures.

    Attributes
    ----------
    shape : str
        box, wedge or profile.
    width, height, depth : float
        Outer size. [m]
    depth_top : float
        Depth at the top of a wedge; 0 elsewhere. [m]
    profile : tuple of (float, float)
        Outer corner points (depth, height) of a profile. [m]
    wall : float
        Thickness of the sheet. [m]
    sheet : str
        Its name.
    """

    shape: Literal["box", "wedge", "profile"] = "box"
    width: float = 0.0
    height: float = 0.0
    depth: float = 0.0
    depth_top: float = 0.0
    profile: tuple[tuple[float, float], ...] = ()
    wall: float = 0.018
    sheet: str = ""
    braces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One box with everything needed to compute it.

    Attributes
    ----------
    driver : Driver
        One driver as bought.
    arrangement : Arrangement
        How many of it and how they are joined.
    rear : Chamber or None
        Behind the cone; None: open to the outside.
    front : Chamber or None
        In front of the cone; None: the cone faces the outside.
    chambers : tuple of Chamber
        Further chambers, reached only through openings, each with a name.
    openings : tuple of Opening
        Vents and passives.
    """

    name: str = ""
    air: Air = field(default_factory=standard_air)
    source: Source = field(default_factory=Source)
    driver: Driver
    arrangement: Arrangement = field(default_factory=Arrangement)
    rear: Chamber | None = None
    front: Chamber | None = None
    chambers: tuple[Chamber, ...] = ()
    openings: tuple[Opening, ...] = ()
    placement: Placement = field(default_factory=Placement)
    box: BoxPlan | None = None
    notes: str = ""
