"""From a table in a file to parts: headings, units, and any sufficient part of a data sheet a row."""

from __future__ import annotations

import difflib
import json
import os
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from boxwright.air import Air, standard_air
from boxwright.errors import InputError
from boxwright.parts.completing import DRIVER_SYMBOLS, PASSIVE_SYMBOLS, complete_driver, complete_passive
from boxwright.parts.fields import KINDS, Part, PartKind, kind_named
from boxwright.parts.forms import Figure, Value, Words, quoted
from boxwright.parts.rows import Problem, Row, Table, csv_table, read_text, toml_table
from boxwright.quantity import Kind, parse

__all__ = ["ReadPart", "known_fields", "read_part", "read_parts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadPart:
    """A part read from a file, before it is in a store.

    Attributes
    ----------
    line : int
        Where it begins in the file, from 1; 0: not known.
    part : Part
        Completed, in SI.
    given : dict of str to str
        As it was given: field and text, with its unit.
    warnings : tuple of str
        Values that disagree with the others.
    """

    line: int
    part: Part
    given: dict[str, str]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _DataSheet:
    """What may be stated in place of the stored fields, and how those follow from it."""

    symbols: Mapping[str, Kind]
    complete: Callable[[Mapping[str, float], Air], tuple[Part, tuple[str, ...]]]


def _driver(values: Mapping[str, float], air: Air) -> tuple[Part, tuple[str, ...]]:
    completed = complete_driver(values, air=air)
    return completed.driver, completed.warnings


def _passive(values: Mapping[str, float], air: Air) -> tuple[Part, tuple[str, ...]]:
    completed = complete_passive(values, air=air)
    return completed.passive, completed.warnings


_DATA_SHEETS: Mapping[str, _DataSheet] = {
    "driver": _DataSheet(DRIVER_SYMBOLS, _driver),
    "passive": _DataSheet(PASSIVE_SYMBOLS, _passive),
}


def known_fields(kind: str) -> tuple[str, ...]:
    """Every heading that a table of this kind of part may have."""
    which = kind_named(kind)
    symbols = _DATA_SHEETS[which.name].symbols if which.name in _DATA_SHEETS else ()
    return (*which.column, *(name for name in symbols if name not in which.column))


def read_parts(
    path: str | os.PathLike[str], *, kind: str | None = None, air: Air | None = None
) -> tuple[tuple[ReadPart, ...], tuple[Problem, ...]]:
    """Read a file of parts.

    Parameters
    ----------
    path : path-like
        TOML if its name ends so; else CSV with comma, semicolon or tab between the cells and headings such as
        ``sd``, ``sd [cm2]`` or ``mms (g)``. A cell may bring its own unit; a plain number is SI. A column
        ``part`` may say what kind of part each row is.
    kind : str, optional
        What all rows are; needed only where neither such a column nor the headings say it.
    air : Air, optional
        In which ``vas``, ``vap`` and ``eta0`` are meant; left out: the standard air.

    Returns
    -------
    parts, problems : tuple of ReadPart, tuple of Problem
        Good rows, and those that cannot be read.

    Raises
    ------
    InputError
        If the file as a whole cannot be read.
    """
    place = os.fspath(path)
    text = read_text(path)
    expected = kind_named(kind) if kind else None
    if Path(path).suffix.lower() == ".toml":
        table = toml_table(text, place)
        for name in dict.fromkeys(row.kind for row in table.rows):
            _at(place, kind_named, name)
    else:
        table = csv_table(text, place)
        expected = _checked_headings(table, expected)
    air = air or standard_air()
    parts: list[ReadPart] = []
    problems = list(table.problems)
    for row in table.rows:
        try:
            parts.append(_understood(row, _kind(row, expected), air))
        except InputError as error:
            message = error.message + (f"; {error.mend}" if error.mend else "")
            problems.append(Problem(line=row.line, message=message))
    return tuple(parts), tuple(problems)


def read_part(kind: str, cells: Mapping[str, object], *, air: Air | None = None) -> ReadPart:
    """Read one part from its fields.

    Parameters
    ----------
    kind : str
        driver, passive, vent, amplifier or sheet.
    cells : mapping
        From field to what was given, as in a row of a file.
    air : Air, optional
        In which ``vas``, ``vap`` and ``eta0`` are meant; left out: the standard air.

    Raises
    ------
    InputError
        If a field is not known, cannot be read, or too few are given.
    """
    row = Row(line=0, kind=kind, cells=cells, units={})
    return _understood(row, kind_named(kind), air or standard_air())


def _at(place: str, check: Callable[..., object], *values: object) -> None:
    try:
        check(*values)
    except InputError as error:
        raise error.at(place) from None


def _checked_headings(table: Table, expected: PartKind | None) -> PartKind | None:
    """Find out what the rows are and whether every heading has a meaning there."""
    names = [name for name in table.headings if name != "part"]
    by_row = "part" in table.headings
    kinds = [expected] if expected and not by_row else list(KINDS.values())
    fits = [kind for kind in kinds if set(names) <= set(known_fields(kind.name))]
    if not fits and not by_row:
        # the kind most of them belong to is the one that was meant
        meant = max(kinds, key=lambda kind: len(set(names) & set(known_fields(kind.name))))
        strange = next(name for name in names if name not in known_fields(meant.name))
        raise _unknown(strange, known_fields(meant.name), f"a {meant.name}").at(table.heading_place)
    if len(fits) > 1 and not by_row:
        raise InputError(
            f"kind of part must be said, as a {' or a '.join(kind.name for kind in fits)} has these headings",
            place=table.heading_place,
            mend="name the kind, or add a column part",
        )
    known = {name for kind in kinds for name in known_fields(kind.name)}
    for name in names:
        if name not in known:
            raise _unknown(name, sorted(known), "any part").at(table.heading_place)
    for name, unit in (table.rows[0].units if table.rows else {}).items():
        _at(table.heading_place, _check_unit, name, unit, fits or kinds)
    return fits[0] if len(fits) == 1 and not by_row else expected


def _check_unit(name: str, unit: str, kinds: Sequence[PartKind]) -> None:
    """Refuse a unit that cannot be the field's once, not in every row."""
    for kind in kinds:
        measured = _kind_of_figure(kind, name)
        if measured is not None:
            parse(f"1 {unit}", measured, field=name)
            return
    raise InputError(f"{name} must have no unit, got {quoted(unit)}", mend="leave it out of the heading")


def _kind_of_figure(kind: PartKind, name: str) -> Kind | None:
    if name in kind.column:
        form = kind.column[name].form
        return form.kind if isinstance(form, Figure) else None
    sheet = _DATA_SHEETS.get(kind.name)
    return sheet.symbols.get(name) if sheet else None


def _kind(row: Row, expected: PartKind | None) -> PartKind:
    if not row.kind and expected is None:
        raise InputError(
            "part must say what kind of part it is, got nothing", mend=f"one of {', '.join(KINDS)}"
        )
    kind = kind_named(row.kind) if row.kind else expected
    if kind is None or (expected is not None and kind is not expected):
        raise InputError(f"part must be a {expected.name if expected else 'part'}, got {quoted(row.kind)}")
    return kind


def _understood(row: Row, kind: PartKind, air: Air) -> ReadPart:
    """Turn what was given for a part into the part."""
    sheet = _DATA_SHEETS.get(kind.name)
    values: dict[str, Value] = {}
    measured: dict[str, float] = {}
    given: dict[str, str] = {}
    for name, raw in row.cells.items():
        column = kind.column.get(name)
        if _blank(raw) and not (column and isinstance(column.form, Words) and column.form.lines):
            continue
        whole = _with_unit(raw, row.units.get(name, ""))
        if column:
            values[name] = column.form.read(whole, name)
        elif sheet and name in sheet.symbols:
            measured[name] = cast("float", Figure(sheet.symbols[name], above_zero=True).read(whole, name))
        else:
            raise _unknown(name, known_fields(kind.name), f"a {kind.name}")
        given[name] = whole if isinstance(whole, str) else json.dumps(whole, default=str)
    warnings: tuple[str, ...] = ()
    if sheet:
        stored = [column.name for column in kind.columns if column.name in sheet.symbols]
        if measured or any(name not in values for name in stored):
            stated = {name: cast("float", values[name]) for name in stored if name in values}
            part, warnings = sheet.complete({**stated, **measured}, air)
            values.update((name, getattr(part, name)) for name in stored)
    part = kind.build(values)
    kind.check(part)
    return ReadPart(line=row.line, part=part, given=given, warnings=warnings)


def _blank(raw: object) -> bool:
    return isinstance(raw, str) and not raw.strip()


def _with_unit(raw: object, unit: str) -> object:
    """Add the heading's unit to a cell that brings none of its own."""
    if unit and isinstance(raw, str) and not re.search(r"[^\d\s.,+\-eE/'_]", raw):
        return f"{raw.strip()} {unit}"
    return raw


def _unknown(name: str, known: Sequence[str], owner: str) -> InputError:
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.5)
    odd = next((c for c in name if not c.isascii()), "")
    letter = f" with the character U+{ord(odd):04X} ({unicodedata.name(odd, 'unnamed')})" if odd else ""
    return InputError(
        f"field must be one that {owner} has, got {quoted(name)}{letter}",
        mend=f"the nearest are {', '.join(near)}" if near else f"known are {', '.join(known)}",
    )
