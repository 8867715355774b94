"""What the response picture shows: small multiples over one frequency axis, each line with its label."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.limits import Limit
from boxwright.acoustics.response import Response
from boxwright.brief import Target
from boxwright.quantity import Kind, show
from boxwright.report.style import CLEAN, CONE, LEVEL, PASSIVE, VENT, WISH, Stroke
from boxwright.report.text import limit_words

__all__ = ["Level", "Line", "Panel", "response_panels"]

Real = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One curve.

    Attributes
    ----------
    values : ndarray, shape (nf,)
        In the unit of its panel.
    label : str
        Drawn at its end; empty: its panel's title says it.
    over : ndarray of bool, shape (nf,), or None
        Where it is over its limit and turns to the limit's colour.
    """

    values: Real
    label: str
    stroke: Stroke
    over: NDArray[np.bool_] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A limit or a wish: a level line with its label, from a frequency on."""

    value: float
    label: str
    stroke: Stroke
    start: float | None = None
    stop: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One of the small multiples.

    Attributes
    ----------
    bottom, top : float or None
        Of the axis; None: what the curves need.
    height : float
        Share beside the others'. [-]
    """

    title: str
    unit: str
    lines: tuple[Line, ...]
    levels: tuple[Level, ...] = ()
    bottom: float | None = None
    top: float | None = None
    height: float = 1.0


def _over(response: Response, limits: list[Limit]) -> NDArray[np.bool_]:
    found = np.zeros(response.frequency.shape, dtype=np.bool_)
    for limit in limits:
        found |= response.voltage > limit.voltage * (1.0 + 1e-9)
    return found


def _dotted(stroke: Stroke) -> Stroke:
    return Stroke(colour=stroke.colour, dashes=(1.0, 2.0), width=1.1)


def _another(stroke: Stroke, number: int) -> Stroke:
    """The same colour with longer strokes for every further set of openings."""
    return replace(stroke, dashes=tuple(length * (1.0 + 0.8 * number) for length in stroke.dashes))


def _level_panel(response: Response, target: Target | None) -> Panel:
    finite = response.level[np.isfinite(response.level)]
    clean = response.clean_level
    tops = [float(finite.max()) if finite.size else 0.0]
    tops += [float(clean[np.isfinite(clean)].max())] if np.isfinite(clean).any() else []
    tops += [target.level] if target else []
    top = 5.0 * np.ceil((max(tops) + 2.0) / 5.0)
    lines = [
        Line(
            values=response.level,
            label=f"at {show(response.voltage, Kind.VOLTAGE)}",
            stroke=LEVEL,
            over=_over(response, list(response.limits)),
        )
    ]
    if np.isfinite(clean).any():
        lines.append(
            Line(
                values=np.where(np.isfinite(clean), clean, np.nan), label="highest clean level", stroke=CLEAN
            )
        )
    wishes: tuple[Level, ...] = ()
    if target is not None:
        label = f"brief: {target.level:.4g} dB from {target.reach:.3g} Hz"
        wishes = (
            Level(value=target.level, label=label, stroke=WISH, start=target.reach, stop=target.band_top),
        )
    return Panel(
        title="Sound level",
        unit="dB re 20 µPa",
        lines=tuple(lines),
        levels=wishes,
        bottom=top - 45.0,
        top=top,
        height=1.55,
    )


def _travel_panel(response: Response) -> Panel:
    cone = [limit for limit in response.limits if limit.name == "driver travel"]
    lines = [Line(values=response.driver_travel * 1e3, label="cone", stroke=CONE, over=_over(response, cone))]
    levels = [
        Level(value=limit.allowed * 1e3, label=limit_words(limit), stroke=_dotted(CONE)) for limit in cone
    ]
    limits = [limit for limit in response.limits if limit.name == "passive travel"]
    moving = [opening for opening in response.openings if opening.travel is not None]
    for number, opening in enumerate(moving):
        if opening.travel is None:
            continue
        own = limits[number : number + 1] if len(limits) == len(moving) else []
        name = "passive" if opening.count == 1 else "passives"
        label = name if len(moving) == 1 else f"{name} {number + 1}"
        lines.append(
            Line(
                values=opening.travel * 1e3,
                label=label,
                stroke=_another(PASSIVE, number),
                over=_over(response, own),
            )
        )
        levels += [
            Level(value=limit.allowed * 1e3, label=limit_words(limit), stroke=_dotted(PASSIVE))
            for limit in own
        ]
    return Panel(
        title="Travel, one way",
        unit="mm peak",
        lines=tuple(lines),
        levels=tuple(levels),
        bottom=0.0,
        height=1.2,
    )


def _speed_panel(response: Response) -> Panel | None:
    vents = [opening for opening in response.openings if opening.air_speed is not None]
    if not vents:
        return None
    limits = [limit for limit in response.limits if limit.name == "air speed"]
    lines, levels = [], []
    for number, vent in enumerate(vents):
        if vent.air_speed is None:
            continue
        own = limits[number : number + 1]
        name = "vent" if vent.count == 1 else "vents"
        label = name if len(vents) == 1 else f"{name} {number + 1}"
        lines.append(
            Line(values=vent.air_speed, label=label, stroke=_another(VENT, number), over=_over(response, own))
        )
        levels += [
            Level(value=limit.allowed, label=limit_words(limit), stroke=_dotted(VENT)) for limit in own
        ]
    return Panel(title="Air speed", unit="m/s peak", lines=tuple(lines), levels=tuple(levels), bottom=0.0)


def response_panels(response: Response, *, target: Target | None = None) -> tuple[Panel, ...]:
    """The panels of one design.

    Parameters
    ----------
    response : Response
        Over a band of rising frequencies.
    target : Target, optional
        What a brief asks of it, drawn as a wish.
    """
    delay = response.group_delay * 1e3
    heard = response.level > np.nanmax(response.level) - 40.0
    impedance = Line(values=np.abs(response.impedance), label="", stroke=LEVEL)
    speed = _speed_panel(response)
    return (
        _level_panel(response, target),
        _travel_panel(response),
        *((speed,) if speed is not None else ()),
        Panel(title="Impedance", unit="Ω", lines=(impedance,), bottom=0.0),
        Panel(
            title="Group delay",
            unit="ms",
            lines=(Line(values=delay, label="", stroke=LEVEL),),
            # far below the reach a notch sends the delay anywhere: only what can be heard sets the scale
            bottom=min(0.0, float(np.floor(np.nanmin(delay[heard])))),
            top=max(1.0, 1.1 * float(np.nanmax(delay[heard]))),
        ),
    )
