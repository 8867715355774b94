"""boxwright parts: the parts store: list, find, show, add, check, import, export, remove."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from boxwright.cli.output import given_path, note, print_json, say, write_result

if TYPE_CHECKING:
    from collections.abc import Sequence

    from boxwright.parts.completing import Disagreement
    from boxwright.parts.reading import ReadPart
    from boxwright.parts.store import Entry, Range, Store

__all__ = ["app"]

app = typer.Typer(
    help="The parts store: drivers, passives, vents, amplifiers, sheets.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

StoreFile = Annotated[
    str | None, typer.Option("--store", metavar="FILE", help="The store; by default your own.")
]
Bare = Annotated[bool, typer.Option("--no-examples", help="Leave the bundled example parts out.")]
AsJson = Annotated[bool, typer.Option("--json", help="As JSON, SI.")]
KindOption = Annotated[
    str | None, typer.Option("--kind", metavar="KIND", help="driver, passive, vent, amplifier or sheet.")
]
Where = Annotated[
    list[str] | None,
    typer.Option(
        "--where", metavar="FIELD=RANGE", help='A range of a field: fs=20..40, "xmax=8 mm..", price=..100.'
    ),
]


def _opened(store: str | None, *, bare: bool) -> Store:
    from boxwright.parts.store import open_store

    return open_store(given_path(store) if store is not None else None, include_examples=not bare)


def _kinds(name: str | None) -> list[str]:
    from boxwright.parts.fields import KINDS, kind_named

    return list(KINDS) if name is None else [kind_named(name).name]


def _ranges(kind: str, where: Sequence[str] | None) -> dict[str, Range]:
    """Read ``fs=20..40``: each bound with or without a unit, either may be left out, one number means just that."""
    from boxwright.errors import InputError
    from boxwright.parts.fields import kind_named
    from boxwright.parts.forms import Figure
    from boxwright.quantity import Kind, parse

    which = kind_named(kind)
    measures = {c.name: c.form.kind for c in which.columns if isinstance(c.form, Figure)}
    measures |= {derived.name: derived.kind for derived in which.derived}
    found: dict[str, Range] = {}
    for text in where or ():
        field, equals, bounds = text.partition("=")
        field = field.strip().lower()
        if not equals or not bounds.strip():
            raise InputError(f'--where must be FIELD=RANGE, got "{text}"', mend="write it like fs=20..40")
        low, dots, high = (part.strip() for part in bounds.partition(".."))
        measure = measures.get(
            field, Kind.RATIO
        )  # a field that is not known is refused by the store, with the nearest
        least = parse(low, measure, field=field) if low else None
        most = parse(high, measure, field=field) if high else None
        found[field] = (least, most) if dots else (least, least)
    return found


def _plain(entry: Entry) -> dict[str, Any]:
    from boxwright.parts.curve import Curve
    from boxwright.parts.fields import kind_of
    from boxwright.parts.forms import plain_curve

    kind = kind_of(entry.part)
    values = kind.values(entry.part)
    plain = {
        name: plain_curve(value) if isinstance(value, Curve) else value for name, value in values.items()
    }
    stored = {column.name for column in kind.columns}
    derived = {name: value for name, value in kind.measures(entry.part, values).items() if name not in stored}
    return {
        "kind": entry.kind,
        **plain,
        "derived": derived,
        "given": entry.given,
        "provenance": entry.provenance,
        "example": entry.example,
        "added": entry.added,
    }


_SHOWN = {
    "driver": ("fs", "qts", "vas", "sd", "xmax", "re", "pmax", "price"),
    "passive": ("fp", "mmp", "sp", "xmax", "added_mass_max", "price"),
    "vent": ("diameter", "width", "height", "flare", "max_length", "price_per_metre"),
    "amplifier": ("power", "load", "max_voltage", "max_current", "price"),
    "sheet": ("length", "width", "thickness", "density", "price"),
}


def _table(kind: str, entries: Sequence[Entry]) -> str:
    """Entries of one kind, each field in one unit down its column."""
    from boxwright.parts.fields import kind_named
    from boxwright.parts.forms import Figure
    from boxwright.quantity import show
    from boxwright.report.tables import columns

    which = kind_named(kind)
    measures = {c.name: c.form.kind for c in which.columns if isinstance(c.form, Figure)}
    measures |= {derived.name: derived.kind for derived in which.derived}
    rows = []
    for entry in entries:
        values = which.measures(entry.part, which.values(entry.part))
        cells = [show(values[name], measures[name]) if name in values else "" for name in _SHOWN[kind]]
        rows.append([entry.part.name, *cells, "example" if entry.example else "own"])
    return columns((which.plural, *_SHOWN[kind], ""), rows, left=(0, len(_SHOWN[kind]) + 1))


def _print_entries(found: dict[str, Sequence[Entry]], *, as_json: bool) -> None:
    if as_json:
        print_json([_plain(entry) for entries in found.values() for entry in entries])
        return
    tables = [_table(kind, entries) for kind, entries in found.items() if entries]
    if tables:
        say("\n\n".join(tables))
    else:
        note("no such parts")


@app.command("list")
def list_parts(
    kind: Annotated[str | None, typer.Argument(metavar="[KIND]", help="Which kind; by default all.")] = None,
    where: Where = None,
    store: StoreFile = None,
    no_examples: Bare = False,
    as_json: AsJson = False,
) -> None:
    """List parts, of one kind or of all, within ranges of their values."""
    find_parts("", kind=kind, where=where, store=store, no_examples=no_examples, as_json=as_json)


@app.command("find")
def find_parts(
    words: Annotated[
        str, typer.Argument(metavar="WORDS", help="All in name or notes, each from its beginning.")
    ],
    kind: KindOption = None,
    where: Where = None,
    store: StoreFile = None,
    no_examples: Bare = False,
    as_json: AsJson = False,
) -> None:
    """Find parts by words in their names and notes."""
    from boxwright.errors import InputError

    if where and kind is None:
        raise InputError(
            "--where must go with a kind of part, got none", mend="name it: driver, passive, vent, ..."
        )
    found: dict[str, Sequence[Entry]] = {}
    with _opened(store, bare=no_examples) as opened:
        for name in _kinds(kind):
            found[name] = opened.find(name, words, _ranges(name, where))
    _print_entries(found, as_json=as_json)


@app.command("show")
def show_part(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The part's name.")],
    kind: KindOption = None,
    store: StoreFile = None,
    no_examples: Bare = False,
    as_json: AsJson = False,
) -> None:
    """Show a part's full set of parameters, stored and derived."""
    with _opened(store, bare=no_examples) as opened:
        entry = _entry(opened, name, kind)
    if as_json:
        print_json(_plain(entry))
    else:
        say(_shown(entry))


def _entry(store: Store, name: str, kind: str | None) -> Entry:
    """Look a part up in every kind, or in one."""
    from boxwright.errors import InputError
    from boxwright.parts.records import name_key

    if kind is not None:
        return store.entry(kind, name)
    known = {which: {name_key(each) for each in store.names(which)} for which in _kinds(None)}
    found = [which for which, names in known.items() if name_key(name) in names]
    if len(found) > 1:
        raise InputError(
            f'name must be one part\'s, got "{name}": a {" and a ".join(found)} have it', mend="add --kind"
        )
    if found:
        return store.entry(found[0], name)
    import difflib

    every = {key: which for which, names in known.items() for key in names}
    near = difflib.get_close_matches(name_key(name), every, n=1, cutoff=0.0)
    return store.entry(every[near[0]] if near else "driver", name)  # refused, with the nearest of that kind


def _shown(entry: Entry) -> str:
    from boxwright.parts.fields import kind_of
    from boxwright.parts.forms import Figure
    from boxwright.quantity import show
    from boxwright.report.figures import plain
    from boxwright.report.tables import columns, wrapped

    kind = kind_of(entry.part)
    values = kind.values(entry.part)
    measures = kind.measures(entry.part, values)
    rows = []
    for column in kind.columns:
        if column.name in {"name", "notes"} or column.name not in values:
            continue
        value = values[column.name]
        if isinstance(column.form, Figure) and isinstance(value, int | float):
            text = show(float(value), column.form.kind, digits=4)
        else:
            text = column.form.written(value)
        rows.append([column.name, text, "given" if column.name in entry.given else ""])
    rows += [
        [d.name, show(measures[d.name], d.kind, digits=4), "derived"]
        for d in kind.derived
        if d.name in measures
    ]
    lines = [f"{plain(entry.part.name)} ({kind.name}, {'example' if entry.example else 'own'})"]
    lines.append(columns(("", "", ""), rows, left=(0, 1, 2), indent="  "))
    if entry.part.notes:
        lines.append(wrapped(entry.part.notes))
    if entry.provenance and not entry.example:
        lines.append(wrapped(f"from {entry.provenance}, {entry.added}"))
    return "\n".join(lines)


@app.command("add")
def add_part(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="driver, passive, vent, amplifier or sheet.")],
    values: Annotated[
        list[str],
        typer.Argument(metavar="FIELD=VALUE...", help='name="Rook 8" "fs=32 Hz" qts=0.41 "vas=34 L" ...'),
    ],
    replace: Annotated[
        bool, typer.Option("--replace", help="Take the place of a part of the same name.")
    ] = False,
    store: StoreFile = None,
    as_json: AsJson = False,
) -> None:
    """Add a part from its data sheet; what the sheet leaves out is worked out."""
    from boxwright.errors import InputError
    from boxwright.parts.reading import read_part

    cells: dict[str, str] = {}
    for text in values:
        field, equals, value = text.partition("=")
        field = field.strip().lower()
        if not equals or not field:
            raise InputError(f'value must be FIELD=VALUE, got "{text}"', mend='write it like "fs=32 Hz"')
        if field in cells:
            raise InputError(f"{field} must be given once, got it twice")
        cells[field] = value
    read = read_part(kind, cells)
    with _opened(store, bare=False) as opened:
        done = opened.add(read.part, given=read.given, provenance="command line", replace=replace)
        entry = opened.entry(kind, read.part.name)
    for warning in (*read.warnings, *done.warnings):
        note(f"note: {warning}")
    if as_json:
        print_json({**_plain(entry), "warnings": [*read.warnings, *done.warnings]})
    else:
        say(_shown(entry))


@app.command("check")
def check_parts(
    file: Annotated[str, typer.Argument(metavar="FILE", help="CSV or TOML of data sheets.")],
    kind: KindOption = None,
    as_json: AsJson = False,
) -> None:
    """Check data sheets: how far each stated value is from what the others imply, in percent. Changes nothing."""
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
    else:
        say("\n\n".join(_sheet(read, found) for read, found in checked) or "no data sheet could be read")
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


def _sheet(read: ReadPart, found: tuple[Disagreement, ...]) -> str:
    from boxwright.parts.completing import DRIVER_SYMBOLS, PASSIVE_SYMBOLS
    from boxwright.quantity import show
    from boxwright.report.figures import plain
    from boxwright.report.tables import columns, wrapped

    symbols = {**DRIVER_SYMBOLS, **PASSIVE_SYMBOLS}
    rows = [
        [
            d.symbol,
            show(d.stated, symbols[d.symbol], digits=4),
            show(d.implied, symbols[d.symbol], digits=4) if d.implied is not None else "",
            f"{d.percent:+.1f} %".replace("-", "−") if d.percent is not None else "nothing to compare",
        ]
        for d in found
    ]
    lines = [f"{plain(read.part.name)} (line {read.line})"]
    if rows:
        lines.append(columns(("", "stated", "others imply", "off by"), rows, left=(0,), indent="  "))
    lines += [wrapped(warning, first="  ! ", indent="    ") for warning in read.warnings]
    return "\n".join(lines)


@app.command("import")
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

    with _opened(store, bare=False) as opened:
        done = import_parts(opened, given_path(file), kind=kind, replace=replace)
    if as_json:
        print_json(
            {
                "added": list(done.added),
                "replaced": list(done.replaced),
                "skipped": [{"line": p.line, "message": p.message} for p in done.skipped],
                "warnings": list(done.warnings),
            }
        )
    else:
        say(f"{len(done.added)} added, {len(done.replaced)} replaced, {len(done.skipped)} left out")
    for warning in done.warnings:
        note(f"note: {warning}")
    for problem in done.skipped:
        note(f"line {problem.line} left out: {problem.message}")
    if done.skipped and not done.added and not done.replaced:
        raise typer.Exit(2)


@app.command("export")
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
    with _opened(store, bare=not examples) as opened:
        parts = [entry.part for name in _kinds(kind) for entry in opened.find(name)]
    text = to_toml(parts) if ending == ".toml" else to_csv(parts)
    write_result(file, text.encode(), force=force)
    if as_json:
        print_json({"file": file, "parts": len(parts)})
    else:
        say(f"{len(parts)} parts written to {file}")


@app.command("remove")
def remove_part(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="driver, passive, vent, amplifier or sheet.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="The part's name.")],
    store: StoreFile = None,
    as_json: AsJson = False,
) -> None:
    """Remove one of your own parts."""
    with _opened(store, bare=False) as opened:
        opened.remove(kind, name)
    if as_json:
        print_json({"removed": name, "kind": kind})
    else:
        say(f"{name} removed")
