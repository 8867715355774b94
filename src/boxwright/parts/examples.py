"""The bundled example parts: invented, in plain SI numbers so that they load at once."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib import resources

from boxwright.parts.fields import KINDS, PartKind
from boxwright.parts.forms import Figure, Value
from boxwright.parts.records import Entry, insert, name_key
from boxwright.parts.shelf import Shelf

__all__ = ["example_entries", "example_shelf"]

PROVENANCE = "example part of boxwright"


@cache
def example_entries(kind: str) -> Mapping[str, Entry]:
    """Read the example parts of a kind, by the key of their name."""
    which = KINDS[kind]
    file = resources.files("boxwright") / "data" / "store" / f"{which.plural}.csv"
    rows = csv.DictReader(file.read_text(encoding="utf-8").splitlines())
    entries = [_entry(which, row) for row in rows]
    return {name_key(entry.part.name): entry for entry in entries}


def _entry(kind: PartKind, row: Mapping[str, str]) -> Entry:
    values: dict[str, Value] = {
        name: float(cell) if isinstance(kind.column[name].form, Figure) else cell
        for name, cell in row.items()
        if cell
    }
    return Entry(kind=kind.name, part=kind.build(values), provenance=PROVENANCE, example=True)


def example_shelf() -> Shelf:
    """Make a shelf in memory with every example part, to be searched as the user's own is."""
    shelf = Shelf(None)
    with shelf.writing():
        for kind in KINDS.values():
            for entry in example_entries(kind.name).values():
                insert(shelf, kind, entry.part, provenance=PROVENANCE, added="")
    return shelf
