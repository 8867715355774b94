"""How a part stands in the store's tables, and what its name is compared by."""

from __future__ import annotations

import json
import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from boxwright.errors import InputError
from boxwright.parts.curve import Curve
from boxwright.parts.fields import Part, PartKind
from boxwright.parts.forms import Curved, Value, plain_curve
from boxwright.parts.shelf import Shelf

__all__ = ["SAME", "Entry", "alike", "insert", "name_key", "natural_order", "read_entry"]

SAME = 1e-6
"""Relative difference below which two values are one: what rounding in a unit conversion leaves. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A part with what the store knows about it.

    Attributes
    ----------
    kind : str
        Name of the kind of part.
    part : Part
        The part itself, in SI.
    given : dict of str to str
        The data sheet as it was given: heading and text.
    provenance : str
        Where that came from.
    example : bool
        Whether it is one of the bundled example parts.
    added : str
        When, in UTC (ISO 8601); empty for an example.
    """

    kind: str
    part: Part
    given: dict[str, str] = field(default_factory=dict)
    provenance: str = ""
    example: bool = False
    added: str = ""


def name_key(name: str, *, strip: bool = True) -> str:
    """Reduce a name to what tells it from others: neither case, nor width, nor the number of spaces."""
    folded = unicodedata.normalize("NFKC", name).casefold()
    folded = re.sub(r"\s+", " ", folded)
    return folded.strip() if strip else folded


def natural_order(key: str) -> list[str | int]:
    """Order "Reed 40" before "Reed 100"."""
    return [int(piece) if piece.isdecimal() else piece for piece in re.split(r"(\d+)", key)]


def alike(one: Value | None, other: Value | None) -> bool:
    """Tell whether two values are the same but for rounding."""
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=SAME)
    return one == other


def insert(
    shelf: Shelf,
    kind: PartKind,
    part: Part,
    *,
    given: Mapping[str, str] | None = None,
    provenance: str = "",
    added: str | None = None,
) -> None:
    """Write a part over whatever has its name."""
    values = kind.values(part)
    plain = {
        name: plain_curve(value) if isinstance(value, Curve) else value for name, value in values.items()
    }
    row = (
        part.name,
        part.notes,
        json.dumps(plain, allow_nan=False),
        json.dumps({_clean(name): _clean(text) for name, text in (given or {}).items()}),
        _clean(provenance),
        datetime.now(UTC).isoformat(timespec="seconds") if added is None else added,
    )
    with shelf.writing() as connection:
        number = connection.execute(
            """INSERT INTO part (kind, key, name, notes, data, given, provenance, added)
            VALUES (?, ?, ?, ?, ?, ?, ?, ?)
            ON CONFLICT (kind, key) DO UPDATE SET name = excluded.name, notes = excluded.notes,
            data = excluded.data, given = excluded.given, provenance = excluded.provenance,
            added = excluded.added RETURNING id""",
            (kind.name, name_key(part.name), *row),
        ).fetchall()[0][0]
        connection.execute("DELETE FROM figure WHERE part = ?", (number,))
        connection.executemany(
            "INSERT INTO figure (part, field, value) VALUES (?, ?, ?)",
            [(number, name, value) for name, value in kind.measures(part, values).items()],
        )


def _clean(text: str) -> str:
    """Make any text storable: halves of surrogate pairs become question marks."""
    return text.encode("utf-8", "replace").decode("utf-8")


def read_entry(kind: PartKind, row: Iterable[object], place: str) -> Entry:
    """Read a part back from its row: data, given, provenance, added."""
    data, given, provenance, added = (str(cell) for cell in row)
    try:
        values: dict[str, Any] = json.loads(data)
        for name, value in values.items():
            if name in kind.column and isinstance(kind.column[name].form, Curved):
                values[name] = kind.column[name].form.read(value, name)
        return Entry(
            kind=kind.name,
            part=kind.build(values),
            given=json.loads(given),
            provenance=provenance,
            added=added,
        )
    except (ValueError, AttributeError, TypeError, InputError) as error:
        raise InputError(
            f"store is damaged: a {kind.name} cannot be read ({error})",
            place=place,
            mend="take that part out, or put the store aside and import the parts again",
        ) from error
