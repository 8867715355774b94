"""Tables of parts as they stand in a file: CSV or TOML text into rows with their lines, nothing understood yet."""

from __future__ import annotations

import csv
import io
import os
import re
import stat
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from boxwright.errors import InputError
from boxwright.parts.forms import quoted

__all__ = [
    "FORMAT",
    "MOST_BYTES",
    "Problem",
    "Row",
    "Table",
    "csv_table",
    "marked",
    "read_text",
    "toml_table",
]

FORMAT = "boxwright-parts/1"
MOST_BYTES = 20 * 1024 * 1024
MOST_COLUMNS = 200

FORMULA = frozenset("=+-@\t\r")
"""What a cell of a table must not begin with if a spreadsheet is to take it for text."""

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_HEADING = re.compile(r"\s*([^\[\]()]*?)\s*(?:\[([^\[\]()]*)\]|\(([^\[\]()]*)\))?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """A row that was left out.

    Attributes
    ----------
    line : int
        Where it begins in the file, from 1; 0: not known.
    message : str
        Why.
    """

    line: int
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One part as it was given.

    Attributes
    ----------
    line : int
        Where it begins in the file, from 1; 0: not known.
    kind : str
        Name of the kind of part; empty: not said.
    cells : mapping
        From the field's name in lower case to what was given: text, and from TOML numbers and tables too.
    units : mapping of str to str
        From the field's name to the unit in its heading.
    """

    line: int
    kind: str
    cells: Mapping[str, object]
    units: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What a file holds.

    Attributes
    ----------
    headings : tuple of str
        Fields that the rows may state; empty where each row brings its own.
    heading_place : str
        Where the headings are.
    rows : tuple of Row
        Rows of the right length.
    problems : tuple of Problem
        The others.
    """

    headings: tuple[str, ...] = ()
    heading_place: str = ""
    rows: tuple[Row, ...]
    problems: tuple[Problem, ...] = ()


def read_text(path: str | os.PathLike[str]) -> str:
    """Read a text file of sane size.

    Raises
    ------
    InputError
        If it is missing, no ordinary file, unreadable, over 20 MB, or no UTF-8 text.
    """
    place = repr(os.fspath(path)) if "\0" in os.fspath(path) else os.fspath(path)
    try:
        with Path(path).open("rb") as file:
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode):
                raise InputError("file must be an ordinary file, got a device or pipe", place=place)
            data = file.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise InputError("file must be a file, got a folder", place=place, mend="name a file in it") from None
    except FileNotFoundError:
        raise InputError("file must exist", place=place, mend="check its name") from None
    except PermissionError:
        raise InputError(
            "file could not be read: no permission", place=place, mend="change its permissions"
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"file could not be read: {reason}", place=place) from error
    return _decoded(data, place)


def _decoded(data: bytes, place: str) -> str:
    if len(data) > MOST_BYTES:
        raise InputError(
            f"file must be at most {MOST_BYTES // 1024**2} MB", place=place, mend="split it into several"
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("file must be UTF-8 text, got UTF-16", place=place, mend="save it as UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"file must be UTF-8 text, got the byte 0x{data[error.start]:02X}",
            place=f"{place}, line {line}",
            mend="save it as UTF-8",
        ) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise InputError(
            "file must be text, got a zero byte", place=f"{place}, line {line}", mend="choose another file"
        )
    return text


def csv_table(text: str, place: str) -> Table:
    """Cut CSV text into rows by its headings.

    Raises
    ------
    InputError
        If there are no headings, one is there twice, or the quotes do not match.
    """
    first = next((line for line in io.StringIO(text) if line.strip()), "")
    delimiter = max(_DELIMITERS, key=lambda sign: (_outside_quotes(first).count(sign), sign == ","))
    numbered = _numbered(text, delimiter, place)
    line, headings = next(numbered, (0, []))
    if not headings:
        raise InputError("file must have a line of headings, got an empty file", place=place)
    heading_place = f"{place}, line {line}"
    names, units = _headings(headings, heading_place)
    rows: list[Row] = []
    problems: list[Problem] = []
    for line, cells in numbered:
        while len(cells) > len(names) and not cells[-1].strip():
            cells.pop()
        if len(cells) != len(names):
            message = f"row must have {len(names)} cells, as there are headings, got {len(cells)}"
            if delimiter == "," and len(cells) > len(names):
                message += "; if a number has a decimal comma, write a point"
            problems.append(Problem(line=line, message=message))
            continue
        filled = {name: cell for name, cell in zip(names, cells, strict=True) if cell}
        filled = {name: _unmarked(cell) for name, cell in filled.items()}
        rows.append(Row(line=line, kind=filled.pop("part", "").strip(), cells=filled, units=units))
    return Table(
        headings=tuple(names), heading_place=heading_place, rows=tuple(rows), problems=tuple(problems)
    )


def marked(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: an apostrophe goes before what looks like one."""
    return f"'{cell}" if cell.lstrip("'")[:1] in FORMULA else cell


def _unmarked(cell: str) -> str:
    """What was written by `marked`."""
    return cell[1:] if cell.startswith("'") and cell.lstrip("'")[:1] in FORMULA else cell


def _numbered(text: str, delimiter: str, place: str) -> Iterator[tuple[int, list[str]]]:
    """Rows that are not blank, each with the line it begins in."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    while True:
        try:
            cells = next(reader, None)
        except csv.Error as error:
            raise InputError(
                f"table could not be read: {error}",
                place=f"{place}, line {reader.line_num}",
                mend="look for a quotation mark that is not closed or stands inside a cell",
            ) from None
        if cells is None:
            return
        if any(cell.strip() for cell in cells):
            yield line, cells
        line = reader.line_num + 1


def _outside_quotes(text: str) -> str:
    return re.sub(r'"[^"]*"', "", text)


def _headings(cells: list[str], place: str) -> tuple[list[str], dict[str, str]]:
    """Names and units of headings such as ``Sd [cm2]``, ``mms (g)``."""
    while cells and not cells[-1].strip():
        cells.pop()
    if len(cells) > MOST_COLUMNS:
        raise InputError(
            f"table must have at most {MOST_COLUMNS} headings, got {len(cells)}",
            place=place,
            mend="keep one field a column",
        )
    names: list[str] = []
    units: dict[str, str] = {}
    for cell in cells:
        match = _HEADING.fullmatch(cell)
        name = re.sub(r"[\s-]+", "_", match[1].lower()) if match else ""
        if not match or not name:
            raise InputError(
                f'heading must be a field, with or without a unit, got "{cell.strip()[:40]}"',
                place=place,
                mend='write it like "sd" or "sd [cm2]"',
            )
        if name in names:
            raise InputError(
                f"heading must be there once, got {quoted(name)} twice",
                place=place,
                mend="delete or rename one",
            )
        names.append(name)
        unit = (match[2] or match[3] or "").strip()
        if unit and unit != "-":
            units[name] = unit
    return names, units


def toml_table(text: str, place: str) -> Table:
    """Take the parts out of TOML text: ``[[driver]]``, ``[[passive]]``, … under a ``format``.

    Raises
    ------
    InputError
        If it is no TOML or not of this format.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said, _, where = str(error).partition(" (at ")
        line = re.match(r"line (\d+)", where)
        raise InputError(
            f"file must be TOML: {said[:1].lower()}{said[1:]}",
            place=f"{place}, line {line[1]}" if line else place,
        ) from None
    except RecursionError:
        raise InputError(
            "file must be TOML of a sane depth, got one nested too deeply", place=place
        ) from None
    except ValueError as error:  # a whole number of thousands of digits, a date out of range
        raise InputError(f"file must be TOML: {error}", place=place) from None
    given = document.pop("format", None)
    if given != FORMAT:
        raise InputError(
            f'format must be "{FORMAT}", got {"none" if given is None else quoted(given)}',
            place=place,
            mend=f'begin the file with format = "{FORMAT}"',
        )
    rows: list[Row] = []
    for kind, tables in document.items():
        if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
            raise InputError(
                f"{quoted(kind)} must be a list of parts, got something else",
                place=place,
                mend="write each part under a heading like [[driver]]",
            )
        lines = _lines_of(text, kind, len(tables))
        rows += [
            Row(line=line, kind=kind, cells=_lowered(table, place, line), units={})
            for line, table in zip(lines, tables, strict=True)
        ]
    return Table(rows=tuple(sorted(rows, key=lambda row: row.line)))


def _lowered(table: dict[str, Any], place: str, line: int) -> dict[str, object]:
    lowered = {name.strip().lower(): value for name, value in table.items()}
    if len(lowered) != len(table):
        raise InputError("field must be given once, got one in two spellings", place=f"{place}, line {line}")
    return lowered


def _lines_of(text: str, kind: str, count: int) -> list[int]:
    """Find the lines of the headings of a kind; zeros where they cannot be told apart from other text."""
    heading = re.compile(rf"\s*\[\[\s*[\"']?{re.escape(kind)}[\"']?\s*\]\]")
    lines = [number for number, line in enumerate(text.split("\n"), 1) if heading.match(line)]
    return lines if len(lines) == count else [0] * count
