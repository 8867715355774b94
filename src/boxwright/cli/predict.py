"""boxwright predict: what a design does, as a table, as JSON or as CSV."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import given_path, note, page_width, print_json, quantity, say, whole

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["predict"]

MOST_POINTS = 100_000


def predict(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="A design file.")],
    voltage: Annotated[
        str | None, typer.Option(metavar="V", help='Source voltage, rms; by default the file\'s: "20 V".')
    ] = None,
    frequencies: Annotated[
        str | None, typer.Option(metavar="HZ,HZ,...", help="Frequencies, separated by commas.")
    ] = None,
    start: Annotated[str | None, typer.Option("--from", metavar="HZ", help="Lowest frequency.")] = None,
    stop: Annotated[str | None, typer.Option("--to", metavar="HZ", help="Highest frequency.")] = None,
    points: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            parser=whole("--points", most=MOST_POINTS),
            help="How many, evenly on a logarithmic scale.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Every curve as JSON, SI.")] = False,
    as_csv: Annotated[
        bool, typer.Option("--csv", help="Every curve as comma-separated columns, SI.")
    ] = False,
) -> None:
    """Predict level, travel, impedance and the highest clean level of a design."""
    from boxwright.errors import InputError
    from boxwright.quantity import Kind

    if as_json and as_csv:
        raise InputError("output must be JSON or CSV, got both asked for", mend="leave one out")
    volts = quantity(voltage, Kind.VOLTAGE, "--voltage")
    chosen = _frequencies(frequencies, start, stop, points)

    from boxwright.acoustics import response
    from boxwright.files import blaming, load_design_with_notes

    found, notes = load_design_with_notes(given_path(design))
    if as_json or as_csv:
        with blaming(design):
            curves = response.predict(found, frequency=chosen, voltage=volts)
        if as_json:
            result = curves.to_dict()
            result["warnings"] = [*notes, *curves.warnings]
            print_json(result)
            return
        from boxwright.report.tables import curve_csv

        for remark in (*notes, *curves.warnings):
            note(f"note: {remark}")
        say(curve_csv(curves).rstrip("\n"))
        return

    from boxwright.report.tables import READOUT, response_text

    with blaming(design):
        usual = response.predict(found, voltage=volts)
        shown = response.predict(found, frequency=READOUT if chosen is None else chosen, voltage=volts)
    say(response_text(found, usual, shown, notes=notes, width=page_width()))


def _frequencies(
    listed: str | None, start: str | None, stop: str | None, points: int | None
) -> NDArray[np.float64] | None:
    """Frequencies asked for, or None for the usual ones."""
    from boxwright.errors import InputError
    from boxwright.quantity import Kind, parse

    ranged = start is not None or stop is not None or points is not None
    if listed is not None and ranged:
        raise InputError(
            "frequencies must be a list or a range, got both", mend="leave out --frequencies or --from/--to"
        )
    import numpy as np

    asked = "--frequencies"
    if listed is not None:
        texts = [text.strip() for text in listed.split(",")]
        if len(texts) > MOST_POINTS:
            raise InputError(f"--frequencies must be at most {MOST_POINTS}, got {len(texts)}")
        return np.array([_within(parse(text, Kind.FREQUENCY, field=asked), asked) for text in texts])
    if not ranged:
        return None
    low = parse(start, Kind.FREQUENCY, field="--from") if start is not None else 10.0
    high = parse(stop, Kind.FREQUENCY, field="--to") if stop is not None else 300.0
    count = points if points is not None else 300
    _within(low, "--from")
    _within(high, "--to")
    if not low < high:
        raise InputError(f"--from must be below --to, got {low:g} and {high:g} Hz")
    return np.geomspace(low, high, count)


def _within(frequency: float, field: str) -> float:
    """A frequency that anything can be computed for."""
    from boxwright.errors import InputError

    if not 0.01 <= frequency <= 100e3:
        raise InputError(f"{field} must lie between 0.01 and 100 000 Hz, got {frequency:g} Hz")
    return frequency
