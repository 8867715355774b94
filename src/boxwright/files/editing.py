"""Changes to a file that leave everything else in it as it was, to the byte.

A change is spliced into the text at the place of the old value, so comments, order, spacing and line ends
around it cannot be touched.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from pydantic import BaseModel

from boxwright.atomic import atomic_write
from boxwright.brief import Brief
from boxwright.design import Design
from boxwright.errors import InputError
from boxwright.files.checking import heading, nearest
from boxwright.files.fields import find
from boxwright.files.lines import KeyPath, locate
from boxwright.files.loading import loads_brief, loads_design
from boxwright.files.reading import named, parse_text, read_text, shown
from boxwright.files.schema_brief import BriefFile
from boxwright.files.schema_design import DesignFile
from boxwright.files.writing import value_text

__all__ = ["edit_brief", "edit_brief_text", "edit_design", "edit_design_text"]

T = TypeVar("T", Design, Brief)


def edit_design(path: str | os.PathLike[str], changes: Mapping[str, object]) -> Design:
    """Change values in a design file and keep everything else in it, comments included.

    Parameters
    ----------
    path : path-like
        The file.
    changes : mapping
        Dotted keys to new values: ``{"rear.volume": "20 L", "opening.0.added_mass": 0.045}``. A list position
        counts from 0. A number is SI, a text may carry a unit, None takes the key out.

    Returns
    -------
    Design
        As the file now stands.

    Raises
    ------
    InputError
        If a key does not exist, or the file would not be valid afterwards; the file is then as it was.
    """
    return _edit(path, changes, edit_design_text, loads_design)


def edit_brief(path: str | os.PathLike[str], changes: Mapping[str, object]) -> Brief:
    """Change values in a brief file and keep everything else in it; as :func:`edit_design`."""
    return _edit(path, changes, edit_brief_text, loads_brief)


def edit_design_text(text: str, changes: Mapping[str, object], *, place: str = "<text>") -> str:
    """Change values in the text of a design file; as :func:`edit_design`."""
    return _edited(DesignFile, text, changes, place, loads_design)


def edit_brief_text(text: str, changes: Mapping[str, object], *, place: str = "<text>") -> str:
    """Change values in the text of a brief file; as :func:`edit_design`."""
    return _edited(BriefFile, text, changes, place, loads_brief)


def _edit(
    path: str | os.PathLike[str],
    changes: Mapping[str, object],
    edit: Callable[..., str],
    read: Callable[..., T],
) -> T:
    place = named(path)
    text = edit(read_text(path), changes, place=place)
    thing = read(text, place=place)
    atomic_write(path, text.encode())
    return thing


def _edited(
    model: type[BaseModel], text: str, changes: Mapping[str, object], place: str, read: Callable[..., object]
) -> str:
    read(text, place=place)  # a file that is wrong already is reported as it stands
    for key, value in changes.items():
        text = _change(model, text, key, value, place)
    try:
        read(text, place=place)
    except InputError as error:
        raise InputError(error.message, place=f"{error.place} as changed", mend=error.mend) from error
    return text


def _change(model: type[BaseModel], text: str, key: str, value: object, place: str) -> str:
    document = parse_text(text, place)
    layout = locate(text)
    path: KeyPath = tuple(
        int(step) if step.isascii() and step.isdecimal() else step for step in key.split(".")
    )
    table, field = find(model, path, document.values)
    if field is None or isinstance(path[-1], int):
        close = nearest(str(path[-1]), list(table.model_fields))
        raise InputError(
            f"key to change must exist in the format, got {shown(key)}",
            place=place,
            mend=f"did you mean `{close}`?" if close else "",
        )
    for length, step in enumerate(path, 1):
        if isinstance(step, int) and path[:length] not in layout.lines:
            raise InputError(
                f"{heading(path[:length])} number {step} must exist, got {shown(key)}", place=place
            )
    newline = "\r\n" if "\r\n" in text else "\n"
    if value is None:
        return _without(text, path, key, place)
    new = value_text(field, _plain(value, key, place)).replace("\n", newline)
    if path in layout.values:
        start, end = layout.values[path]
        return text[:start] + new + text[end:]
    parent = path[:-1]
    while parent and parent not in layout.ends:
        if parent in layout.values or parent in layout.inline:
            raise InputError(
                f"{'.'.join(map(str, parent))} must be changed as a whole, got {shown(key)}", place=place
            )
        parent = parent[:-1]
    line = f"{'.'.join(map(str, path[len(parent) :]))} = {new}{newline}"
    if (
        not parent and path[:1] not in layout.lines and len(path) > 1
    ):  # a table that the file does not have yet
        gap = "" if text.endswith("\n") else newline
        return f"{text}{gap}{newline}[{'.'.join(map(str, path[:-1]))}]{newline}{path[-1]} = {new}{newline}"
    at = layout.ends[parent]
    before = text[:at] if at == 0 or text[at - 1] == "\n" else text[:at] + newline
    return before + line + text[at:]


def _without(text: str, path: KeyPath, key: str, place: str) -> str:
    layout = locate(text)
    if path not in layout.values or path in layout.inline:
        raise InputError(f"key to take out must stand on a line of its own, got {shown(key)}", place=place)
    start, end = layout.values[path]
    # The key may stand some lines above its value only inside a list, never at the pair itself.
    start = text.rfind("\n", 0, start) + 1
    newline = text.find("\n", end)
    return text[:start] + (text[newline + 1 :] if newline >= 0 else "")


def _plain(value: object, key: str, place: str) -> Any:
    """Only what TOML can hold."""
    if isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, Mapping):
        return {str(name): _plain(each, key, place) for name, each in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, bytes | bytearray):
        return [_plain(each, key, place) for each in value]
    raise InputError(
        f"{shown(key)} must be a number, text, list or mapping, got {type(value).__name__}", place=place
    )
