"""boxwright prove: what a design does at level, in heat, under gravity and across units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import (
    MOST_WORKERS,
    check_result,
    given_path,
    note,
    page_width,
    print_json,
    progress_bar,
    quantity,
    say,
    whole,
    write_result,
)

if TYPE_CHECKING:
    from boxwright.brief import Target
    from boxwright.design import Design
    from boxwright.largesignal.proof import Proof
    from boxwright.parts import Sheet

__all__ = ["prove"]


def prove(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="A design file.")],
    target_level: Annotated[
        str | None, typer.Option(metavar="DB", help='Level wanted over the band: "102 dB".')
    ] = None,
    reach: Annotated[
        str | None, typer.Option(metavar="HZ", help="Lowest note wanted; by default the design's own reach.")
    ] = None,
    band_top: Annotated[
        str | None, typer.Option(metavar="HZ", help="Highest note wanted; by default 100 Hz.")
    ] = None,
    brief: Annotated[
        str | None, typer.Option(metavar="BRIEF", help="Take level, reach and placement from a brief.")
    ] = None,
    distortion: Annotated[
        str, typer.Option(metavar="SHARE", help="Harmonics that still count as clean.")
    ] = "10 %",
    boxes: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            parser=whole("--boxes", least=0),
            help="Boxes built with parts that stray; 0: none; by default 10 000.",
        ),
    ] = None,
    report: Annotated[
        str | None, typer.Option(metavar="FILE", help="Write the proof as a .pdf or .html too.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Let --report replace a file.")] = False,
    at: Annotated[
        str | None, typer.Option(metavar="HZ", help="Answer for one steady sine only, with --voltage.")
    ] = None,
    voltage: Annotated[
        str | None, typer.Option(metavar="V", help='Of that sine, rms, filters left out: "20 V".')
    ] = None,
    coil: Annotated[
        str | None, typer.Option(metavar="T", help='Temperature of the coil under that sine: "120 degC".')
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Everything as JSON, SI.")] = False,
    workers: Annotated[
        int | None,
        typer.Option(
            metavar="N", parser=whole("--workers", most=MOST_WORKERS), help="Threads; by default one a core."
        ),
    ] = None,
    store: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="Parts store, for the box's sheet; by default your own."),
    ] = None,
    no_examples: Annotated[
        bool, typer.Option("--no-examples", help="Leave the bundled example parts out.")
    ] = False,
) -> None:
    """Prove a design at level: its highest clean level, heat, recoil, panels, spread."""
    from pathlib import Path

    from boxwright.errors import InputError
    from boxwright.files import blaming, load_design_with_notes
    from boxwright.quantity import Kind, parse

    given = given_path(design)
    if at is not None or voltage is not None or coil is not None:
        if at is None or voltage is None:
            raise InputError(
                "--at and --voltage must go together, got one alone",
                mend='write --at "30 Hz" --voltage "20 V"',
            )
        found, notes = load_design_with_notes(given)
        _one_sine(given, found, notes, (at, voltage, coil), as_json=as_json)
        return
    ending = Path(given_path(report)).suffix.lower() if report is not None else ""
    if report is not None:
        if ending not in {".pdf", ".html", ".htm"}:
            raise InputError("--report must end in .pdf or .html", place=report, mend="add one of the two")
        check_result(report, force=force, source=given)
    threshold = parse(distortion, Kind.RATIO, field="--distortion")
    found, notes = load_design_with_notes(given)

    from boxwright.largesignal.proof import prove as proved

    wanted = _target(found, brief, target_level, reach, band_top)
    with progress_bar() as progress, blaming(given):
        proof = proved(
            found, target=wanted, sheet=_sheet(found, store, no_examples=no_examples), threshold=threshold,
            boxes=boxes, workers=workers, progress=progress,
        )  # fmt: skip
    if report is not None:
        write_result(report, _document(proof, notes, ending), force=force, source=given)
    if as_json:
        from boxwright.report.proof_words import proof_record

        print_json(proof_record(proof, notes=notes))
    else:
        from boxwright.report.proof_text import proof_text

        say(proof_text(proof, notes=notes, width=page_width()))
    if report is not None:
        note(f"proof written to {report}")


def _target(
    design: Design, brief: str | None, level: str | None, reach: str | None, band_top: str | None
) -> Target | None:
    """What is wanted: from a brief, single values replaced; or from the single values alone."""
    from dataclasses import replace

    from boxwright.brief import Target
    from boxwright.errors import InputError
    from boxwright.quantity import Kind

    wanted = quantity(level, Kind.LEVEL, "--target-level")
    low = quantity(reach, Kind.FREQUENCY, "--reach")
    high = quantity(band_top, Kind.FREQUENCY, "--band-top")
    if brief is not None:
        from boxwright.files import load_brief

        target = load_brief(given_path(brief)).target
    elif wanted is not None:
        from boxwright.largesignal.proof import own_band

        bottom, top = own_band(design)
        target = Target(reach=bottom, level=wanted, band_top=top, placement=design.placement)
    elif low is not None or high is not None:
        raise InputError(
            "--reach and --band-top must go with a level, got none",
            mend='add --target-level "102 dB" or --brief',
        )
    else:
        return None
    return replace(
        target,
        level=wanted if wanted is not None else target.level,
        reach=low if low is not None else target.reach,
        band_top=high if high is not None else target.band_top,
        content_from=target.content_from if low is None else None,
    )


def _sheet(design: Design, store: str | None, *, no_examples: bool) -> Sheet | None:
    """What the box is made of, if the store knows it."""
    from boxwright.parts.records import name_key
    from boxwright.parts.store import open_store

    if design.box is None or not design.box.sheet:
        return None
    with open_store(store, include_examples=not no_examples) as opened:
        wanted = name_key(design.box.sheet)
        return next((sheet for sheet in opened.sheets() if name_key(sheet.name) == wanted), None)


def _document(proof: Proof, notes: tuple[str, ...], ending: str) -> bytes:
    from boxwright.report.document import PDF_LETTERS, to_pdf
    from boxwright.report.page import to_html
    from boxwright.report.proof_pages import proof_report

    if ending == ".pdf":
        return to_pdf(proof_report(proof, letters=PDF_LETTERS, notes=notes))
    return to_html(proof_report(proof, notes=notes))


def _one_sine(
    path: str, design: Design, notes: tuple[str, ...], asked: tuple[str, str, str | None], *, as_json: bool
) -> None:
    """One steady sine."""
    from boxwright.files import blaming
    from boxwright.largesignal.answers import sine_at, steady_dict
    from boxwright.quantity import Kind, parse

    frequency = parse(asked[0], Kind.FREQUENCY, field="--at")
    volts = parse(asked[1], Kind.VOLTAGE, field="--voltage")
    warm = quantity(asked[2], Kind.TEMPERATURE, "--coil")
    with blaming(path):
        found = sine_at(design, frequency, volts, coil_temperature=warm)
    if as_json:
        result = steady_dict(design, found)
        result["warnings"] = [*notes, *found.remarks]
        print_json(result)
        return
    from boxwright.report.proof_text import sine_text

    say(sine_text(design, found, notes=notes, width=page_width()))
