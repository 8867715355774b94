"""A shortlist as plain lists and numbers, for JSON."""

from __future__ import annotations

import math
from dataclasses import asdict

from boxwright.search.shortlist import Candidate, Shortlist

__all__ = ["plain_candidate", "plain_shortlist"]


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def plain_candidate(candidate: Candidate) -> dict[str, object]:
    """One candidate; the design itself is left out, ``--save`` writes it as a file."""
    box = candidate.design.box
    high_pass = candidate.high_pass
    return {
        "family": candidate.family,
        "parts": candidate.parts,
        "driver": candidate.design.driver.name,
        "count": candidate.design.arrangement.count,
        "outer_m": [box.width, box.height, box.depth] if box is not None else None,
        "outer_volume_m3": candidate.outer_volume,
        "inside_volume_m3": candidate.inside_volume,
        "net_volume_m3": candidate.net_volume,
        "tuning_hz": candidate.tuning,
        "added_mass_kg": candidate.added_mass,
        "vent_length_m": candidate.vent_length,
        "vent_route": candidate.vent_route,
        "high_pass": {"frequency_hz": high_pass.frequency, "order": high_pass.order} if high_pass else None,
        "reach_hz": candidate.reach,
        "clean_level_db": _finite(candidate.clean_level),
        "binding": candidate.binding,
        "binding_frequency_hz": candidate.binding_frequency,
        "price": candidate.price,
        "weight_kg": candidate.weight,
        "group_delay_s": candidate.group_delay,
        "passive_ratio": _finite(candidate.passive_ratio),
        "layout": list(candidate.layout),
    }


def plain_shortlist(shortlist: Shortlist) -> dict[str, object]:
    """The whole shortlist."""
    return {
        "brief": shortlist.brief.name,
        "tried": shortlist.tried,
        "fitting": shortlist.fitting,
        "seconds": shortlist.seconds,
        "candidates": [plain_candidate(c) for c in shortlist.candidates],
        "best": shortlist.best,
        "balanced": shortlist.balanced,
        "weighting": shortlist.weighting,
        "rejections": [asdict(r) for r in shortlist.rejections],
        "near_misses": [asdict(n) for n in shortlist.near_misses],
        "routes": [
            {
                "driver": r.driver,
                "advice": r.advice,
                "routes": [
                    {k: _finite(v) if isinstance(v, float) else v for k, v in asdict(x).items()}
                    for x in r.routes
                ],
            }
            for r in shortlist.routes
        ],
        "warnings": list(shortlist.warnings),
    }
