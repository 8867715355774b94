"""The proof in words and columns, for a terminal and for the pages of a report."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boxwright.design import Design, PassiveOpening
from boxwright.largesignal.proof import Proof
from boxwright.largesignal.waves import ORDERS, Steady, Wave
from boxwright.quantity import Kind, show
from boxwright.report.figures import decibel, span
from boxwright.report.layout import columns, plain, wrapped
from boxwright.report.proof_words import limit_named, proof_verdicts
from boxwright.report.tables import MARKS
from boxwright.report.text import binding_words

__all__ = ["burst_table", "level_table", "proof_text", "proofs_text", "sine_text"]


def sine_text(design: Design, found: Steady, *, notes: Sequence[str] = (), width: int | None = None) -> str:
    """One steady sine: harmonics of everything that moves and of the pressure.

    Parameters
    ----------
    notes : sequence of str
        Further remarks.
    width : int, optional
        Of the terminal. [character]
    """
    name = plain(design.name) or "A box without a name"
    head = f"{name}, {show(found.voltage, Kind.VOLTAGE)} at {show(found.frequency, Kind.FREQUENCY)}"
    lines = [head, "", columns(_heads(), _rows(design, found), width=width)]
    if found.other is not None:
        lines += ["", "coming down from above", columns(_heads(), _rows(design, found.other), width=width)]
    lines += ["", *(wrapped(note, first="· ") for note in dict.fromkeys((*notes, *found.remarks)))]
    return "\n".join(lines).rstrip("\n")


def _heads() -> list[str]:
    return ["peak", "", "offset", "1", *(str(order) for order in range(2, ORDERS)), "2 to 7 %"]


def _rows(design: Design, found: Steady) -> list[list[str]]:
    rows = [_row("cone", "mm", found.driver_travel, 1e3)]
    for opening, wave in zip(design.openings, found.openings, strict=True):
        passive = isinstance(opening, PassiveOpening)
        rows.append(
            _row("passive" if passive else "vent", "mm" if passive else "m/s", wave, 1e3 if passive else 1.0)
        )
    rows += [_row("current", "A", found.current, 1.0), _row("pressure", "Pa", found.pressure, 1.0)]
    return rows


def _row(name: str, unit: str, wave: Wave, factor: float) -> list[str]:
    distortion = 100.0 * float(wave.distortion)
    cells = [_figure(float(h) * factor) for h in wave.harmonics]
    return [name, unit, *cells, f"{distortion:.2g}" if math.isfinite(distortion) else "–"]


def _figure(value: float) -> str:
    if not math.isfinite(value):
        return "–"
    if abs(value) < 5e-4:
        return "0"
    return (f"{value:.3g}" if abs(value) < 1000.0 else f"{value:.0f}").replace("-", "−")


def proof_text(proof: Proof, *, notes: Sequence[str] = (), width: int | None = None) -> str:
    """A proof for a terminal: verdicts, the level over frequency, bursts.

    Parameters
    ----------
    notes : sequence of str
        Further remarks.
    width : int, optional
        Of the terminal. [character]
    """
    low, high = proof.band
    asked = f", {decibel(proof.target.level)} wanted" if proof.target is not None else ""
    lines = [f"{plain(proof.design.name) or 'A box without a name'}, {span(low, high)}{asked}", ""]
    for verdict in proof_verdicts(proof):
        lines += [wrapped(verdict.headline, first=f"{MARKS[verdict.tone]} "), wrapped(verdict.detail)]
    remarks = dict.fromkeys((*notes, *proof.warnings))
    lines += ["", *(wrapped(note, first="· ") for note in remarks), "", level_table(proof, width)]
    if proof.bursts:
        lines += ["", "Bursts of 6.5 cycles, peak level at 1 m over a floor", burst_table(proof, width)]
    return "\n".join(lines)


def proofs_text(parts: Sequence[str], proofs: Sequence[Proof], *, width: int | None = None) -> str:
    """Proofs of ranked candidates beside each other, the largest share of boxes that keep everything first.

    Parameters
    ----------
    parts : sequence of str
        What each candidate is made of, in the order of the ranking.
    proofs : sequence of Proof
        Of the first ones.
    width : int, optional
        Of the terminal. [character]
    """
    shares = [proof.spread.keeping if proof.spread is not None else 0.0 for proof in proofs]
    order = sorted(range(len(proofs)), key=lambda k: -shares[k])
    rows = []
    for k in order:
        proof = proofs[k]
        clean, at = proof.clean, proof.worst
        broken = [v.headline for v in proof_verdicts(proof) if v.tone == "broken"]
        rows.append(
            [
                str(k + 1),
                plain(parts[k]),
                f"{100.0 * proof.spread.keeping:.0f}" if proof.spread is not None else "–",
                _level(proof.lowest_clean),
                _level(float(clean.linear.clean_level[at])),
                f"{limit_named(clean.binding[at])}, {clean.frequency[at]:.0f} Hz",
                "; ".join(broken),
            ]
        )
    head = ("", "", "of 100 keep all", "clean dB", "linear dB", "what binds", "what breaks")
    return "Proved at level\n" + columns(head, rows, left=(0, 1, 5, 6), width=width, fold=(6,))


def level_table(proof: Proof, width: int | None = None) -> str:
    """Clean level over frequency, a line a sixth of an octave."""
    clean = proof.clean
    wanted = proof.target is not None
    head = ["Hz", "clean dB", "what binds", "linear dB", "THD %", "V", "then"]
    head += [f"THD % at {decibel(proof.target.level)}"] if proof.target is not None else []
    margins = clean.margins()
    edges = set(proof.band)
    rows = []
    for i, f in enumerate(clean.frequency):
        step = 12.0 * math.log2(float(f) / 1000.0)
        if float(f) not in edges and (abs(step - round(step)) > 1e-6 or round(step) % 2):
            continue
        others = [(float(m[i]), limit.name) for m, limit in zip(margins, clean.limits, strict=True)]
        after = sorted((m, name) for m, name in others if name != clean.binding[i] and math.isfinite(m))
        rows.append(
            [
                f"{f:.1f}",
                _level(float(clean.level[i])),
                binding_words(clean.binding[i]),
                _level(float(clean.linear.clean_level[i])),
                _percent(float(clean.distortion[i])),
                _level(float(clean.voltage[i])),
                f"{binding_words(after[0][1])} +{after[0][0]:.1f} dB" if after else "",
                *([_percent(float(proof.needed_distortion[i]))] if wanted else []),
            ]
        )
    return columns(head, rows, left=(2, 6), width=width, fold=(6,))


def burst_table(proof: Proof, width: int | None = None) -> str:
    """The loudest clean bursts."""
    rows = [
        [
            f"{b.frequency:.1f}",
            _level(b.level),
            limit_named(b.binding),
            _level(b.voltage),
            _level(b.travel * 1e3),
        ]
        for b in proof.bursts
    ]
    return columns(("Hz", "peak dB", "what binds", "peak V", "cone mm"), rows, left=(2,), width=width)


def _level(value: float) -> str:
    return f"{value:.1f}".replace("-", "−") if math.isfinite(value) else "–"


def _percent(share: float) -> str:
    return f"{100.0 * share:.2g}" if math.isfinite(share) else "–"
