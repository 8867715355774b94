"""boxwright prove: what a design does at level, in heat, under gravity and across units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import given_path, page_width, print_json, quantity, say

if TYPE_CHECKING:
    from boxwright.design import Design

__all__ = ["prove"]


def prove(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="A design file.")],
    at: Annotated[
        str | None, typer.Option(metavar="HZ", help="Answer for one steady sine only, with --voltage.")
    ] = None,
    voltage: Annotated[
        str | None, typer.Option(metavar="V", help='Of that sine, rms, filters left out: "20 V".')
    ] = None,
    coil: Annotated[
        str | None, typer.Option(metavar="T", help='Temperature of the coil under that sine: "120 °C".')
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Everything as JSON, SI.")] = False,
) -> None:
    """Prove a design at level: what it does when it is driven hard."""
    from boxwright.errors import InputError
    from boxwright.files import load_design_with_notes

    if (at is None) != (voltage is None):
        raise InputError(
            "--at must go with --voltage, got one alone", mend='write --at "30 Hz" --voltage "20 V"'
        )
    if coil is not None and at is None:
        raise InputError("--coil must go with --at and --voltage, got it alone", mend="add both")
    given = given_path(design)
    if at is None or voltage is None:
        raise InputError("--at must be given, got none")
    found, notes = load_design_with_notes(given)
    _one_sine(given, found, notes, (at, voltage, coil), as_json=as_json)


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
