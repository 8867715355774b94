"""Parts into a store from a file, and out of it: CSV and TOML, with units, exact both ways."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from boxwright.air import Air
from boxwright.atomic import atomic_write
from boxwright.parts.curve import Curve
from boxwright.parts.fields import KINDS, Part, kind_of
from boxwright.parts.forms import Figure, plain_curve, quoted
from boxwright.parts.reading import ReadPart, read_parts
from boxwright.parts.records import name_key
from boxwright.parts.rows import FORMAT, Problem, marked
from boxwright.parts.store import Store

__all__ = ["ImportReport", "Problem", "export_parts", "import_parts", "to_csv", "to_toml"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportReport:
    """What an import did.

    Attributes
    ----------
    added, replaced : tuple of str
        Names of the parts that are new, and of those that took the place of one of the same name.
    skipped : tuple of Problem
        Rows that were left out, and why.
    warnings : tuple of str
        What the user should know about the others.
    """

    added: tuple[str, ...]
    replaced: tuple[str, ...]
    skipped: tuple[Problem, ...]
    warnings: tuple[str, ...]


def import_parts(
    store: Store,
    path: str | os.PathLike[str],
    *,
    kind: str | None = None,
    replace: bool = False,
    air: Air | None = None,
) -> ImportReport:
    """Read a file of parts into a store; a row that cannot be read is left out and reported.

    Parameters
    ----------
    store : Store
        Where they go: all the good rows, or none if writing fails half-way.
    path, kind, air
        As for :func:`boxwright.parts.reading.read_parts`.
    replace : bool
        Whether a part of the same kind and name gives way; else the row is left out.

    Returns
    -------
    ImportReport
        What became of every row.

    Raises
    ------
    InputError
        If the file as a whole cannot be read, or the store cannot be written.
    """
    parts, problems = read_parts(path, kind=kind, air=air)
    good, doubles = _once_each(parts)
    skipped = [*problems, *doubles]
    added: list[str] = []
    replaced: list[str] = []
    warnings: list[str] = []
    if good:
        with store.transaction():
            for read in good:
                name = read.part.name
                if not replace and store.has(kind_of(read.part).name, name):
                    message = f"name must be new, got {quoted(name)}, which the store has already"
                    skipped.append(Problem(line=read.line, message=message))
                    continue
                where = f"{os.fspath(path)}, line {read.line}" if read.line else os.fspath(path)
                done = store.add(read.part, given=read.given, provenance=where, replace=replace)
                (replaced if done.replaced else added).append(name)
                warnings += [f"{name}: {text}" for text in read.warnings]
                warnings += done.warnings
    return ImportReport(
        added=tuple(added),
        replaced=tuple(replaced),
        skipped=tuple(sorted(skipped, key=lambda problem: problem.line)),
        warnings=tuple(warnings),
    )


def _once_each(parts: Iterable[ReadPart]) -> tuple[list[ReadPart], list[Problem]]:
    """Keep the first part of every name; which of two was meant is not for us to say."""
    first: dict[tuple[str, str], ReadPart] = {}
    doubles: list[Problem] = []
    for read in parts:
        known = first.setdefault((kind_of(read.part).name, name_key(read.part.name)), read)
        if known is not read:
            message = f"name must be there once, got {quoted(read.part.name)}, as in line {known.line}"
            doubles.append(Problem(line=read.line, message=message))
    return list(first.values()), doubles


def export_parts(parts: Sequence[Part], path: str | os.PathLike[str]) -> None:
    """Write parts to a file, whole or not at all: TOML if its name ends so, else CSV.

    Reading the file gives the same parts to the last bit.

    Raises
    ------
    InputError
        If a part cannot be kept, or the file cannot be written.
    """
    text = to_toml(parts) if Path(path).suffix.lower() == ".toml" else to_csv(parts)
    atomic_write(path, text.encode("utf-8"))


def to_csv(parts: Sequence[Part]) -> str:
    """Write parts as a table: a column for every field that one of them states, units in the cells."""
    kinds = [kind for kind in KINDS.values() if any(kind_of(part) is kind for part in parts)]
    rows = [{"part": kind_of(part).name, **_cells(part)} for part in parts]
    stated = {name for row in rows for name in row}
    order = ["part", *dict.fromkeys(column.name for kind in kinds for column in kind.columns)]
    file = io.StringIO()
    table = csv.DictWriter(
        file, [name for name in order if name in stated or name == "part"], lineterminator="\n"
    )
    table.writeheader()
    table.writerows(rows)
    return file.getvalue()


def _cells(part: Part) -> dict[str, str]:
    kind = kind_of(part)
    written = {name: kind.column[name].form.written(value) for name, value in kind.values(part).items()}
    return {
        name: text if isinstance(kind.column[name].form, Figure) else marked(text)
        for name, text in written.items()
    }


def to_toml(parts: Sequence[Part]) -> str:
    """Write parts as TOML, one heading like ``[[driver]]`` each."""
    lines = [f'format = "{FORMAT}"']
    for part in parts:
        kind = kind_of(part)
        lines += ["", f"[[{kind.name}]]"]
        lines += [
            f"{name} = {_toml(kind.column[name].form, value)}" for name, value in kind.values(part).items()
        ]
    return "\n".join(lines) + "\n"


def _toml(form: object, value: object) -> str:
    if isinstance(value, Curve):
        ((key, numbers),) = plain_curve(value).items()
        return f"{{ {key} = {json.dumps(numbers)} }}"
    text = form.written(value) if isinstance(form, Figure) else str(value)
    if isinstance(form, Figure) and re.fullmatch(r"[0-9.]+(e[+-]?[0-9]+)?", text):
        return text  # a plain number
    return json.dumps(text, ensure_ascii=False)  # JSON's escapes are TOML's too
