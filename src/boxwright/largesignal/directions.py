"""Which way every cone of a design looks: from a layout, from its own box, or assumed from its facing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from boxwright.brief import FACES
from boxwright.design import Design, PassiveOpening, VentOpening
from boxwright.errors import DoesNotFit, InputError
from boxwright.parts import VentStock
from boxwright.workshop.items import Item, driver_item, passive_item, vent_item
from boxwright.workshop.layout import Layout, lay_out

if TYPE_CHECKING:
    from boxwright.design import Facing

__all__ = ["Directions", "directions_of", "taken_from"]

Vector = tuple[float, float, float]

EDGE = 0.01
"""Distance of frames from walls and from each other when a design is laid out anew. [m]"""
_UPRIGHT = ("front", "back", "left", "right")
# Inward normals where nothing is known: x to the right, y up, z to the back.
_INWARD: dict[str, Vector] = {"sideways": (0.0, 0.0, 1.0), "up": (0.0, -1.0, 0.0), "down": (0.0, 1.0, 0.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Directions:
    """Of the set of drivers and of each set of passives, in that order.

    Attributes
    ----------
    mean : tuple of (float, float, float)
        Mean inward normal of the set; shorter than 1 where its members cancel.
    first : tuple of (float, float, float)
        Inward normal of its first member.
    counts : tuple of int
        Members of each set; a face-to-face pair counts once.
    opposed : bool
        Whether any set cancels in part or in whole.
    assumed : tuple of str
        What was assumed, in words.
    """

    mean: tuple[Vector, ...]
    first: tuple[Vector, ...]
    counts: tuple[int, ...]
    opposed: bool
    assumed: tuple[str, ...] = ()


def _sets(design: Design) -> list[tuple[int, Facing]]:
    """How many members each set has, and which way they face."""
    found = [(design.arrangement.count, design.arrangement.facing)]
    found += [(o.count, o.facing) for o in design.openings if isinstance(o, PassiveOpening)]
    return found


def _summed(sets: list[list[Vector]], design: Design, assumed: tuple[str, ...]) -> Directions:
    cancelled = design.arrangement.mounting == "push-push"
    counts = [len(normals) for normals in sets]
    if design.arrangement.mounting == "face-to-face":  # a pair is one mover
        counts[0] //= 2
    mean = []
    for k, normals in enumerate(sets):
        m = np.mean(np.array(normals), axis=0)
        mean.append((0.0, 0.0, 0.0) if k == 0 and cancelled else (float(m[0]), float(m[1]), float(m[2])))
    return Directions(
        mean=tuple(mean),
        first=tuple(normals[0] for normals in sets),
        counts=tuple(counts),
        opposed=any(float(np.linalg.norm(m)) < 0.99 for m in mean),
        assumed=assumed,
    )


def taken_from(design: Design, layout: Layout) -> Directions:
    """Directions from a layout whose items are the drivers, then the openings in their order.

    Raises
    ------
    InputError
        If the layout does not fit, or has another number of items.
    """
    members = [design.arrangement.count, *(o.count for o in design.openings)]
    if not layout.fits or len(layout.places) != sum(members):
        raise InputError(
            f"layout must have places for the {sum(members)} drivers, passives and vents of the design, "
            f"got {len(layout.places)}"
        )
    inward = {place.item: place.inward for place in layout.places}
    kept, at = [], 0
    for k, count in enumerate(members):
        normals = [inward[i] for i in range(at, at + count)]
        at += count
        if k == 0 or isinstance(design.openings[k - 1], PassiveOpening):
            kept.append(normals)
    return _summed(kept, design, ())


def _items(design: Design, sideways: tuple[str, ...]) -> list[Item]:
    """Everything that sits on a face; ``sideways`` may carry what faces sideways."""
    allowed = {"sideways": sideways, "up": ("top",), "down": ("bottom",)}
    arrangement = design.arrangement
    faces = allowed[arrangement.facing]
    found = [driver_item(design.driver, faces=faces)] * arrangement.count
    for opening in design.openings:
        if isinstance(opening, VentOpening):
            stock = VentStock(
                shape=opening.shape, diameter=opening.diameter or None, width=opening.width or None,
                height=opening.height or None, flare=opening.flare,
            )  # fmt: skip
            found += [vent_item(stock, faces=FACES)] * opening.count
        else:
            found += [passive_item(opening.passive, faces=allowed[opening.facing])] * opening.count
    return found


def directions_of(design: Design) -> Directions:
    """Directions from the design's own box if its parts find their places there, else from their facing."""
    why = "the design has no box"
    if design.box is not None:
        for sideways, remark in (
            (_UPRIGHT, ""),
            (FACES, "; no upright face has room for all that is said to face sideways"),
        ):
            try:
                layout = lay_out(design.box, _items(design, sideways), edge=EDGE)
            except (InputError, DoesNotFit) as error:
                layout = Layout(reason=str(error), code=-1)
            if layout.fits:
                words = f"directions are those of a layout made for the box as it stands{remark}"
                return replace(taken_from(design, layout), assumed=(words,))
        why = f"no layout was found for the box ({layout.reason})"
    sets = [[_INWARD[facing]] * count for count, facing in _sets(design)]
    return _summed(
        sets,
        design,
        (f"{why}: all cones that face sideways are taken to face the front, none opposite another",),
    )
