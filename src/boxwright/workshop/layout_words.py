"""Items packed for the compiled layout, and its answers put in words."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from boxwright.errors import InputError
from boxwright.workshop import layout_reasons as why
from boxwright.workshop.layout_search import MOST_ITEMS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from boxwright.workshop.items import Item

__all__ = ["MOST_GROWTH", "REASONS", "Packed", "check_edge", "checked_sets", "in_words", "packed_items"]

REASONS = (
    "it fits",
    "the walls leave no room inside",
    "no face is allowed",
    "a frame is larger than every face allowed",
    "a motor, a cone's travel or a vent is deeper than the box",
    "the frames do not fit side by side on the faces allowed",
    "the bodies collide inside the box",
    "no two opposite faces are allowed",
)
"""Words for the codes of the compiled layout, for counting."""
MOST_GROWTH = 1.0
"""How far a box is grown to learn what is missing. [m]"""


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """Rows of the kinds that occur; each item's kind and forced partner (or −1)."""

    rows: NDArray[np.float64]
    types: NDArray[np.int64]
    mates: NDArray[np.int64]

    @property
    def sets(self) -> NDArray[np.int64]:
        """The one set of all items, shape (1, items)."""
        return self.types[None, :]

    @property
    def partners(self) -> NDArray[np.int64]:
        """Partners within that set, shape (1, items)."""
        return self.mates[None, :]


def packed_items(items: Sequence[Item]) -> Packed:
    """Items as the compiled layout takes them; equal ones share a kind."""
    if not 1 <= len(items) <= MOST_ITEMS:
        raise InputError(f"items must be 1 to {MOST_ITEMS}, got {len(items)}")
    kinds = list(dict.fromkeys(item.row for item in items))
    mates = [-1 if item.opposed_with is None else item.opposed_with for item in items]
    for i, mate in enumerate(mates):
        if mate >= 0 and (mate >= len(items) or mate == i or mates[mate] != i):
            raise InputError(
                f"opposed_with must name two items that name each other, got item {i} with {mate}"
            )
    return Packed(np.array(kinds), np.array([kinds.index(item.row) for item in items]), np.array(mates))


def check_edge(edge: float) -> None:
    """Reject an edge distance that is none."""
    if not math.isfinite(edge) or edge < 0.0:
        raise InputError(f"edge must be >= 0 m, got {edge:g}")


def _crowd(items: Sequence[Item]) -> str:
    words = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}
    parts = [
        f"a {label}" if n == 1 else f"{words.get(n, n)} {label}s"
        for label, n in Counter(i.label for i in items).items()
    ]
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]


def in_words(
    code: int, about: int, short: float, items: Sequence[Item], wall: float, growth: dict[str, float]
) -> tuple[str, float]:
    """The reason in words and the shortfall. [m]."""
    finite = {name: value for name, value in growth.items() if math.isfinite(value)}
    if about >= 0:
        item = items[about]
        where = ", ".join(item.faces)
        if code == why.FRAME_TOO_LARGE:
            return (
                f"the {item.label} does not fit on the faces allowed ({where}): {1e3 * short:.0f} mm too large",
                short,
            )
        if code == why.TOO_DEEP:
            need = max(item.depth + item.clearance, item.shoulder_depth) - wall
            return (
                f"the {item.label} needs {1e3 * need:.0f} mm behind the panel, "
                f"there are {1e3 * (need - short):.0f} mm: {1e3 * short:.0f} mm short",
                short,
            )
        if code == why.NO_FACE:
            return f"the {item.label} is allowed on no face that this box has ({where or 'none'})", math.inf
        return (
            f"the {item.label} has to sit opposite its partner, but no two opposite faces allow that",
            math.inf,
        )
    subject = _crowd(items)
    text = "collide inside the box" if code == why.COLLIDE else "do not fit side by side on the faces allowed"
    if len(items) == 1:
        text = text.replace("do not", "does not")
    if code == why.INSIDE_GONE:
        return f"{REASONS[code]}: {1e3 * short:.0f} mm short", short
    if not finite:
        return f"{subject} {text}: not even {MOST_GROWTH:g} m more of one size would do", math.inf
    more = " or ".join(f"{1e3 * value:.0f} mm more {name}" for name, value in finite.items())
    return f"{subject} {text}: {more} would do", min(finite.values())


def checked_sets(
    sets: NDArray[np.int64], mates: NDArray[np.int64] | None, kinds: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Sets and partners as the compiled layout takes them."""
    sets = np.ascontiguousarray(sets, dtype=np.int64)
    if sets.ndim != 2 or not 1 <= sets.shape[1] <= MOST_ITEMS or sets.max(initial=-1) >= kinds:
        raise InputError(
            f"sets must be rows of at most {MOST_ITEMS} indices into kinds, got shape {sets.shape}"
        )
    if len(sets) and sets[:, 0].min() < 0:
        raise InputError("sets must hold at least one item each")
    partners = np.full_like(sets, -1) if mates is None else np.ascontiguousarray(mates, dtype=np.int64)
    if partners.shape != sets.shape or partners.max(initial=-1) >= sets.shape[1]:
        raise InputError(
            f"mates must be positions within the sets, of shape {sets.shape}, got {partners.shape}"
        )
    return sets, partners
