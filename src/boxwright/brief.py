"""A brief: the space, the target, the amplifier, the limits, and which parts may be used."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from boxwright.air import Air, standard_air
from boxwright.design import Placement, Source
from boxwright.parts import Driver, Passive, Sheet, VentStock

__all__ = ["FACES", "FAMILIES", "Brief", "Limits", "PartsChoice", "Space", "Target"]

PassiveFacing = Literal["sideways", "down", "up", "any"]

FAMILIES = ("closed", "vented", "passive", "bandpass")
FACES = ("front", "back", "left", "right", "top", "bottom")


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """The outer envelope that the box has to stay in.

    The axes are width (left to right), height (bottom to top) and depth (front to back).

    Attributes
    ----------
    shape : str
        box; wedge (the back face slopes: ``depth`` at the bottom, ``depth_top`` at the top); profile (a polygon
        in the depth-height plane, extruded over ``width``); or volume (no envelope, only ``net_volume``).
    width, height, depth, depth_top : float
        Outer sizes; zero where the shape has no use for them. [m]
    profile : tuple of (float, float)
        Corners (depth, height) of a profile, in order. [m]
    net_volume : float or None
        Most air inside; None: what the envelope holds. [m³]
    """

    shape: Literal["box", "wedge", "profile", "volume"] = "box"
    width: float = 0.0
    height: float = 0.0
    depth: float = 0.0
    depth_top: float = 0.0
    profile: tuple[tuple[float, float], ...] = ()
    net_volume: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What the box has to do.

    Attributes
    ----------
    reach : float
        Lowest note, where the response is 3 dB down. [Hz]
    level : float
        Wanted from reach to band top, at the listener of ``placement``. [dB re 20 µPa]
    band_top : float
        Highest note. [Hz]
    content_from : float or None
        Lowest frequency the programme contains; cone and passive must stay in their travel from here on at the
        drive that gives ``level``. None: half the reach. [Hz]
    """

    reach: float
    level: float
    band_top: float = 100.0
    content_from: float | None = None
    placement: Placement = field(default_factory=Placement)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the box may cost, weigh and contain. None: no limit.

    Attributes
    ----------
    budget : float or None
        For parts, in the user's currency.
    weight : float or None
        Of the finished box. [kg]
    cones : int
        Most drivers. [-]
    passives : int
        Most passives. [-]
    vents : int
        Most vents. [-]
    families : tuple of str
        Box types allowed, of FAMILIES.
    driver_faces, passive_faces, vent_faces : tuple of str
        Faces that may carry them, of FACES.
    edge : float
        Least distance of a frame from the inner wall, and of frames from each other. [m]
    depth_clearance : float
        Air kept behind a driver's magnet and a passive's travel. [m]
    air_speed : float or None
        Limit in a vent, peak; None: the default for its edge. [m/s]
    q_leak : float
        Leakage Q assumed of a finished box. [-]
    """

    budget: float | None = None
    weight: float | None = None
    cones: int = 1
    passives: int = 4
    vents: int = 2
    families: tuple[str, ...] = ("closed", "vented", "passive")
    driver_faces: tuple[str, ...] = FACES
    passive_faces: tuple[str, ...] = FACES
    vent_faces: tuple[str, ...] = FACES
    edge: float = 0.01
    depth_clearance: float = 0.02
    air_speed: float | None = None
    q_leak: float = 7.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsChoice:
    """Which parts of the store may be used: name patterns with ``*``; empty means none of that kind.

    Attributes
    ----------
    drivers, passives, vents : tuple of str
        Patterns.
    sheet : str
        Name of the sheet the box is made of; empty: the cheapest in the store that is 15 mm or thicker.
    """

    drivers: tuple[str, ...] = ("*",)
    passives: tuple[str, ...] = ("*",)
    vents: tuple[str, ...] = ("*",)
    sheet: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """A whole brief.

    Attributes
    ----------
    protection : str
        The protective high-pass: none (the source's filters carry none and none may be added), given (the source's
        filters are used as they stand) or chosen (the search adds the lowest Butterworth high-pass that is enough).
    passive_facing : str
        Which way passives may look besides sideways: down, up, any (both), or sideways only. One that faces down or up
        sags, and its lost travel counts.
    drivers, passives, vents, sheets : tuple
        Parts written into the brief itself, besides those of the store.
    """

    name: str = ""
    air: Air = field(default_factory=standard_air)
    space: Space
    target: Target
    source: Source = field(default_factory=Source)
    protection: Literal["none", "given", "chosen"] = "chosen"
    limits: Limits = field(default_factory=Limits)
    parts: PartsChoice = field(default_factory=PartsChoice)
    drivers: tuple[Driver, ...] = ()
    passives: tuple[Passive, ...] = ()
    vents: tuple[VentStock, ...] = ()
    sheets: tuple[Sheet, ...] = ()
    passive_facing: PassiveFacing = "any"
    notes: str = ""
