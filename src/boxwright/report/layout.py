"""Lines of plain text: columns that line up, sentences that wrap, nothing that disturbs a terminal."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence

__all__ = ["WIDTH", "columns", "plain", "wrapped"]

WIDTH = 80


def plain(text: str) -> str:
    """Text from a file as one line that cannot disturb a terminal: no control or formatting characters."""
    return "".join(
        " "
        if c in "\n\t"
        else c
        if unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Zl", "Zp"}
        else f"\\u{ord(c):04x}"
        for c in text
    )


def _width(text: str) -> int:
    """Columns that a text takes on a terminal."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in {"W", "F"} else 1
        for c in text
    )


def columns(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    left: Sequence[int] = (0,),
    indent: str = "",
    width: int | None = None,
    fold: Sequence[int] = (),
) -> str:
    """A table in which every column is as wide as its widest cell.

    Parameters
    ----------
    head : sequence of str
        Headings; a column without any heading and without any entry is left out.
    rows : sequence of sequence of str
    left : sequence of int
        Columns of words, set to the left; the rest are numbers, set to the right.
    indent : str
        Before every line.
    width : int, optional
        Of the terminal; None: as wide as it gets.
    fold : sequence of int
        Columns that go under their row where the table would be wider than that.
    """
    wide = _columns(head, rows, left, indent)
    if width is None or not fold or max(map(_width, wide.split("\n"))) <= width:
        return wide

    def kept(row: Sequence[str]) -> list[str]:
        return ["" if c in fold else cell for c, cell in enumerate(row)]

    narrow = _columns(kept(head), [kept(row) for row in rows], left, indent).split("\n")
    first = len(narrow) - len(rows)
    under_each = ["; ".join(plain(row[c]) for c in fold if row[c]) for row in rows]
    below = [f"{indent}    {text}" if text else "" for text in under_each]
    lines = narrow[:first]
    for line, under in zip(narrow[first:], below, strict=True):
        lines += [line, under] if under else [line]
    return "\n".join(lines)


def _columns(head: Sequence[str], rows: Sequence[Sequence[str]], left: Sequence[int], indent: str) -> str:
    cells = [[plain(cell) for cell in row] for row in (head, *rows)]
    used = [c for c in range(len(head)) if any(row[c] for row in cells)]
    widths = {c: max(_width(row[c]) for row in cells) for c in used}

    def one(row: Sequence[str]) -> str:
        parts = []
        for c in used:
            gap = " " * (widths[c] - _width(row[c]))
            parts.append(row[c] + gap if c in left else gap + row[c])
        return indent + "  ".join(parts).rstrip()

    lines = [one(row) for row in cells]
    if any(head):
        lines.insert(1, indent + "─" * max(_width(line) - len(indent) for line in lines))
    else:
        lines = lines[1:]
    return "\n".join(lines)


def wrapped(text: str, *, indent: str = "  ", first: str | None = None) -> str:
    """A sentence or two, broken to the width of the page."""
    return textwrap.fill(
        plain(text),
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
