"""Verdicts in plain words: what a design does, what it breaks, and what to mind. One place for every screen."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np

from boxwright.acoustics.limits import Limit
from boxwright.acoustics.response import Response
from boxwright.brief import Target
from boxwright.design import Design, PassiveOpening
from boxwright.quantity import Kind, show
from boxwright.report.figures import decibel, hertz, listed, span, spans

__all__ = [
    "BAND_TOP",
    "Verdict",
    "band_low",
    "band_top",
    "binding_words",
    "family_of",
    "limit_words",
    "route_words",
    "shown_count",
    "verdicts",
]

BAND_TOP = 100.0
"""Highest note that verdicts look at when no brief states one. [Hz]"""

# Below this the passives limit before the cone does (common practice, no source).
PASSIVE_SHARE = 2.0

Tone = Literal["good", "care", "broken"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One statement about a design.

    Attributes
    ----------
    tone : str
        good, care or broken.
    headline : str
        The statement.
    detail : str
        The numbers behind it, or what would mend it.
    """

    tone: Tone
    headline: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _LimitWords:
    """How a limit is spoken of.

    Attributes
    ----------
    binds : str
        As the thing that binds: "the cone's travel binds".
    broken : str
        As a headline once it is broken.
    holds : str
        What the allowed value says: "linear to 11.5 mm".
    kind : Kind or None
        Of the allowed value; None: it is not worth showing.
    """

    binds: str
    broken: str
    holds: str
    kind: Kind | None


_LIMITS = {
    "driver travel": _LimitWords(
        binds="cone travel", broken="Cone leaves its travel", holds="linear to", kind=Kind.LENGTH
    ),
    "passive travel": _LimitWords(
        binds="passive travel", broken="Passive leaves its travel", holds="linear to", kind=Kind.LENGTH
    ),
    "air speed": _LimitWords(
        binds="air speed", broken="Air in the vent is too fast", holds="allowed", kind=Kind.SPEED
    ),
    "amplifier voltage": _LimitWords(
        binds="amplifier voltage", broken="Amplifier runs out of voltage", holds="it gives", kind=Kind.VOLTAGE
    ),
    "amplifier current": _LimitWords(
        binds="amplifier current", broken="Amplifier runs out of current", holds="it gives", kind=Kind.CURRENT
    ),
    "rated power": _LimitWords(
        binds="rated power", broken="Coil is over its rated power", holds="", kind=None
    ),
}

_ROUTES = {"closed": "closed", "vented": "port", "passive": "passive", "bandpass": "bandpass"}


def route_words(family: str) -> str:
    """A box type as people say it; a name that is not known stays as it is."""
    return _ROUTES.get(family, family)


def binding_words(name: str) -> str:
    """What binds, for a table; a name that is not known stays as it is."""
    return _LIMITS[name].binds if name in _LIMITS else "nothing" if name == "none" else name


def limit_words(limit: Limit) -> str:
    """A limit beside its line in a picture: "cone linear to 11.5 mm"."""
    words = _LIMITS[limit.name]
    if limit.name == "air speed":
        return f"{show(limit.allowed, Kind.SPEED)} allowed"
    subject = {"driver travel": "cone ", "passive travel": "passive "}.get(limit.name, "")
    return f"{subject}{words.holds} {show(limit.allowed, words.kind)}" if words.kind else words.binds


def family_of(design: Design) -> str:
    """Box type of a design, from what it is made of."""
    if design.front is not None:
        return "bandpass"
    if design.rear is not None and design.rear.segments:
        return "line"
    if not design.openings:
        return "closed" if design.rear is not None else "open"
    passives = [isinstance(opening, PassiveOpening) for opening in design.openings]
    return "passive" if all(passives) else "vented" if not any(passives) else "vented and passive"


def shown_count(count: int, name: str) -> str:
    """A name with its count before it (``2 × Moth 250``), or alone for one."""
    return name if count == 1 else f"{count} × {name}"


def verdicts(design: Design, response: Response, *, target: Target | None = None) -> tuple[Verdict, ...]:
    """Everything worth saying about a design at its source voltage, most important first.

    Parameters
    ----------
    design : Design
    response : Response
        Of that design, over a band of rising frequencies.
    target : Target, optional
        What a brief asks of it.
    """
    return (
        _reach(response, target),
        *_limits(design, response),
        _clean(response, target),
        *_passives(design, response),
        *_vents(response),
    )


def band_top(response: Response, target: Target | None) -> float:
    """Highest note that counts. [Hz]."""
    return min(target.band_top if target else BAND_TOP, float(response.frequency[-1]))


def band_low(response: Response, target: Target | None) -> float:
    """Lowest note that counts: the reach asked for, else the design's own. [Hz]."""
    return max(target.reach if target else response.reach or 0.0, float(response.frequency[0]))


def _level_at(response: Response, frequency: float) -> float:
    return float(np.interp(math.log(frequency), np.log(response.frequency), response.level))


def _reach(response: Response, target: Target | None) -> Verdict:
    if response.reach is None:
        return Verdict(
            tone="care",
            headline="No lower edge found",
            detail="the level has no unbroken band to read one off",
        )
    headline = f"Reaches {hertz(response.reach)}"
    if target is None:
        return Verdict(
            tone="good",
            headline=headline,
            detail=f"half power there; from its first peak up the level is even within {decibel(response.ripple)}",
        )
    there = _level_at(response, target.reach)
    detail = (
        f"asked: {hertz(target.reach)}; it gives {decibel(there)} there at {show(response.voltage, Kind.VOLTAGE)},"
        f" asked: {decibel(target.level)}"
    )
    return Verdict(
        tone="good" if response.reach <= target.reach * 1.005 else "broken", headline=headline, detail=detail
    )


def _limits(design: Design, response: Response) -> list[Verdict]:
    """One verdict for each limit that is broken at the source voltage, or one that says none is."""
    volts = show(response.voltage, Kind.VOLTAGE)
    steeper = "steeper " if any(f.kind == "high-pass" for f in design.source.filters) else ""
    found = []
    for limit in response.limits:
        over = response.voltage > limit.voltage * (1.0 + 1e-9)
        if not over.any():
            continue
        words = _LIMITS[limit.name]
        bands = spans(response.frequency, over)
        less = 20.0 * math.log10(response.voltage / float(limit.voltage.min()))
        detail = ""
        if words.kind is not None:
            worst = limit.allowed * response.voltage / float(limit.voltage.min())
            detail = (
                f"{show(worst, words.kind)} at {volts}, {words.holds} {show(limit.allowed, words.kind)}; "
            )
        detail += f"{decibel(less)} less keeps it in"
        if response.reach is not None and bands[-1][1] < response.reach:
            detail += f", and so does a {steeper}high-pass, as all of it lies below {hertz(response.reach)}"
        where = listed([span(*band) for band in bands[:3]])
        found.append(
            Verdict(
                tone="broken",
                headline=f"{words.broken}{'' if where[:2] == 'at' else ','} {where}",
                detail=detail,
            )
        )
    if found or not response.limits:
        return found
    nearest = min(response.limits, key=lambda limit: float(limit.voltage.min()))
    at = float(response.frequency[int(np.argmin(nearest.voltage))])
    spare = 20.0 * math.log10(float(nearest.voltage.min()) / response.voltage)
    return [
        Verdict(
            tone="good",
            headline=f"Keeps every limit at {volts}",
            detail=f"the nearest is {binding_words(nearest.name)} at {hertz(at)}, {decibel(spare)} away",
        )
    ]


def _clean(response: Response, target: Target | None) -> Verdict:
    low, top = band_low(response, target), band_top(response, target)
    band = (response.frequency >= low * (1 - 1e-9)) & (response.frequency <= top * (1 + 1e-9))
    if not band.any() or not np.isfinite(response.clean_level[band]).any():
        return Verdict(
            tone="care",
            headline="Nothing stated limits the level",
            detail="state xmax of the driver and what the amplifier gives to learn how loud it may play",
        )
    at = int(np.flatnonzero(band)[np.argmin(response.clean_level[band])])
    lowest = float(response.clean_level[at])
    first, last = int(np.flatnonzero(band)[0]), int(np.flatnonzero(band)[-1])
    runs, start = [], first
    for name, group in groupby(response.binding[first : last + 1]):
        end = start + len(list(group)) - 1
        runs.append((name, float(response.frequency[start]), float(response.frequency[end])))
        start = end + 1
    words = [f"{binding_words(name)} {span(a, b)}" for name, a, b in runs]
    detail = "what binds: " + (listed(words) if len(words) <= 4 else ", ".join(words[:4]) + " and on")
    enough = target is None or lowest >= target.level - 0.05
    headline = f"Clean to {decibel(lowest)}, {span(low, top)}"
    if target is not None:
        detail = f"asked: {decibel(target.level)}; {detail}"
    return Verdict(tone="good" if enough else "broken", headline=headline, detail=detail)


def _passives(design: Design, response: Response) -> list[Verdict]:
    """How much air the passives move and can move, beside the cone."""
    driver, count = design.driver, design.arrangement.count
    sets = [o for o in design.openings if isinstance(o, PassiveOpening)]
    if not sets:
        return []
    at = int(np.argmin(np.abs(response.frequency - response.tuning)))
    moved = sum(float(o.volume[at]) for o in response.openings if o.kind == "passive")
    ratio = moved / float(response.driver_volume[at])
    headline = f"Passives move {ratio:.1f} times the cone's air at {hertz(float(response.frequency[at]))}"
    if driver.xmax is None or any(o.passive.xmax is None for o in sets):
        return [
            Verdict(
                tone="care", headline=headline, detail="what they can move is not known: xmax is not stated"
            )
        ]
    able = sum(o.count * o.passive.sp * (o.passive.xmax or 0.0) for o in sets)
    cones = count * driver.sd * driver.xmax
    good = able >= PASSIVE_SHARE * cones
    times = f"{able / cones:.1f} times"
    detail = (
        f"they can move {show(able, Kind.VOLUME)} one way, the cone {show(cones, Kind.VOLUME)}: {times}"
        " as much; at least twice is common practice"
    )
    return [Verdict(tone="good" if good else "care", headline=headline, detail=detail)]


def _vents(response: Response) -> list[Verdict]:
    """Air speed where it stays below its limit; where it does not, its limit's own verdict says so."""
    speeds = [limit for limit in response.limits if limit.name == "air speed"]
    vents = [opening for opening in response.openings if opening.air_speed is not None]
    found = []
    for limit, vent in zip(speeds, vents, strict=False):
        speed = vent.air_speed
        if speed is None or float(speed.max()) > limit.allowed:
            continue
        at = int(np.argmax(speed))
        where = hertz(float(response.frequency[at]))
        found.append(
            Verdict(
                tone="good",
                headline=f"Air in the vent stays at {show(float(speed[at]), Kind.SPEED)}",
                detail=f"highest at {where}; {show(limit.allowed, Kind.SPEED)} is allowed",
            )
        )
    return found
