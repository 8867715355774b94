"""Verdicts on a proof in plain words, most important first."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from boxwright.largesignal.proof import REACH_SLACK, Proof
from boxwright.largesignal.thermal import RATED_RISE
from boxwright.quantity import Kind, show
from boxwright.report.figures import decibel, hertz, listed, span
from boxwright.report.text import Tone, Verdict, binding_words

__all__ = ["limit_named", "proof_record", "proof_verdicts"]

# Where a remark begins: common practice, no source.
_LOSS_WORTH_MINDING = 3.0
_SHARE_GOOD, _SHARE_POOR = 0.9, 0.5
_DRIFT_WORTH_MINDING = 0.1


def proof_verdicts(proof: Proof) -> tuple[Verdict, ...]:
    """Everything worth saying about a proof, most important first."""
    return (
        _clean(proof),
        *_reach(proof),
        *_below(proof),
        *_distortion(proof),
        *_two_ways(proof),
        *_bursts(proof),
        *_heat(proof),
        *_drift(proof),
        *_hangs(proof),
        *_recoil(proof),
        *_panels(proof),
        *_spread(proof),
    )


def proof_record(proof: Proof, *, notes: Sequence[str] = ()) -> dict[str, object]:
    """A proof with its verdicts as plain lists and numbers, for JSON; what is infinite or no number becomes None.

    Parameters
    ----------
    notes : sequence of str
        Further remarks.
    """
    return {
        **proof.to_dict(),
        "verdicts": [
            {"tone": v.tone, "headline": v.headline, "detail": v.detail} for v in proof_verdicts(proof)
        ],
        "warnings": list(dict.fromkeys([*notes, *proof.warnings])),
    }


def limit_named(name: str) -> str:
    """A limit in words, in the middle of a sentence."""
    return {"harmonic 2": "the second harmonic", "harmonic 3": "the third harmonic"}.get(
        name, binding_words(name)
    )


def _clean(proof: Proof) -> Verdict:
    low, high = proof.band
    at, clean = proof.worst, proof.clean
    if not math.isfinite(proof.lowest_clean):
        if proof.lowest_clean > 0.0:
            return Verdict(
                tone="care",
                headline="Nothing stated limits the level",
                detail="state xmax of the driver and what the amplifier gives",
            )
        why = "a part hangs beyond its travel before it plays"
        return Verdict(tone="broken", headline="No level is clean", detail=why)
    cost = clean.cost[at]
    detail = f"least at {hertz(float(clean.frequency[at]))}, where {limit_named(clean.binding[at])} binds"
    promised = float(clean.linear.clean_level[at])
    if math.isfinite(promised):
        detail += f"; the linear model promises {decibel(promised)} there"
    inside = proof.in_band & np.isfinite(clean.cost)
    if inside.any():
        dearest = int(np.flatnonzero(inside)[np.argmax(clean.cost[inside])])
        if clean.cost[dearest] > cost + 0.1:
            off, where = float(clean.cost[dearest]), float(clean.frequency[dearest])
            detail += f" and is off by {decibel(off)} at {hertz(where)}"
    if proof.target is None:
        return Verdict(
            tone="good",
            headline=f"Clean at level to {decibel(proof.lowest_clean)}, {span(low, high)}",
            detail=detail,
        )
    enough = proof.lowest_clean >= proof.target.level - 0.05
    return Verdict(
        tone="good" if enough else "broken",
        headline=f"Clean at level to {decibel(proof.lowest_clean)}, {span(low, high)}",
        detail=f"asked: {decibel(proof.target.level)}; {detail}",
    )


_LEAVES = {
    "driver travel": "the cone leaves its travel",
    "passive travel": "the passive leaves its travel",
    "air speed": "the air in the vent is too fast",
}


def _below(proof: Proof) -> list[Verdict]:
    said = [
        f"{_LEAVES[name]} up to {hertz(f)}, by {decibel(over)}" for name, (f, over) in proof.below.items()
    ]
    if not said:
        return []
    return [
        Verdict(
            tone="broken",
            headline="Notes below the band break limits",
            detail=f"at the drive that {hertz(proof.band[0])} takes {listed(said)}; a (higher) protective high-pass "
            "mends it",
        )
    ]


def _reach(proof: Proof) -> list[Verdict]:
    found = proof.clean.linear.reach
    if proof.target is None or (found is not None and found <= REACH_SLACK * proof.target.reach):
        return []
    headline = f"Reaches {hertz(found)} only" if found is not None else "No lower edge found"
    return [
        Verdict(tone="broken", headline=headline, detail=f"asked: {hertz(proof.target.reach)}, half power")
    ]


def _distortion(proof: Proof) -> list[Verdict]:
    if proof.target is None:
        return []
    inside = proof.in_band & np.isfinite(proof.needed_distortion)
    if not inside.any():
        return [
            Verdict(
                tone="broken",
                headline="The level asked for is not reached anywhere",
                detail=f"asked: {decibel(proof.target.level)}",
            )
        ]
    at = int(np.flatnonzero(inside)[np.argmax(proof.needed_distortion[inside])])
    share = float(proof.needed_distortion[at])
    level = decibel(proof.target.level)
    out = proof.in_band & ~np.isfinite(proof.needed_distortion)
    missing = "; at some notes that level is not reached at all" if out.any() else ""
    return [
        Verdict(
            tone="good" if share <= proof.clean.threshold else "care",
            headline=f"Distortion at {level} stays below {100.0 * share:.2g} %"
            if share <= proof.clean.threshold
            else f"Distortion at {level} rises to {100.0 * share:.2g} %",
            detail=f"highest at {hertz(float(proof.clean.frequency[at]))}; harmonics 2 to 7 of the sound{missing}",
        )
    ]


def _two_ways(proof: Proof) -> list[Verdict]:
    said = [r for r in proof.clean.remarks if r.startswith(("two steady motions", "the motion jumps"))]
    return [Verdict(tone="care", headline="The cone may leap", detail="; ".join(said))] if said else []


def _bursts(proof: Proof) -> list[Verdict]:
    known = [b for b in proof.bursts if math.isfinite(b.level)]
    if not known:
        return []
    least = min(known, key=lambda b: b.level)
    most = max(known, key=lambda b: b.level)
    return [
        Verdict(
            tone="good",
            headline=f"Short bursts reach {decibel(least.level)} to {decibel(most.level)} peak",
            detail=f"6.5 cycles, {span(known[0].frequency, known[-1].frequency)}, at 1 m over a floor; least at "
            f"{hertz(least.frequency)}, where {limit_named(least.binding)} binds",
        )
    ]


def _heat(proof: Proof) -> list[Verdict]:
    w = proof.warming
    if w is None:
        return []
    loss, coil = float(w.level_loss[-1]), float(w.coil[-1])
    rise = coil - proof.design.air.temperature
    tone: Tone = "broken" if rise > RATED_RISE else "care" if loss > _LOSS_WORTH_MINDING else "good"
    final = f"{show(w.final_coil, Kind.TEMPERATURE)} and {decibel(w.final_level_loss)} in the end"
    return [
        Verdict(
            tone=tone,
            headline=f"Half an hour of music costs {decibel(loss)}",
            detail=f"the coil is at {show(coil, Kind.TEMPERATURE)} then, {final}; {w.notes[0]}, highest as a sine of "
            f"{show(proof.drive, Kind.VOLTAGE)}",
        )
    ]


def _drift(proof: Proof) -> list[Verdict]:
    travel = proof.design.driver.xmax
    known = proof.in_band & np.isfinite(proof.clean.offset)
    if travel is None or not known.any():
        return []
    at = int(np.flatnonzero(known)[np.argmax(np.abs(proof.clean.offset[known]))])
    far = float(proof.clean.offset[at])
    if abs(far) < _DRIFT_WORTH_MINDING * travel:
        return []
    way = "outward" if far > 0.0 else "inward"
    return [
        Verdict(
            tone="care",
            headline=f"The cone drifts {show(abs(far), Kind.LENGTH)} {way} under drive",
            detail=f"at the highest clean level, {hertz(float(proof.clean.frequency[at]))}: its curves are uneven",
        )
    ]


def _hangs(proof: Proof) -> list[Verdict]:
    found = []
    for hang in proof.hangs:
        if hang.sag == 0.0:
            continue
        tone: Tone = "broken" if hang.left <= 0.0 else "care" if hang.lost > _DRIFT_WORTH_MINDING else "good"
        found.append(
            Verdict(
                tone=tone,
                headline=f"The {hang.kind} hangs {show(hang.sag, Kind.LENGTH)}",
                detail=hang.words,
            )
        )
    return found


def _recoil(proof: Proof) -> list[Verdict]:
    r = proof.recoil
    if r is None:
        return []
    slides, hops = (float(np.min(v)) <= proof.drive for v in (r.slide_voltage, r.hop_voltage))
    force = float(np.max(r.size)) * proof.drive
    headline = "The box hops" if hops else "The box slides" if slides else "The box stays where it stands"
    return [
        Verdict(
            tone="care" if hops or slides else "good",
            headline=f"{headline}: {show(force, Kind.FORCE)} of recoil",
            detail=f"{show(r.mass, Kind.MASS)}, friction {r.friction:g}; " + "; ".join(r.words),
        )
    ]


def _panels(proof: Proof) -> list[Verdict]:
    p = proof.panels
    if p is None:
        return []
    first = p.panels[0]
    where = (
        f"the {first.face} panel is the first, between {hertz(first.supported)} and {hertz(first.clamped)}"
    )
    give = f"the walls give {100.0 * p.share_clamped:.1f} to {100.0 * p.share_supported:.1f} % of what the air gives"
    rings = first.supported < proof.band[1]
    return [
        Verdict(
            tone="care" if rings else "good",
            headline="A panel may ring inside the band" if rings else "No panel rings inside the band",
            detail="; ".join((where, give, *(w for w in p.warnings if "brace" in w or "thicker" in w))),
        )
    ]


def _spread(proof: Proof) -> list[Verdict]:
    s = proof.spread
    if s is None:
        return []
    tone: Tone = "good" if s.keeping >= _SHARE_GOOD else "care" if s.keeping >= _SHARE_POOR else "broken"
    words = [
        f"{100.0 * v:.2g} of 100 break {binding_words(n)}"
        for n, v in sorted(s.breaking.items(), key=lambda p: -p[1])
        if 0.0005 <= v < 0.995 and n != "reach"
    ]
    words += [w for w in s.words if w.startswith(("tuning:", "reach:"))]
    if proof.shares is not None and proof.shares.words:
        words.append(proof.shares.words[-1])
    asked = f"{decibel(proof.target.level)}" if proof.target is not None else show(s.voltage, Kind.VOLTAGE)
    return [
        Verdict(
            tone=tone,
            headline=f"{100.0 * s.keeping:.0f} of 100 boxes keep every limit at {asked}",
            detail="; ".join(words),
        )
    ]
