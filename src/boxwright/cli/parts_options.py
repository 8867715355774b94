"""What the verbs of the parts store share: options, the store itself, ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import given_path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from boxwright.parts.store import Range, Store

__all__ = ["AsJson", "Bare", "KindOption", "StoreFile", "Where", "kinds", "opened_store", "ranges"]

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


def opened_store(store: str | None, *, bare: bool) -> Store:
    """The user's store or the one named, with or without the examples."""
    from boxwright.parts.store import open_store

    return open_store(given_path(store) if store is not None else None, include_examples=not bare)


def kinds(name: str | None) -> list[str]:
    """The kind named, or all."""
    from boxwright.parts.fields import KINDS, kind_named

    return list(KINDS) if name is None else [kind_named(name).name]


def ranges(kind: str, where: Sequence[str] | None) -> dict[str, Range]:
    """Read ``fs=20..40``: each bound with or without a unit, either may be left out, one number means just that."""
    from boxwright.errors import InputError
    from boxwright.parts.fields import kind_named
    from boxwright.parts.forms import Figure
    from boxwright.quantity import parse

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
        if field not in measures:  # the store refuses it and names those it knows
            return {field: (None, None)}
        least = parse(low, measures[field], field=field) if low else None
        most = parse(high, measures[field], field=field) if high else None
        found[field] = (least, most) if dots else (least, least)
    return found
