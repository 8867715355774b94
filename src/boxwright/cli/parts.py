"""boxwright parts: the parts store: list, find, show, add, check, import, export, remove."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import note, print_json, say
from boxwright.cli.parts_files import check_parts, export_file, import_file
from boxwright.cli.parts_options import (
    AsJson,
    Bare,
    KindOption,
    StoreFile,
    Where,
    kinds,
    opened_store,
    ranges,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from boxwright.parts.store import Entry, Store

__all__ = ["app"]

app = typer.Typer(
    help="The parts store: drivers, passives, vents, amplifiers, sheets.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def _print_entries(found: dict[str, Sequence[Entry]], *, as_json: bool) -> None:
    from boxwright.cli.parts_words import plain_entry, table_text

    if as_json:
        print_json([plain_entry(entry) for entries in found.values() for entry in entries])
        return
    tables = [table_text(kind, entries) for kind, entries in found.items() if entries]
    if tables:
        say("\n\n".join(tables))
    else:
        note("no such parts")


@app.command("list")
def list_parts(
    kind: Annotated[str | None, typer.Argument(metavar="KIND", help="Which kind; by default all.")] = None,
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
        str, typer.Argument(metavar="WORDS", help="Words in name or notes; the beginning of each is enough.")
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
    with opened_store(store, bare=no_examples) as opened:
        for name in kinds(kind):
            found[name] = opened.find(name, words, ranges(name, where))
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
    from boxwright.cli.parts_words import entry_text, plain_entry

    with opened_store(store, bare=no_examples) as opened:
        entry = _entry(opened, name, kind)
    if as_json:
        print_json(plain_entry(entry))
    else:
        say(entry_text(entry))


def _entry(store: Store, name: str, kind: str | None) -> Entry:
    """Look a part up in every kind, or in one."""
    from boxwright.errors import InputError
    from boxwright.parts.records import name_key

    if kind is not None:
        return store.entry(kind, name)
    known = {which: {name_key(each) for each in store.names(which)} for which in kinds(None)}
    found = [which for which, names in known.items() if name_key(name) in names]
    if len(found) > 1:
        raise InputError(
            f'name must be one part\'s, got "{name}": a {" and a ".join(found)} have it', mend="add --kind"
        )
    if found:
        return store.entry(found[0], name)
    import difflib

    every = [each for which in kinds(None) for each in store.names(which)]
    near = difflib.get_close_matches(name, every, n=3, cutoff=0.5)
    raise InputError(
        f'name must be that of a part in the store, got "{name}"',
        mend=f"the nearest are {', '.join(near)}" if near else "look with: boxwright parts list",
    )


@app.command("add", short_help="Add a part from its data sheet.")
def add_part(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="driver, passive, vent, amplifier or sheet.")],
    values: Annotated[
        list[str],
        typer.Argument(metavar="FIELD=VALUE", help='name="Rook 8" "fs=32 Hz" qts=0.41 "vas=34 L" ...'),
    ],
    replace: Annotated[
        bool, typer.Option("--replace", help="Take the place of a part of the same name.")
    ] = False,
    store: StoreFile = None,
    as_json: AsJson = False,
) -> None:
    """Add a part from its data sheet; what the sheet leaves out is worked out."""
    from boxwright.cli.parts_words import entry_text, plain_entry
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
    with opened_store(store, bare=False) as opened:
        done = opened.add(read.part, given=read.given, provenance="command line", replace=replace)
        entry = opened.entry(kind, read.part.name)
    for warning in (*read.warnings, *done.warnings):
        note(f"note: {warning}")
    if as_json:
        print_json({**plain_entry(entry), "warnings": [*read.warnings, *done.warnings]})
    else:
        say(entry_text(entry))


@app.command("remove")
def remove_part(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="driver, passive, vent, amplifier or sheet.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="The part's name.")],
    store: StoreFile = None,
    as_json: AsJson = False,
) -> None:
    """Remove one of your own parts."""
    with opened_store(store, bare=False) as opened:
        opened.remove(kind, name)
    if as_json:
        print_json({"removed": name, "kind": kind})
    else:
        say(f"{name} removed")


app.command("check", short_help="Check data sheets against themselves.")(check_parts)
app.command("import", short_help="Import parts from CSV or TOML.")(import_file)
app.command("export", short_help="Export parts to CSV or TOML.")(export_file)
