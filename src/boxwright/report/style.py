"""Colours and strokes of every picture: one place, so that a part looks the same wherever it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "AMBER",
    "CLEAN",
    "CONE",
    "FAMILY_MARKS",
    "GRID",
    "INK",
    "LEVEL",
    "LIMIT",
    "MUTE",
    "PAPER",
    "PASSIVE",
    "SEA_GREEN",
    "TONES",
    "VENT",
    "WISH",
    "Mark",
    "Stroke",
]

PAPER = "#FBF9F4"
INK = "#22303C"
MUTE = "#5B6875"
GRID = "#D9D3C4"
OCHRE = "#B4632A"
SEA_GREEN = "#1F7A6D"
SLATE_BLUE = "#4A6A94"
LIMIT = "#B3261E"
AMBER = "#C98A00"

TONES = {"good": SEA_GREEN, "care": AMBER, "broken": LIMIT}
"""Colour of a verdict's bar by its tone; the words say the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn; the dashes double the colour.

    Attributes
    ----------
    dashes : tuple of float
        Lengths of strokes and gaps; empty: solid. [line widths]
    width : float
        [pt]
    """

    colour: str
    dashes: tuple[float, ...] = ()
    width: float = 1.5


LEVEL = Stroke(colour=INK, width=1.7)
CLEAN = Stroke(colour=MUTE, dashes=(4.0, 2.0), width=1.2)
CONE = Stroke(colour=OCHRE)
PASSIVE = Stroke(colour=SEA_GREEN, dashes=(7.0, 1.6))
VENT = Stroke(colour=SLATE_BLUE, dashes=(5.0, 1.5, 1.2, 1.5))
WISH = Stroke(colour=MUTE, dashes=(1.0, 2.2), width=1.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """How a family is marked; the shape doubles the colour."""

    colour: str
    shape: str


FAMILY_MARKS = {
    "closed": Mark(colour=OCHRE, shape="s"),
    "vented": Mark(colour=SLATE_BLUE, shape="^"),
    "passive": Mark(colour=SEA_GREEN, shape="o"),
    "bandpass": Mark(colour=INK, shape="D"),
}
