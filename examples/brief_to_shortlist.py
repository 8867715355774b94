"""From a brief to a ranked shortlist in Python, with the example parts.

Run it from anywhere: ``python examples/brief_to_shortlist.py``.
"""

from __future__ import annotations

from dataclasses import replace

import boxwright as bw


def main() -> None:
    """Ask for a box behind a van's rear seat: a wedge, one driver, closed or passive."""
    brief = bw.Brief(
        name="Behind the seat",
        space=bw.Space(shape="wedge", width=0.80, height=0.35, depth=0.30, depth_top=0.18),
        target=bw.Target(reach=36.0, level=98.0, band_top=100.0),
        source=bw.Source(max_power=200.0, load=4.0),
        limits=bw.Limits(budget=350.0, weight=18.0, passives=2, families=("closed", "passive")),
    )
    with bw.open_store() as store:
        parts = bw.parts_for(brief, store)
    found = bw.shortlist(brief, parts)
    print(f"{found.tried} boxes tried, {found.fitting} can be built and meet the brief")
    for candidate in found.candidates[:5]:
        print(
            f"  {candidate.parts}: {candidate.net_volume * 1e3:.1f} L, {candidate.reach:.1f} Hz, "
            f"{candidate.clean_level:.1f} dB, {candidate.price:.0f}, {candidate.weight:.1f} kg"
        )
    for miss in found.near_misses:
        print(f"  or: {miss.words}")

    quieter = bw.shortlist(replace(brief, target=replace(brief.target, level=92.0)), parts)
    assert quieter.fitting >= found.fitting, "asking for less can only let more boxes in"


if __name__ == "__main__":
    main()
