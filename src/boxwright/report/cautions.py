"""What a reader has to mind before playing, wiring and building; short, and only where it applies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boxwright.acoustics.response import Response
from boxwright.design import Design
from boxwright.report.figures import decibel

__all__ = ["Caution", "cautions"]

HARMFUL = 85.0
# A box of this outer volume and up weighs enough to hurt (common practice, no source). [m³]
HEAVY = 0.010


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What to mind, and what about it."""

    about: str
    words: str


def cautions(design: Design, response: Response) -> tuple[Caution, ...]:
    """Cautions that apply to a design.

    Parameters
    ----------
    design : Design
    response : Response
        Of that design.
    """
    found: list[Caution] = []

    def mind(about: str, words: str) -> None:
        found.append(Caution(about=about, words=words))

    clean = response.clean_level[np.isfinite(response.clean_level)]
    loudest = max(float(np.max(response.level)), float(clean.max()) if clean.size else 0.0)
    if loudest > HARMFUL:
        mind(
            "Hearing",
            f"This box can make {decibel(loudest)}. Exposure above 85 dB(A) harms hearing with time; keep it"
            " short, keep away, protect your ears.",
        )
    mind(
        "Test signals", "Start low. A steady low tone heats the coil and moves the cone more than music does."
    )
    source = design.source
    if source.voltage_limit is not None or source.current_limit is not None or source.max_power is not None:
        mind(
            "Wiring",
            "A battery can feed a fault with hundreds of amperes. Put a fuse near the source, size the cable"
            " for the current, and follow the local electrical code.",
        )
    if design.rear is not None or design.front is not None:
        mind("Wood", "Saws, routers and dust injure. Guards on, eyes, ears and lungs protected.")
        mind(
            "Glue",
            "The panels carry pressure at every stroke. Glue and brace every joint, and seal it tight before the"
            " first test.",
        )
    box = design.box
    if box is not None and box.width * box.height * box.depth >= HEAVY:
        mind(
            "Weight",
            "In a vehicle or overhead the box must be restrained so that it cannot come loose. Follow the"
            " vehicle's rules and leave hanging to qualified fitters.",
        )
    return tuple(found)
