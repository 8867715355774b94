"""Where each key of a TOML text stands.

The standard parser gives values without positions, so this walks over a text that it has already accepted
and notes where each key, table, list element and value stands. It need not judge the text, only follow it.
"""

from __future__ import annotations

import contextlib
import re
import tomllib
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["KeyPath", "Layout", "locate"]

KeyPath = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*+")
_KEY = re.compile(r"""[ \t]*([A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*""")
_STRING = re.compile(
    r'"""(?:[^\\"]|\\.|"(?!""))*+"{3,5}'
    r"|'''(?:[^']|'(?!''))*+'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*+"'
    r"|'[^'\n]*+'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}\n#]*+")


@dataclass(frozen=True, slots=True)
class Layout:
    """Positions in a text.

    Attributes
    ----------
    lines : dict
        Paths such as ``("opening", 0, "diameter")`` or ``("placement", "table", "level", 7)`` to line numbers
        from 1, in the order of the text.
    values : dict
        Paths of key-value pairs to the start and end of the value.
    inline : set
        Those of them that stand inside the braces or brackets of another value.
    ends : dict
        Tables under a heading of their own (and ``()``, the top of the file) to the end of the line of their
        last key, or of the heading.
    """

    lines: dict[KeyPath, int]
    values: dict[KeyPath, tuple[int, int]]
    inline: set[KeyPath]
    ends: dict[KeyPath, int]


def locate(text: str) -> Layout:
    """Find where everything stands.

    Parameters
    ----------
    text : str
        Valid TOML.

    Returns
    -------
    Layout
        Text nested too deeply to follow, or not TOML after all, yields what was found up to there.
    """
    walk = _Walk(text)
    with contextlib.suppress(RecursionError, _LostError):
        walk.statements()
    return Layout(walk.found, walk.values, walk.inline, walk.ends)


class _LostError(Exception):
    """The text is not what the parser accepted."""


class _Walk:
    """A position in the text and what has been found on the way."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[KeyPath, int] = {}
        self.values: dict[KeyPath, tuple[int, int]] = {}
        self.inline: set[KeyPath] = set()
        self.ends: dict[KeyPath, int] = {(): 0}
        self.depth = 0  # of brackets and braces
        self.lists: dict[KeyPath, int] = {}  # how many tables each list of tables has so far
        self.newlines = [match.start() for match in re.finditer("\n", text)]

    def statements(self) -> None:
        table: KeyPath = ()
        while True:
            self.skip()
            if self.at >= len(self.text):
                return
            start = self.at
            if self.text.startswith("[[", start):
                self.at += 2
                keys = self.keys()
                self.at += 2
                path = (*self.resolve((), keys[:-1], start), keys[-1])
                self.note(path, start)
                number = self.lists.get(path, 0)
                self.lists[path] = number + 1
                table = (*path, number)
                self.note(table, start)
            elif self.text[start] == "[":
                self.at += 1
                keys = self.keys()
                self.at += 1
                table = self.resolve((), keys, start)
            else:
                self.pair(table)
            newline = self.text.find("\n", self.at)
            self.at = len(self.text) if newline < 0 else newline + 1
            self.ends[table] = self.at

    def resolve(self, base: KeyPath, keys: list[str], start: int) -> KeyPath:
        path = base
        for key in keys:
            path = (*path, key)
            self.note(path, start)
            if path in self.lists:
                path = (*path, self.lists[path] - 1)
        return path

    def note(self, path: KeyPath, position: int) -> None:
        if path not in self.found:
            self.found[path] = bisect_left(self.newlines, position) + 1

    def skip(self) -> None:
        match = _BLANK.match(self.text, self.at)
        if match:
            self.at = match.end()

    def keys(self) -> list[str]:
        keys = []
        while True:
            match = _KEY.match(self.text, self.at)
            if not match:
                raise _LostError
            raw = match[1]
            keys.append(str(tomllib.loads(f"k={raw}")["k"]) if raw[0] in "\"'" else raw)
            self.at = match.end()
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def pair(self, base: KeyPath) -> None:
        start = self.at
        path = self.resolve(base, self.keys(), start)
        self.at += 1  # the equals sign
        self.skip()
        begin = self.at
        self.value(path)
        self.values[path] = (begin, begin + len(self.text[begin : self.at].rstrip()))
        if self.depth:
            self.inline.add(path)

    def value(self, path: KeyPath) -> None:
        self.skip()
        opening = self.text[self.at : self.at + 1]
        if opening == "[":
            self.container("]", lambda number: self.element((*path, number)))
        elif opening == "{":
            self.container("}", lambda _: self.pair(path))
        else:
            match = _STRING.match(self.text, self.at) or _SCALAR.match(self.text, self.at)
            if not match:
                raise _LostError
            self.at = match.end()

    def element(self, path: KeyPath) -> None:
        self.note(path, self.at)
        self.value(path)

    def container(self, closing: str, entry: Callable[[int], None]) -> None:
        self.at += 1
        self.depth += 1
        number = 0
        while True:
            self.skip()
            here = self.text[self.at : self.at + 1]
            if not here:
                raise _LostError
            if here == closing:
                self.at += 1
                self.depth -= 1
                return
            if here == ",":
                self.at += 1
                continue
            before = self.at
            entry(number)
            number += 1
            if self.at == before:
                raise _LostError
