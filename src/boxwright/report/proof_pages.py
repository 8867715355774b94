"""A proof as a document that a person can hand on."""

from __future__ import annotations

import math
from importlib import metadata

from matplotlib.figure import Figure as Drawing

from boxwright.largesignal.proof import Proof
from boxwright.quantity import Kind, show
from boxwright.report.cautions import cautions
from boxwright.report.charts import rendered
from boxwright.report.document import Chart, Report, subtitle_of
from boxwright.report.figures import decibel, hertz
from boxwright.report.layout import plain
from boxwright.report.overview import Figure
from boxwright.report.parameters import groups
from boxwright.report.proof_charts import draw_distortion, draw_heat, draw_level, draw_shares, draw_spread
from boxwright.report.proof_words import limit_named, proof_verdicts
from boxwright.report.sources import sources_of

__all__ = ["METHOD", "proof_report"]

METHOD = (
    "Large-signal model: force factor, stiffness and inductance over travel, quadratic loss in vents, steady sines at"
    " rising levels and bursts in time. Heat, gravity, recoil, panels and the spread of many boxes beside it. Travel"
    " and air speed are peak values, voltage and level are root-mean-square, burst levels are peak."
)
_KEYS = (
    ("klippel2006", "motion at level"),
    ("iec62458", "limits of curves over travel"),
    ("ascher1995", "steady motion as a boundary value problem"),
    ("cta2010", "bursts and their harmonics"),
)


def proof_report(proof: Proof, *, letters: str = "", notes: tuple[str, ...] = ()) -> Report:
    """Put a proof into words and pictures.

    Parameters
    ----------
    letters : str
        Type face of the pictures' text; empty: a plain sans serif.
    notes : tuple of str
        Further remarks, e.g. where the file's data disagree.
    """
    design = proof.design
    name = plain(design.name) or "A box without a name"
    return Report(
        title=f"{name}: proof",
        subtitle=plain(subtitle_of(design)),
        maker=f"boxwright {metadata.version('boxwright')}",
        verdicts=proof_verdicts(proof),
        notes=tuple(plain(note) for note in dict.fromkeys((*notes, *proof.warnings))),
        figures=_figures(proof),
        charts=tuple(_charts(proof, letters)),
        parameters=groups(design),
        cautions=cautions(design, proof.clean.linear),
        sources=sources_of(design, also=_sources(proof)),
        method=METHOD,
    )


def _sources(proof: Proof) -> tuple[tuple[str, str], ...]:
    found = list(_KEYS)
    if proof.warming is not None:
        found += [("button1992", "heat of the coil"), ("klippel2004heat", "heat of the coil")]
    if proof.panels is not None:
        found += [("leissa1973", "panels with clamped edges"), ("woodhandbook", "stiffness of sheets")]
    if proof.shares is not None:
        found.append(("saltelli2010", "what matters most"))
    return tuple(found)


def _figures(proof: Proof) -> tuple[Figure, ...]:
    clean, at = proof.clean, proof.worst
    found = [
        Figure(
            name="Clean at level",
            value=decibel(proof.lowest_clean),
            note=f"{limit_named(clean.binding[at])} at {hertz(float(clean.frequency[at]))}",
        ),
        Figure(
            name="Linear model", value=decibel(float(clean.linear.clean_level[at])), note="at the same note"
        ),
    ]
    found += [
        Figure(
            name=f"Burst {hertz(b.frequency)}",
            value=decibel(b.level),
            note=f"peak; {limit_named(b.binding)}",
        )
        for b in proof.bursts
        if math.isfinite(b.level)
    ]
    if proof.warming is not None:
        after = proof.warming
        found.append(
            Figure(name="Lost to heat", value=decibel(float(after.level_loss[-1])), note="in half an hour")
        )
        found.append(Figure(name="Coil then", value=show(float(after.coil[-1]), Kind.TEMPERATURE)))
    if proof.recoil is not None:
        force = float(proof.recoil.size.max()) * proof.drive
        found.append(
            Figure(name="Recoil", value=show(force, Kind.FORCE), note=f"at {show(proof.drive, Kind.VOLTAGE)}")
        )
    if proof.panels is not None:
        found.append(
            Figure(name="First panel mode", value=hertz(proof.panels.lowest), note="edges only held")
        )
    if proof.spread is not None:
        found.append(
            Figure(
                name="Boxes that keep all",
                value=f"{100.0 * proof.spread.keeping:.0f} %",
                note=f"of {proof.spread.boxes:,}",
            )
        )
    return tuple(found)


def _charts(proof: Proof, letters: str) -> list[Chart]:
    found = []

    def add(heading: str, caption: str, drawing: Drawing) -> None:
        alt = f"{heading}. {caption} The figures stand in the text."
        svg = rendered(drawing, family=letters, title=alt).decode("utf-8")
        found.append(Chart(heading=heading, caption=caption, svg=svg, alt=alt))

    add("Level", "By steady sines, warm-up left out; the bars say what binds.", draw_level(proof))
    add("Distortion", "Red: over what counts as clean.", draw_distortion(proof))
    if proof.warming is not None:
        voltage = show(proof.drive, Kind.VOLTAGE)
        add(
            "Heat",
            f"{_upper(proof.warming.notes[0])}, peaks those of a sine of {voltage}.",
            draw_heat(proof.warming),
        )
    if proof.spread is not None:
        add("Spread", "Nine of ten boxes lie in the shade.", draw_spread(proof, proof.spread))
    if proof.shares is not None:
        add(
            "What matters most",
            "Total indices: what would stay if that alone strayed.",
            draw_shares(proof.shares),
        )
    return found


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
