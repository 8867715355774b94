"""The whole job as one readable page of calls: brief → shortlist → picks → proof → files to hand on."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from boxwright.acoustics.response import Response, predict
from boxwright.brief import Brief
from boxwright.files import dumps_brief, dumps_design
from boxwright.parts import Driver, Passive, Sheet, VentStock
from boxwright.parts.records import name_key
from boxwright.parts.rows import marked
from boxwright.parts.store import Store
from boxwright.report.picks import shortlist_text, story
from boxwright.search.families import PartsOffer
from boxwright.search.run import shortlist
from boxwright.search.shortlist import OBJECTIVES, Candidate, Shortlist

if TYPE_CHECKING:
    from boxwright.largesignal.proof import Proof

__all__ = ["Job", "Pick", "files_of", "parts_for", "proofs_of", "run"]

Progress = Callable[[str, float], None]
_P = TypeVar("_P", bound=Driver | Passive | VentStock | Sheet)

# What the search takes of the whole, and search and proof together; the rest is drawing and writing.
_SEARCH_SHARE, _PROVED_SHARE = 0.72, 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """A candidate worth a file of its own.

    Attributes
    ----------
    name : str
        Of its files: balanced, smallest, deepest, …
    number : int
        Its rank in the shortlist, from 1. [-]
    response : Response
        At the source voltage of its design.
    """

    name: str
    number: int
    candidate: Candidate
    response: Response


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A brief carried through to its picks.

    Attributes
    ----------
    proof : Proof or None
        Of the first pick; None: nothing was found.
    """

    brief: Brief
    notes: tuple[str, ...]
    shortlist: Shortlist
    picks: tuple[Pick, ...]
    proof: Proof | None = None

    @property
    def story(self) -> str:
        """What came out, in a few sentences."""
        return story(self.shortlist)


def parts_for(brief: Brief, store: Store) -> PartsOffer:
    """Parts that a brief may use: those it brings itself, and those of the store that it names.

    Parameters
    ----------
    brief : Brief
        Its own parts hide those of the store with the same name.
    store : Store

    Raises
    ------
    InputError
        If a name pattern matches nothing.
    """
    choice = brief.parts
    return PartsOffer(
        drivers=_offered(brief.drivers, choice.drivers, store.drivers),
        passives=_offered(brief.passives, choice.passives, store.passives),
        vents=_offered(brief.vents, choice.vents, store.vents),
        sheets=_offered(brief.sheets, (choice.sheet,) if choice.sheet else ("*",), store.sheets),
    )


def _offered(
    own: tuple[_P, ...], patterns: tuple[str, ...], of_store: Callable[[tuple[str, ...]], tuple[_P, ...]]
) -> tuple[_P, ...]:
    names = {name_key(part.name) for part in own}
    wanted = tuple(pattern for pattern in patterns if name_key(pattern) not in names)
    return (*own, *(part for part in of_store(wanted) if name_key(part.name) not in names))


def run(
    brief: Brief,
    store: Store,
    *,
    notes: tuple[str, ...] = (),
    progress: Progress | None = None,
    workers: int | None = None,
    cluster: str | None = None,
) -> Job:
    """Carry a brief through: search, pick, predict, prove.

    Parameters
    ----------
    brief : Brief
    store : Store
    notes : tuple of str
        Remarks on the brief, kept with the result.
    progress : callable, optional
        Told what goes on and the share done, 0 to 1; whatever it raises stops the job.
    workers : int, optional
        Threads of the search.
    cluster : str, optional
        Address of a scheduler that does the search instead.
    """

    def tell(what: str, share: float) -> None:
        if progress is not None:
            progress(what, _SEARCH_SHARE * share)

    parts = parts_for(brief, store)
    found = shortlist(brief, parts, progress=tell, workers=workers, cluster=cluster)
    picks = _picks(found)
    proof = None
    if picks:
        told = _between(progress, _SEARCH_SHARE, _PROVED_SHARE)
        (proof,) = proofs_of(brief, (picks[0].candidate,), parts.sheets, progress=told, workers=workers)
    return Job(brief=brief, notes=notes, shortlist=found, picks=picks, proof=proof)


def proofs_of(
    brief: Brief,
    candidates: Sequence[Candidate],
    sheets: Sequence[Sheet],
    *,
    progress: Progress | None = None,
    workers: int | None = None,
) -> tuple[Proof, ...]:
    """Prove candidates against their brief, one after the other.

    Parameters
    ----------
    brief : Brief
    candidates : sequence of Candidate
    sheets : sequence of Sheet
        Among which each box finds what it is made of.
    progress : callable, optional
        Told what goes on and the share done, 0 to 1; whatever it raises stops the work.
    workers : int, optional
        Threads.
    """
    if not candidates:
        return ()
    from boxwright.largesignal.proof import prove

    known = {name_key(sheet.name): sheet for sheet in sheets}
    found = []
    for number, candidate in enumerate(candidates):
        told = _between(progress, number / len(candidates), (number + 1) / len(candidates))
        box = candidate.design.box
        sheet = known.get(name_key(box.sheet)) if box is not None else None
        found.append(
            prove(candidate.design, target=brief.target, sheet=sheet, progress=told, workers=workers)
        )
    return tuple(found)


def _between(progress: Progress | None, low: float, high: float) -> Progress | None:
    """The same progress, its share squeezed between two others."""
    if progress is None:
        return None
    tell = progress
    return lambda what, share: tell(f"proof: {what}", low + (high - low) * share)


def _picks(found: Shortlist) -> tuple[Pick, ...]:
    """Balanced first, then the best in each objective; one candidate may be picked more than once."""
    chosen = {"balanced": found.balanced} | {word: found.best.get(word) for _, word, _, _ in OBJECTIVES}
    return tuple(
        Pick(
            name=name,
            number=index + 1,
            candidate=found.candidates[index],
            response=predict(found.candidates[index].design),
        )
        for name, index in chosen.items()
        if index is not None
    )


def files_of(job: Job, progress: Progress | None = None) -> Iterator[tuple[str, bytes]]:
    """Every file of a job, one after the other: name and content.

    Parameters
    ----------
    job : Job
    progress : callable, optional
        Told what is being made and the share done, 0 to 1.
    """
    from boxwright.report.charts import rendered
    from boxwright.report.document import PDF_LETTERS, report_of, to_pdf
    from boxwright.report.page import to_html
    from boxwright.report.proof_pages import proof_report
    from boxwright.report.proof_words import proof_record
    from boxwright.report.scatter import draw_front
    from boxwright.report.tables import curve_csv

    def tell(what: str, share: float) -> None:
        if progress is not None:
            progress(what, _PROVED_SHARE + (1.0 - _PROVED_SHARE) * share)

    tell("writing the shortlist", 0.0)
    yield "brief.toml", dumps_brief(job.brief).encode()
    yield "shortlist.json", _json(job.shortlist.to_dict())
    words = shortlist_text(job.shortlist, most=40, routes=job.shortlist.routes, reasons=None, notes=job.notes)
    yield "shortlist.txt", words.encode("utf-8", "replace")
    yield "candidates.csv", _candidates(job.shortlist).encode("utf-8", "replace")
    tell("drawing the front", 0.1)
    front = draw_front(job.shortlist)
    yield "front.svg", rendered(front, "svg", title="What the space allows: air inside against reach")
    yield "front.png", rendered(front, "png")
    for number, pick in enumerate(job.picks):
        tell(f"writing the {pick.name} pick", 0.3 + 0.3 * number / len(job.picks))
        yield f"{pick.name}.toml", dumps_design(pick.candidate.design).encode()
        yield f"{pick.name}.json", _json(pick.response.to_dict())
        yield f"{pick.name}.csv", curve_csv(pick.response).encode()
    if job.picks:
        tell("setting the report", 0.7)
        design, target = job.picks[0].candidate.design, job.brief.target
        yield "report.pdf", to_pdf(report_of(design, target=target, letters=PDF_LETTERS))
        yield "report.html", to_html(report_of(design, target=target))
    if job.proof is not None:
        tell("setting the proof", 0.85)
        yield "proof.json", _json(proof_record(job.proof))
        yield "proof.pdf", to_pdf(proof_report(job.proof, letters=PDF_LETTERS))
    tell("done", 1.0)


def _json(value: object) -> bytes:
    return (json.dumps(value, indent=1, allow_nan=False) + "\n").encode()


def _candidates(found: Shortlist) -> str:
    """The ranked candidates as comma-separated values in SI, one line each."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(
        [
            "number",
            "family",
            "parts",
            "outer_volume_m3",
            "net_volume_m3",
            "tuning_hz",
            "reach_hz",
            "clean_level_db",
            "binding",
            "binding_frequency_hz",
            "price",
            "weight_kg",
            "group_delay_s",
        ]
    )
    for number, c in enumerate(found.candidates, 1):
        writer.writerow(
            [
                number,
                c.family,
                marked(c.parts),
                c.outer_volume,
                c.net_volume,
                c.tuning,
                c.reach,
                c.clean_level,
                c.binding,
                c.binding_frequency,
                c.price,
                c.weight,
                c.group_delay,
            ]
        )
    return buffer.getvalue()
