"""The dozen figures that a design is known by, as text for a reader."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from boxwright.acoustics.response import Response
from boxwright.brief import Target
from boxwright.design import Design, PassiveOpening
from boxwright.quantity import Kind, show
from boxwright.report.figures import decibel, hertz, price
from boxwright.report.text import band_low, band_top, binding_words, family_of, route_words

__all__ = ["Figure", "key_figures"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure with its name, as text for a reader."""

    name: str
    value: str
    note: str = ""


def key_figures(design: Design, response: Response, *, target: Target | None = None) -> tuple[Figure, ...]:
    """The dozen figures that a design is known by.

    Parameters
    ----------
    design : Design
    response : Response
        Of that design, over a band of rising frequencies.
    target : Target, optional
        Its band is the one looked at.
    """
    low, top = band_low(response, target), band_top(response, target)
    band = (response.frequency >= low * (1 - 1e-9)) & (response.frequency <= top * (1 + 1e-9))
    size = np.abs(response.impedance)
    found = [
        Figure(name="Type", value=route_words(family_of(design))),
        Figure(name="Tuning" if design.openings else "Resonance", value=hertz(response.tuning)),
        Figure(name="Reach", value=hertz(response.reach) if response.reach else "none", note="half power"),
        Figure(name="Evenness", value=decibel(response.ripple), note="from the first peak up"),
    ]
    if band.any():
        at = int(np.flatnonzero(band)[np.argmin(response.clean_level[band])])
        clean = float(response.clean_level[at])
        note = f"{binding_words(response.binding[at])} at {hertz(float(response.frequency[at]))}"
        found.append(
            Figure(
                name="Clean level",
                value=decibel(clean),
                note=note if math.isfinite(clean) else "nothing stated binds",
            )
        )
        late = int(np.flatnonzero(band)[np.argmax(response.group_delay[band])])
        found.append(
            Figure(
                name="Group delay",
                value=show(float(response.group_delay[late]), Kind.TIME),
                note=f"longest, at {hertz(float(response.frequency[late]))}",
            )
        )
    least = int(np.argmin(size))
    found.append(
        Figure(
            name="Lowest impedance",
            value=show(float(size[least]), Kind.RESISTANCE),
            note=f"at {hertz(float(response.frequency[least]))}",
        )
    )
    return (*found, *_sizes(design))


def _sizes(design: Design) -> list[Figure]:
    found = [
        Figure(
            name=f"Air inside, {c.name or where}" if design.front else "Air inside",
            value=show(c.volume, Kind.VOLUME),
        )
        for where, c in (("rear", design.rear), ("front", design.front))
        if c is not None and c.volume > 0.0
    ]
    if design.box is not None and design.box.width > 0.0:
        sides = (design.box.width, design.box.height, design.box.depth)
        found.append(
            Figure(
                name="Outer size",
                value=" × ".join(f"{side * 1e3:.0f}" for side in sides) + " mm",
                note="width × height × depth",
            )
        )
    prices = [design.driver.price, *(_price(o) for o in design.openings)]
    counts = [design.arrangement.count, *(o.count for o in design.openings)]
    if all(p is not None for p in prices):
        total = sum((p or 0.0) * n for p, n in zip(prices, counts, strict=True))
        found.append(Figure(name="Parts", value=price(total), note="without wood"))
    return found


def _price(opening: object) -> float | None:
    return opening.passive.price if isinstance(opening, PassiveOpening) else getattr(opening, "price", None)
