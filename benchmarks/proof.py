"""A whole proof of one design, warm: level map, bursts, heat, recoil, panels, ten thousand boxes, what matters."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from boxwright.brief import Target
from boxwright.design import VentOpening
from boxwright.largesignal.bursts import burst_levels
from boxwright.largesignal.clean import clean_levels, twelfths
from boxwright.largesignal.model import model_of
from boxwright.largesignal.proof import prove
from boxwright.parts import Sheet
from spread import PASSIVE

SHEET = Sheet(name="ply", thickness=0.018, length=2.44, width=1.22, density=680.0, youngs_modulus=9e9)
TARGET = Target(reach=34.0, level=98.0)
VENTED = replace(PASSIVE, openings=(VentOpening(diameter=0.075, length=0.35, flare=0.01),))


def _best(work: Callable[[], object], times: int = 3) -> float:
    work()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def rows() -> list[tuple[str, str, str]]:
    """Lines of the table: what, figure, against what."""
    found = []
    for name, design in (("passive", PASSIVE), ("vented", VENTED)):
        seconds = _best(lambda d=design: prove(d, target=TARGET, sheet=SHEET, workers=2))
        found.append(
            (f"proof of one design, {name}, spread of 10,000 boxes included", f"{seconds:.2f} s", "under 2 s")
        )
    frequency = twelfths(17.0, 100.0)
    clean = _best(lambda: clean_levels(PASSIVE, frequency, workers=2))
    found.append((f"  highest clean level, {frequency.size} frequencies", f"{clean * 1e3:.0f} ms", ""))
    model = model_of(PASSIVE)
    bursts = _best(lambda: burst_levels(model, workers=2))
    found.append(("  loudest bursts, 6 frequencies", f"{bursts * 1e3:.0f} ms", ""))
    # the same question by single frequencies and levels, each begun from rest
    alone = _best(lambda: [clean_levels(PASSIVE, np.array([f]), workers=1) for f in frequency], 1)
    found.append(("  against each frequency by itself", f"{alone / clean:.1f}×", ""))
    return found


if __name__ == "__main__":
    for row in rows():
        print(" | ".join(row))
