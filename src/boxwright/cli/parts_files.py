"""boxwright parts check, import, export: files of parts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import check_result, given_path, note, print_json, say, write_result
from boxwright.cli.parts_options import AsJson, KindOption, StoreFile, kinds, opened_store

if TYPE_CHECKING:
    from boxwright.parts.completing import Disagreement
    from boxwright.parts.reading import ReadPart

__all__ = ["check_parts", "export_file", "import_file"]


def check_parts(
    file: Annotated[str, typer.Argument(metavar="FILE", help="CSV or TOML of data sheets.")],
    kind: KindOption = None,
    as_json: AsJson = False,
) -> None:
    """Check data sheets: how far each stated value is from what the others imply, in percent. Changes nothing."""
    from boxwright.cli.parts_words import sheet_text
    from boxwright.parts.reading import read_parts

    parts, problems = read_parts(given_path(file), kind=kind)
    checked = [(read, _disagreements(read)) for read in parts]
    if as_json:
        print_json(
            {
                "parts": [
                    {
                        "name": read.part.name,
                        "line": read.line,
                        "values": [
                            {
                                "symbol": d.symbol,
                                "stated": d.stated,
                                "implied": d.implied,
                                "percent": d.percent,
                            }
                            for d in found
                        ],
                        "warnings": list(read.warnings),
                    }
                    for read, found in checked
                ],
                "unreadable": [{"line": p.line, "message": p.message} for p in problems],
            }
        )
    elif checked:
        say("\n\n".join(sheet_text(read, found) for read, found in checked))
    elif not problems:
        note("note: the file holds no parts")
    for problem in problems:
        note(f"line {problem.line}: {problem.message}")
    if problems:
        raise typer.Exit(2)


def _disagreements(read: ReadPart) -> tuple[Disagreement, ...]:
    """Every stated value against the others; none for a kind of part that has nothing to compare."""
    from boxwright.air import standard_air
    from boxwright.parts.completing import DRIVER_SYMBOLS, PASSIVE_SYMBOLS, complete_driver, complete_passive
    from boxwright.parts.driver import Driver
    from boxwright.parts.passive import Passive
    from boxwright.quantity import parse

    if isinstance(read.part, Driver):
        symbols, complete = DRIVER_SYMBOLS, complete_driver
    elif isinstance(read.part, Passive):
        symbols, complete = PASSIVE_SYMBOLS, complete_passive  # type: ignore[assignment]
    else:
        return ()
    stated = {
        name: parse(text, symbols[name], field=name) for name, text in read.given.items() if name in symbols
    }
    return complete(stated, air=standard_air()).disagreements


def import_file(
    file: Annotated[str, typer.Argument(metavar="FILE", help="CSV or TOML.")],
    kind: KindOption = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Take the place of parts of the same names.")
    ] = False,
    store: StoreFile = None,
    as_json: AsJson = False,
) -> None:
    """Import parts; rows that cannot be read are reported with their lines, the rest are kept."""
    from boxwright.parts.exchange import import_parts

    with opened_store(store, bare=False) as opened:
        done = import_parts(opened, given_path(file), kind=kind, replace=replace)
    nothing = bool(done.skipped) and not done.added and not done.replaced
    if as_json:
        print_json(
            {
                "added": list(done.added),
                "replaced": list(done.replaced),
                "skipped": [{"line": p.line, "message": p.message} for p in done.skipped],
                "warnings": list(done.warnings),
            }
        )
    elif not nothing:
        say(f"{len(done.added)} added, {len(done.replaced)} replaced, {len(done.skipped)} left out")
    for warning in done.warnings:
        note(f"note: {warning}")
    for problem in done.skipped:
        note(f"line {problem.line} left out: {problem.message}")
    if nothing:
        raise typer.Exit(2)


def export_file(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A .csv or .toml.")],
    kind: KindOption = None,
    examples: Annotated[bool, typer.Option("--examples", help="The bundled example parts as well.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace a file of that name.")] = False,
    store: StoreFile = None,
    as_json: AsJson = False,
) -> None:
    """Export parts so that importing them gives the same parts to the last bit."""
    from pathlib import Path

    from boxwright.errors import InputError
    from boxwright.parts.exchange import to_csv, to_toml

    ending = Path(given_path(file)).suffix.lower()
    if ending not in {".csv", ".toml"}:
        raise InputError("FILE must end in .csv or .toml", place=file, mend="add one of the two")
    check_result(file, force=force)
    with opened_store(store, bare=not examples) as opened:
        parts = [entry.part for name in kinds(kind) for entry in opened.find(name)]
    text = to_toml(parts) if ending == ".toml" else to_csv(parts)
    write_result(file, text.encode(), force=force)
    if not parts:
        note("note: there are no such parts of your own; --examples exports the bundled ones as well")
    if as_json:
        print_json({"file": file, "parts": len(parts)})
    else:
        say(f"{len(parts)} parts written to {file}")
