"""boxwright report: one document about one design that a person can hand on."""

from __future__ import annotations

from typing import Annotated

import typer

from boxwright.cli.output import check_result, given_path, print_json, quantity, say, write_result

__all__ = ["report"]


def report(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="A design file.")],
    to: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="A .pdf or .html; by default the design's name with .pdf, here."),
    ] = None,
    voltage: Annotated[
        str | None, typer.Option(metavar="V", help='Source voltage, rms; by default the file\'s: "20 V".')
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file of that name.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print what was written as JSON.")] = False,
) -> None:
    """Write a report: verdicts in plain words, figures, curves, parameters, sources, cautions."""
    from pathlib import Path

    from boxwright.errors import InputError
    from boxwright.files import blaming, load_design_with_notes
    from boxwright.quantity import Kind

    path = given_path(to) if to is not None else Path(given_path(design)).stem + ".pdf"
    ending = Path(path).suffix.lower()
    if ending not in {".pdf", ".html", ".htm"}:
        raise InputError("--to must end in .pdf or .html", place=path, mend="add one of the two")
    check_result(path, force=force, source=given_path(design))
    volts = quantity(voltage, Kind.VOLTAGE, "--voltage")
    found, notes = load_design_with_notes(design)

    from boxwright.report.document import PDF_LETTERS, report_of, to_pdf
    from boxwright.report.page import to_html

    with blaming(design):
        if ending == ".pdf":
            made = to_pdf(report_of(found, voltage=volts, letters=PDF_LETTERS, notes=notes))
        else:
            made = to_html(report_of(found, voltage=volts, notes=notes))
    write_result(path, made, force=force, source=design)
    if as_json:
        print_json({"file": path, "bytes": len(made)})
    else:
        say(f"{path} written, {len(made) / 1e3:.0f} kB")
