"""Whole files in and out."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel

from boxwright.atomic import atomic_write
from boxwright.brief import Brief
from boxwright.design import Design
from boxwright.errors import InputError
from boxwright.files.checking import checked
from boxwright.files.convert import design_from
from boxwright.files.convert_brief import brief_from
from boxwright.files.reading import named, parse_text, read_text
from boxwright.files.schema_brief import BriefFile
from boxwright.files.schema_design import DesignFile
from boxwright.files.tables import brief_table, design_table
from boxwright.files.writing import text_of

__all__ = [
    "dumps_brief",
    "dumps_design",
    "load_brief",
    "load_brief_with_notes",
    "load_design",
    "load_design_with_notes",
    "loads_brief",
    "loads_brief_with_notes",
    "loads_design",
    "loads_design_with_notes",
    "save_brief",
    "save_design",
]

T = TypeVar("T", Design, Brief)
Path = str | os.PathLike[str]


def load_design(path: Path) -> Design:
    """Read a design file.

    Parameters
    ----------
    path : path-like
        A regular file.

    Returns
    -------
    Design
        In SI, complete.

    Raises
    ------
    InputError
        For the first thing in the file that cannot be used, with its line.
    """
    return load_design_with_notes(path)[0]


def load_design_with_notes(path: Path) -> tuple[Design, tuple[str, ...]]:
    """Read a design file, and say which data disagree and which choices were made for want of a value."""
    return loads_design_with_notes(read_text(path), place=named(path))


def loads_design(text: str, *, place: str = "<text>") -> Design:
    """Read a design from the text of a design file; ``place`` is its name in messages."""
    return loads_design_with_notes(text, place=place)[0]


def loads_design_with_notes(text: str, *, place: str = "<text>") -> tuple[Design, tuple[str, ...]]:
    """Read a design from text, with its notes."""
    document = parse_text(text, place)
    return design_from(checked(DesignFile, document), document)


def load_brief(path: Path) -> Brief:
    """Read a brief file.

    Parameters
    ----------
    path : path-like
        A regular file.

    Returns
    -------
    Brief
        In SI.

    Raises
    ------
    InputError
        For the first thing in the file that cannot be used, with its line.
    """
    return load_brief_with_notes(path)[0]


def load_brief_with_notes(path: Path) -> tuple[Brief, tuple[str, ...]]:
    """Read a brief file, and say which data disagree and which choices were made for want of a value."""
    return loads_brief_with_notes(read_text(path), place=named(path))


def loads_brief(text: str, *, place: str = "<text>") -> Brief:
    """Read a brief from the text of a brief file; ``place`` is its name in messages."""
    return loads_brief_with_notes(text, place=place)[0]


def loads_brief_with_notes(text: str, *, place: str = "<text>") -> tuple[Brief, tuple[str, ...]]:
    """Read a brief from text, with its notes."""
    document = parse_text(text, place)
    return brief_from(checked(BriefFile, document), document)


def dumps_design(design: Design) -> str:
    """Write a design as the text of a design file.

    Parameters
    ----------
    design : Design
        Any design that a file can hold.

    Returns
    -------
    str
        Reading it back gives an equal design, to the last bit.

    Raises
    ------
    InputError
        If the design holds something that a file cannot: a value out of its range, a name given twice.
    """
    return _written(DesignFile, design_table(design), design, loads_design)


def dumps_brief(brief: Brief) -> str:
    """Write a brief as the text of a brief file; as :func:`dumps_design`."""
    return _written(BriefFile, brief_table(brief), brief, loads_brief)


def save_design(design: Design, path: Path) -> None:
    """Write a design file, whole or not at all.

    Parameters
    ----------
    design : Design
        Any design that a file can hold.
    path : path-like
        The file; an old one is replaced.

    Raises
    ------
    InputError
        If the design cannot be written down, or the file cannot be written.
    """
    atomic_write(path, dumps_design(design).encode())


def save_brief(brief: Brief, path: Path) -> None:
    """Write a brief file, whole or not at all; as :func:`save_design`."""
    atomic_write(path, dumps_brief(brief).encode())


def _written(model: type[BaseModel], values: Mapping[str, Any], thing: T, read: Callable[..., T]) -> str:
    """Write, then read back: what a file could not give again is refused here, not found out later."""
    text = text_of(model, values)
    what = type(thing).__name__.lower()
    try:
        back = read(text)
    except InputError as error:
        raise InputError(error.message, place=f"the {what} to be written", mend=error.mend) from error
    if back != thing:
        raise InputError(f"{what} must be one that a file can hold, got one that changes when read back")
    return text
