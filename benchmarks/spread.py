"""Ten thousand boxes at 128 frequencies: draws, motion, limits and bands, in one call."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from boxwright.acoustics.response import predict
from boxwright.design import BoxPlan, Chamber, Design, PassiveOpening, Source, VentOpening
from boxwright.parts import Coil, Driver, Passive
from boxwright.spread.boxes import draw, variables_of, variant
from boxwright.spread.montecarlo import BOXES, spread_of
from boxwright.spread.sensitivity import sensitivity
from boxwright.spread.tolerances import Tolerances, standard_draws

FREQUENCY = np.geomspace(10.0, 300.0, 128)
PASSIVE = Design(
    driver=Driver(
        re=3.6,
        bl=11.0,
        mms=0.060,
        cms=0.55e-3,
        rms=2.0,
        sd=0.0214,
        coil=Coil(le=1e-3),
        xmax=0.012,
        pmax=200.0,
    ),
    rear=Chamber(volume=0.018, q_leak=7.0),
    openings=(
        PassiveOpening(
            passive=Passive(mmp=0.110, cmp=0.80e-3, rmp=1.6, sp=0.0330, xmax=0.016), added_mass=0.05
        ),
    ),
    source=Source(voltage=20.0, max_power=150.0, load=4.0),
    box=BoxPlan(width=0.40, height=0.30, depth=0.30, wall=0.018),
)
VENTED = replace(PASSIVE, openings=(VentOpening(diameter=0.075, length=0.35, flare=0.01),))


def _best(work: Callable[[], object], times: int = 5) -> float:
    work()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def _one_by_one(design: Design, boxes: int) -> float:
    """Seconds a box, each predicted as a design of its own."""
    variables = variables_of(design)
    drawn = draw(design, Tolerances(), variables, standard_draws(boxes, len(variables), 1))
    designs = [variant(design, drawn, k) for k in range(boxes)]
    return _best(lambda: predict(designs, frequency=FREQUENCY), 1) / boxes


def rows() -> list[tuple[str, str, str]]:
    """Lines of the table: what, figure, against what."""
    found = []
    for name, design in (("passive", PASSIVE), ("vented (duct)", VENTED)):
        seconds = _best(lambda d=design: spread_of(d, frequency=FREQUENCY, workers=2))
        found.append(
            (
                f"spread, {name}, {BOXES:,} boxes × {FREQUENCY.size} frequencies, 2 threads",
                f"{seconds * 1e3:.0f} ms",
                "under 200 ms",
            )
        )
        ratio = _one_by_one(design, 100) / (seconds / BOXES)
        found.append((f"  against predicting each box, {name}", f"{ratio:,.0f}×", ""))
    shares = _best(lambda: sensitivity(PASSIVE, at=40.0, workers=2), 2)
    found.append(("Sobol indices of reach, tuning and clean level", f"{shares * 1e3:.0f} ms", ""))
    return found


if __name__ == "__main__":
    for row in rows():
        print(" | ".join(row))
