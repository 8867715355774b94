"""From a path or a text to plain TOML values, with limits that no hostile file gets past.

Values are read by the standard library: strict, quick, and the same on every machine.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from boxwright.errors import InputError
from boxwright.files.lines import KeyPath, locate

__all__ = ["LARGEST", "Document", "named", "parse_text", "read_bytes", "read_text", "shown"]

LARGEST = 1_000_000
"""Largest file accepted. [byte]"""

_LONGEST_NAME = 250

# The standard parser takes time with the square of a dotted key's parts; no key of ours has more than four.
_LONG_KEY = re.compile(r"""(?:(?<![\w.-])|(?<=\s))(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){100}""")
_POSITION = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_UNQUOTED = re.compile(r"=\s*[+-]?[\d.]+(?:e[+-]?\d+)?\s*[^\W\d_]", re.IGNORECASE)
_COMMA = re.compile(r"=\s*[+-]?\d+,\d+\s*(?:#.*)?$")


@dataclass(frozen=True)
class Document:
    """Parsed values and where they stand.

    Attributes
    ----------
    text : str
        The whole text.
    name : str
        What to call it in messages: the file as the user named it.
    values : dict
        Tables, lists and scalars as TOML gives them.
    """

    text: str
    name: str
    values: dict[str, object]

    @cached_property
    def lines(self) -> dict[KeyPath, int]:
        """Line of every key; worked out only when a message needs one."""
        return locate(self.text).lines

    def line(self, path: KeyPath) -> int:
        """Line of a key, or of the nearest table around it that is written down."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def place(self, path: KeyPath) -> str:
        """File and line for a message."""
        return f"{self.name}, line {self.line(path)}"


def shown(value: object, most: int = 60) -> str:
    """Write a value that came from a file so that it cannot disturb a terminal or fill it.

    Parameters
    ----------
    value : object
        Whatever TOML can hold.
    most : int
        Longest text. [character]
    """
    match value:
        case dict():
            return "a table"
        case list():
            return "a list"
        case bool():
            return "true" if value else "false"
        case str():
            text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in value[: most + 1])
            return f'"{text}"' if len(text) <= most else f'"{text[: most - 1]}…"'
        case int() if abs(value) >= 10**most:
            return "an integer of too many digits"
        case _:
            return str(value)


def read_text(path: str | os.PathLike[str]) -> str:
    """Read a text file of ordinary size.

    Parameters
    ----------
    path : path-like
        A regular file in UTF-8.

    Raises
    ------
    InputError
        If it is missing, not a regular file, too large, not permitted, or not UTF-8 text.
    """
    place = named(path)
    data = read_bytes(path)
    if data.startswith((b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")):
        raise InputError(
            "file must be UTF-8 text without a byte-order mark, got one",
            place=place,
            mend="save it as plain UTF-8",
        )
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"file must be UTF-8 text, got byte 0x{data[error.start]:02x}",
            place=f"{place}, line {line}",
            mend="save it as UTF-8",
        ) from error
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise InputError("file must be text, got a NUL character", place=f"{place}, line {line}")
    return text


def read_bytes(path: str | os.PathLike[str], *, most: int = LARGEST) -> bytes:
    """Read a regular file of at most ``most`` bytes; never waits on a pipe or device.

    Parameters
    ----------
    path : path-like
        The file.
    most : int
        Largest size. [byte]

    Raises
    ------
    InputError
        If it is missing, not a regular file, too large or not permitted.
    """
    place = named(path)
    try:
        _require_file(Path(path).stat(), place, most)
        # Non-blocking, and looked at again once open: the name may have become a pipe since.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb") as file:
            _require_file(os.fstat(file.fileno()), place, most)
            data = file.read(most + 1)
    except FileNotFoundError as error:
        raise InputError("file must exist, found none", place=place, mend="check the name") from error
    except PermissionError as error:
        raise InputError("file must be readable: no permission", place=place) from error
    except OSError as error:
        raise InputError(
            f"file could not be read: {error.strerror or 'unknown reason'}", place=place
        ) from error
    except ValueError as error:  # a NUL or a lone surrogate in the name
        raise InputError("file name must be usable", place=place, mend="choose another name") from error
    if len(data) > most:
        raise _too_large(len(data), place, most)
    return data


def parse_text(text: str, name: str) -> Document:
    """Parse TOML.

    Parameters
    ----------
    text : str
        The whole text.
    name : str
        What to call it in messages.

    Raises
    ------
    InputError
        If it is not TOML, nests too deeply, or is too large; with the line.
    """
    if len(text) > LARGEST:
        raise _too_large(len(text), name, LARGEST)
    long_key = _LONG_KEY.search(text)
    if long_key:
        line = text.count("\n", 0, long_key.start()) + 1
        raise InputError("key must have at most 100 parts", place=f"{name}, line {line}")
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(str(error), text, name) from error
    except RecursionError:
        raise InputError("file must not nest lists or tables hundreds deep", place=name) from None
    except ValueError as error:  # an integer of thousands of digits, which Python declines to convert
        raise InputError("numbers must have fewer than 4300 digits", place=name) from error
    return Document(text, name, values)


def named(path: str | os.PathLike[str]) -> str:
    """Write a file's name so that it cannot disturb a terminal or fill it."""
    text = os.fspath(path)
    if len(text) > _LONGEST_NAME:
        text = "…" + text[-_LONGEST_NAME:]
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


def _require_file(found: os.stat_result, place: str, most: int) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise InputError("file must be a file, got a folder", place=place, mend="add a file name")
    if not stat.S_ISREG(found.st_mode):
        raise InputError("file must be an ordinary file, got a device, pipe or socket", place=place)
    if found.st_size > most:
        raise _too_large(found.st_size, place, most)


def _too_large(size: int, place: str, most: int) -> InputError:
    return InputError(
        f"file must be at most {most / 1e6:g} MB, got {size / 1e6:.3g} MB",
        place=place,
        mend="is it the right file?",
    )


def _syntax(message: str, text: str, name: str) -> InputError:
    """Put the parser's complaint into our words."""
    found = _POSITION.search(message)
    what = message[: found.start()] if found else message
    if found and found[1]:
        line, column = int(found[1]), int(found[2])
    else:
        line, column = text.rstrip().count("\n") + 1, 0
    content = text.split("\n")[line - 1] if text else ""
    if what == "Cannot overwrite a value":
        what = "a key is given twice"
    elif what.startswith("Cannot declare"):
        what = "a table is given twice"
    else:
        what = what[:1].lower() + what[1:]
    what = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in what[:200])
    return InputError(f"file must be TOML: {what}", place=f"{name}, line {line}", mend=_mend(content, column))


def _mend(content: str, column: int) -> str:
    odd = content[column - 1 : column] if column else ""
    if odd and not odd.isascii():
        label = unicodedata.name(odd, "no letter")
        return (
            f"the character U+{ord(odd):04X} ({label}) cannot stand here; a key is written in plain letters"
        )
    if _COMMA.search(content):
        return 'write a decimal point, not a comma: 6.5 or "6.5 mm"'
    if _UNQUOTED.search(content):
        return 'put a value with a unit between quotes: "18 L"'
    return ""
