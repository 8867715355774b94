"""A place in the file for complaints that are only found while computing."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator

from boxwright.errors import InputError
from boxwright.files.lines import KeyPath, locate
from boxwright.files.reading import named, read_text

__all__ = ["blaming", "placed"]

_SECTION = re.compile(r"\[(\w+)\]")


@contextlib.contextmanager
def blaming(path: str | os.PathLike[str]) -> Iterator[None]:
    """Give complaints about a value of a file, raised by what computes with it, the file and the line.

    Parameters
    ----------
    path : path-like
        The file that was read.
    """
    try:
        yield
    except InputError as error:
        try:
            text = read_text(path)
        except InputError:  # gone since
            raise error from None
        raise placed(error, text, named(path)) from error


def placed(error: InputError, text: str, name: str) -> InputError:
    """The same complaint with file and line, if it names a key that stands once in the text.

    Parameters
    ----------
    error : InputError
        Its message begins with the key; its place is empty or the table: ``[limits]``.
    text : str
        Of a file that has been read without complaint.
    name : str
        What to call the file.
    """
    section = _SECTION.fullmatch(error.place)
    if error.place and section is None:
        return error
    lines = locate(text).lines
    key = error.message.split(" ", 1)[0]
    table = section[1] if section else ""

    def meant(path: KeyPath) -> bool:
        return path[-1:] == (key,) and (not table or path[0] == table)

    # these two are asked for beside the file as well
    outside = error.message.startswith(("frequency must", "voltage must"))
    found = [] if outside else [path for path in lines if meant(path)]
    if not found and table:
        found = [(table,)] if (table,) in lines else []
    if len(found) == 1:
        place = f"{name}, line {lines[found[0]]}"
    elif table:
        place = f"{name}, {error.place}"
    elif found:
        place = name
    else:
        return error
    return InputError(error.message, place=place, mend=error.mend)
