"""One design as a document that a person can hand on: what it says, set as PDF or as one web page."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from importlib import metadata, resources

from boxwright.acoustics.response import Response, predict
from boxwright.brief import Target
from boxwright.design import Design
from boxwright.errors import CannotSolve
from boxwright.quantity import Kind, show
from boxwright.report.cautions import Caution, cautions
from boxwright.report.charts import draw_panels, rendered
from boxwright.report.layout import plain
from boxwright.report.overview import Figure, key_figures
from boxwright.report.panels import response_panels
from boxwright.report.parameters import Group, groups
from boxwright.report.sources import Source, sources_of
from boxwright.report.text import Verdict, family_of, route_words, shown_count, verdicts

__all__ = ["Chart", "Report", "report_of", "subtitle_of", "to_pdf"]

HEADINGS = {
    "verdicts": "What it does",
    "notes": "To know",
    "figures": "Key figures",
    "parameters": "What the numbers rest on",
    "cautions": "Mind",
    "sources": "Sources",
}
METHOD = (
    "Small-signal model: the driver as a circuit, chambers, vents and passives as acoustic elements, each limit taken"
    " where a steady sine reaches it. Travel and air speed are peak values, voltage and level are root-mean-square."
)
PDF_LETTERS = "Libertinus Serif"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A picture with its heading.

    Attributes
    ----------
    svg : str
        Complete; its text is text.
    alt : str
        What it shows, for those who cannot see it.
    """

    heading: str
    caption: str
    svg: str
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """All that a document says, as plain text and pictures.

    Attributes
    ----------
    maker : str
        Program and version.
    method : str
        What kind of computation it rests on.
    """

    title: str
    subtitle: str
    maker: str
    verdicts: tuple[Verdict, ...]
    notes: tuple[str, ...]
    figures: tuple[Figure, ...]
    charts: tuple[Chart, ...]
    parameters: tuple[Group, ...]
    cautions: tuple[Caution, ...]
    sources: tuple[Source, ...]
    method: str = METHOD


def subtitle_of(design: Design) -> str:
    """Type, drivers and where it is heard."""
    driver = shown_count(design.arrangement.count, design.driver.name or "unnamed driver")
    place = design.placement
    heard = (
        "in a room"
        if place.room is not None
        else f"heard at {show(place.distance, Kind.LENGTH)}, {place.space} space"
    )
    return f"{route_words(family_of(design))} · {driver} · {heard}"


def _alt(response: Response) -> str:
    low, high = response.frequency[0], response.frequency[-1]
    reach = f"reach {response.reach:.3g} Hz, " if response.reach else ""
    return (
        f"Curves from {low:.3g} to {high:.3g} Hz at {response.voltage:.3g} V: sound level, travel, impedance and group"
        f" delay; {reach}tuned to {response.tuning:.3g} Hz. The figures stand in the text."
    )


def report_of(
    design: Design,
    *,
    voltage: float | None = None,
    target: Target | None = None,
    letters: str = "",
    notes: tuple[str, ...] = (),
) -> Report:
    """Compute a design and put what it does into words and pictures.

    Parameters
    ----------
    design : Design
    voltage : float, optional
        At the source, rms; by default the design's own. [V]
    target : Target, optional
        What a brief asks of it.
    letters : str
        Type face of the pictures' text; empty: a plain sans serif.
    notes : tuple of str
        Further remarks, e.g. where the file's data disagree.
    """
    response = predict(design, voltage=voltage)
    alt = _alt(response)
    figure = draw_panels(response_panels(response, target=target), response.frequency, tuning=response.tuning)
    svg = rendered(figure, family=letters, title=alt).decode("utf-8")
    chart = Chart(
        heading="Over frequency",
        caption=f"At {show(response.voltage, Kind.VOLTAGE)}. Red: over a limit. Dotted: a limit, or what was asked.",
        svg=svg,
        alt=alt,
    )
    return Report(
        title=plain(design.name) or "A box without a name",
        subtitle=plain(subtitle_of(design)),
        maker=f"boxwright {metadata.version('boxwright')}",
        verdicts=verdicts(design, response, target=target),
        notes=tuple(plain(note) for note in (*notes, *response.warnings)),
        figures=key_figures(design, response, target=target),
        charts=(chart,),
        parameters=groups(design),
        cautions=cautions(design, response),
        sources=sources_of(design),
    )


def to_pdf(report: Report) -> bytes:
    """Set a report as PDF.

    Parameters
    ----------
    report : Report
        With pictures whose letters are ``PDF_LETTERS``.

    Raises
    ------
    CannotSolve
        If the typesetter refuses.
    """
    import typst

    data = json.dumps({**asdict(report), "headings": HEADINGS}, ensure_ascii=False)
    template = (resources.files("boxwright") / "report" / "template.typ").read_bytes()
    try:
        made = typst.compile(template, sys_inputs={"report": data})
    except typst.TypstError as error:
        raise CannotSolve(f"the report could not be set as PDF: {error}") from error
    if not isinstance(made, bytes):
        raise CannotSolve("the report could not be set as PDF: the typesetter gave no single file")
    return made
