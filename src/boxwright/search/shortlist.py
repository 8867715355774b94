"""What a search hands on: the front, the best in each, the balanced pick, and what kept the others out."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

from boxwright.brief import Brief
from boxwright.design import Design, Filter

__all__ = ["OBJECTIVES", "Candidate", "NearMiss", "Rejection", "RouteHere", "Routes", "Shortlist"]

# What the front trades off: attribute of Candidate, words, unit, and whether less is better.
OBJECTIVES: tuple[tuple[str, str, str, bool], ...] = (
    ("outer_volume", "smallest", "m³", True),
    ("reach", "deepest", "Hz", True),
    ("clean_level", "loudest", "dB", False),
    ("price", "cheapest", "", True),
    ("weight", "lightest", "kg", True),
    ("group_delay", "tightest", "s", True),
)


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One box that can be built and meets the brief.

    Attributes
    ----------
    family : str
        Of FAMILIES.
    parts : str
        What it is made of, in words, e.g. ``Heron 200 · 2 × Moth 250 + 240 g``.
    design : Design
        Complete; ``design.box`` holds the outer size.
    outer_volume, inside_volume, net_volume : float
        Of the box, within its walls, and of the air left by what is inside. [m³]
    tuning : float
        [Hz]
    added_mass : float or None
        On each passive. [kg]
    vent_length : float or None
        Of each vent. [m]
    vent_route : str
        "straight", "folded", "slot along a wall", or "" without a vent.
    high_pass : Filter or None
        The protective high-pass that the search added.
    reach : float
        [Hz]
    clean_level : float
        The lowest of the clean level from reach to band top. [dB]
    binding : str
        What limits it there.
    binding_frequency : float
        [Hz]
    price : float
        Parts and wood, in the user's currency.
    weight : float
        Of the finished box. [kg]
    group_delay : float
        Longest from reach to band top. [s]
    passive_ratio : float or None
        Volume the passives can move over what the cones can. [-]
    layout : tuple of str
        Where each part sits, in words.
    """

    family: str
    parts: str
    design: Design
    outer_volume: float
    inside_volume: float
    net_volume: float
    tuning: float
    added_mass: float | None
    vent_length: float | None
    vent_route: str
    high_pass: Filter | None
    reach: float
    clean_level: float
    binding: str
    binding_frequency: float
    price: float
    weight: float
    group_delay: float
    passive_ratio: float | None
    layout: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON; the design itself is left out, it has a file of its own."""
        box = self.design.box
        high_pass = self.high_pass
        return {
            "family": self.family,
            "parts": self.parts,
            "driver": self.design.driver.name,
            "count": self.design.arrangement.count,
            "outer_m": [box.width, box.height, box.depth] if box is not None else None,
            "outer_volume_m3": self.outer_volume,
            "inside_volume_m3": self.inside_volume,
            "net_volume_m3": self.net_volume,
            "tuning_hz": self.tuning,
            "added_mass_kg": self.added_mass,
            "vent_length_m": self.vent_length,
            "vent_route": self.vent_route,
            "high_pass": {"frequency_hz": high_pass.frequency, "order": high_pass.order}
            if high_pass
            else None,
            "reach_hz": self.reach,
            "clean_level_db": _finite(self.clean_level),
            "binding": self.binding,
            "binding_frequency_hz": self.binding_frequency,
            "price": self.price,
            "weight_kg": self.weight,
            "group_delay_s": self.group_delay,
            "passive_ratio": _finite(self.passive_ratio),
            "layout": list(self.layout),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejection:
    """How many candidates broke a limit first, and that limit in words."""

    reason: str
    family: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NearMiss:
    """The smallest relaxation of one limit that lets a family in.

    Attributes
    ----------
    family : str
    limit : str
        e.g. ``level``, ``reach``, ``budget``, ``weight``, ``depth``.
    relaxation : float
        By how much. [SI of the limit; dB for level]
    words : str
        The whole sentence.
    parts : str
        With which parts.
    """

    family: str
    limit: str
    relaxation: float
    words: str
    parts: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteHere:
    """One driver in one family: the best box found for it, whether or not it meets the brief.

    Attributes
    ----------
    fits : bool
        Whether it meets the brief.
    why_not : str
        The limits it breaks, in words; empty when it fits.
    needs : str
        Length and diameter of the vent, or how many passives and how many grams; ``nothing`` for a closed box.
    air_speed : float or None
        In the vent at the level wanted, peak, highest from reach to band top. [m/s]
    travel_used : float or None
        Share of the passive's linear travel used at the level wanted. [-]
    volume_ratio : float or None
        Volume moved passive : driver at the reach. [-]
    reach, clean_level, price, weight, net_volume : float
        [Hz], [dB], [currency], [kg], [m³]
    """

    family: str
    parts: str
    fits: bool
    why_not: str
    needs: str
    air_speed: float | None
    travel_used: float | None
    volume_ratio: float | None
    reach: float
    clean_level: float
    price: float
    weight: float
    net_volume: float

    def to_dict(self) -> dict[str, object]:
        """Plain numbers, SI, for JSON."""
        return {
            "family": self.family,
            "parts": self.parts,
            "fits": self.fits,
            "why_not": self.why_not,
            "needs": self.needs,
            "air_speed_m_s": _finite(self.air_speed),
            "travel_used": _finite(self.travel_used),
            "volume_ratio": _finite(self.volume_ratio),
            "reach_hz": _finite(self.reach),
            "clean_level_db": _finite(self.clean_level),
            "price": self.price,
            "weight_kg": self.weight,
            "net_volume_m3": self.net_volume,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Routes:
    """Closed, port or passive for one driver in this space.

    Attributes
    ----------
    advice : str
        One sentence: which route, and why.
    """

    driver: str
    routes: tuple[RouteHere, ...]
    advice: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortlist:
    """The result of a search.

    Attributes
    ----------
    tried : int
        Candidates looked at.
    fitting : int
        Of them, how many can be built and meet the brief.
    candidates : tuple of Candidate
        The trade-off front, the balanced pick first, then by balanced score.
    best : dict of str to int
        For each objective in words (smallest, deepest, …) the index of the best candidate.
    balanced : int or None
        Index of the balanced pick (0) or None when nothing fits.
    weighting : dict of str to float
        The weight of each objective in the balanced pick.
    rejections : tuple of Rejection
        By the first limit broken, most first.
    near_misses : tuple of NearMiss
        Smallest first.
    routes : tuple of Routes
        One for each driver.
    seconds : float
        How long it took. [s]
    """

    brief: Brief
    tried: int
    fitting: int
    candidates: tuple[Candidate, ...]
    best: dict[str, int]
    balanced: int | None
    weighting: dict[str, float]
    rejections: tuple[Rejection, ...]
    near_misses: tuple[NearMiss, ...]
    routes: tuple[Routes, ...]
    seconds: float
    warnings: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON."""
        return {
            "brief": self.brief.name,
            "tried": self.tried,
            "fitting": self.fitting,
            "seconds": self.seconds,
            "candidates": [c.to_dict() for c in self.candidates],
            "best": self.best,
            "balanced": self.balanced,
            "weighting": self.weighting,
            "rejections": [asdict(r) for r in self.rejections],
            "near_misses": [asdict(n) for n in self.near_misses],
            "routes": [
                {"driver": r.driver, "advice": r.advice, "routes": [x.to_dict() for x in r.routes]}
                for r in self.routes
            ],
            "warnings": list(self.warnings),
        }
