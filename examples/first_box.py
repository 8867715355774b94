"""A first box from Python: what one design does, and what it would take to tune it lower.

Run it from anywhere: ``python examples/first_box.py``.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import boxwright as bw

HERE = Path(__file__).parent


def main() -> None:
    """Predict a passive box, then tune its passives three hertz lower."""
    design = bw.load_design(HERE / "passive-box.toml")
    before = bw.predict(design)
    opening = design.openings[0]
    assert isinstance(opening, bw.PassiveOpening)
    assert design.rear is not None
    assert before.reach is not None
    print(f"{design.name}: tuned to {before.tuning:.1f} Hz, reaches {before.reach:.1f} Hz")

    wanted = before.tuning - 3.0
    grams = bw.added_mass_for(opening.passive, design.rear.volume, opening.count, design.air, wanted)
    heavier = replace(design, openings=(replace(opening, added_mass=grams), *design.openings[1:]))
    after = bw.predict(heavier)
    more = (grams - opening.added_mass) * 1e3
    print(f"{more:.0f} g more on each passive: tuned to {after.tuning:.1f} Hz")
    assert abs(after.tuning - wanted) < 0.01

    assert after.reach is not None
    band = bw.predict(heavier, frequency=[after.reach * 2 ** (k / 12) for k in range(20)])
    lowest = min(range(len(band.frequency)), key=lambda k: float(band.clean_level[k]))
    print(
        f"clean to {band.clean_level[lowest]:.1f} dB from {after.reach:.0f} Hz up, "
        f"limited by {band.binding[lowest]} at {band.frequency[lowest]:.0f} Hz"
    )


if __name__ == "__main__":
    main()
