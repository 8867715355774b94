"""The parts store: the user's own parts in one SQLite file, with the example parts behind them."""

from __future__ import annotations

import contextlib
import difflib
import math
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from boxwright.errors import InputError
from boxwright.parts.driver import Driver
from boxwright.parts.examples import example_entries, example_shelf
from boxwright.parts.fields import Part, PartKind, kind_named, kind_of
from boxwright.parts.forms import quoted
from boxwright.parts.passive import Passive
from boxwright.parts.records import SAME, Entry, alike, insert, name_key, natural_order, read_entry
from boxwright.parts.shelf import Shelf
from boxwright.parts.stock import Amplifier, Sheet, VentStock

__all__ = ["Added", "Entry", "Range", "Store", "default_path", "open_store"]

Range = tuple[float | None, float | None]
"""Least and most of a value, both included; None: no bound."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What happened to a part that was added.

    Attributes
    ----------
    replaced : bool
        Whether it took the place of one of the same name.
    warnings : tuple of str
        What the user should know about it.
    """

    replaced: bool = False
    warnings: tuple[str, ...] = ()


def default_path() -> Path:
    """Where the user's store is: ``BOXWRIGHT_STORE``, else the user's data folder."""
    named = os.environ.get("BOXWRIGHT_STORE", "").strip()
    if named:
        return Path(named).expanduser()
    import platformdirs

    return platformdirs.user_data_path("boxwright", appauthor=False) / "parts.sqlite3"


def open_store(path: str | os.PathLike[str] | None = None, *, include_examples: bool = True) -> Store:
    """Open the user's store, with the example parts behind it.

    Parameters
    ----------
    path : path-like, optional
        The file; left out: :func:`default_path`.
    include_examples : bool
        Whether the bundled example parts are found as well.
    """
    return Store(path, include_examples=include_examples)


class Store:
    """The parts a box can be made of.

    Own parts are read and written; example parts are only read, and one is hidden by an own part of its
    name. A store that was never written to is empty, and opening it makes no file. Use it in one thread, as
    a context manager or with :meth:`close`.

    Parameters
    ----------
    path : path-like, optional
        The file; left out: :func:`default_path`.
    include_examples : bool
        Whether the bundled example parts are found as well.
    """

    def __init__(self, path: str | os.PathLike[str] | None = None, *, include_examples: bool = False) -> None:
        self.path = default_path() if path is None else Path(path)
        self._own = Shelf(self.path)
        self._include_examples = include_examples
        self._examples: Shelf | None = None

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._own.close()
        if self._examples is not None:
            self._examples.close()
            self._examples = None

    @contextlib.contextmanager
    def transaction(self) -> Iterator[None]:
        """Keep every change made inside, or none of them."""
        with self._own.writing():
            yield

    def add(
        self,
        part: Part,
        *,
        given: Mapping[str, str] | None = None,
        provenance: str = "",
        replace: bool = False,
    ) -> Added:
        """Put a part into the user's store.

        Parameters
        ----------
        part : Part
            In SI.
        given : mapping, optional
            The data sheet as it was given, heading and text, kept beside the values.
        provenance : str
            Where that came from.
        replace : bool
            Whether a part of the same kind and name gives way.

        Returns
        -------
        Added
            Whether one was replaced, and warnings: the same parameters under another name, a hidden example.

        Raises
        ------
        InputError
            If there is a part of that name (upper and lower case are the same) and ``replace`` is False, if a
            value cannot be kept, or if the store cannot be written.
        """
        kind = kind_of(part)
        kind.check(part)  # what cannot be kept is refused before the file is touched
        key = name_key(part.name)
        with self._own.writing():
            there = self._own.rows("SELECT name FROM part WHERE kind = ? AND key = ?", (kind.name, key))
            if there and not replace:
                raise InputError(
                    f"name must be new, got {quoted(part.name)}: the store has a {kind.name} "
                    f"{quoted(there[0][0])} already",
                    place=self._own.place,
                    mend="choose another name, or replace that one on purpose",
                )
            warnings = [
                f"{part.name}: same parameters as {other}, under another name"
                for other in self._twins(kind, part, key)
            ]
            if self._example_named(kind, key):
                warnings.append(f"{part.name}: hides the example {kind.name} of that name")
            insert(self._own, kind, part, given=given, provenance=provenance)
        return Added(replaced=bool(there), warnings=tuple(warnings))

    def remove(self, kind: str, name: str) -> None:
        """Take a part out of the user's store.

        Raises
        ------
        InputError
            If there is no such part, or it is an example.
        """
        which = kind_named(kind)
        if not self.has(kind, name):  # a refusal makes no file
            if self._example_named(which, name_key(name)):
                raise InputError(
                    f"part to remove must be your own, got the example {which.name} {quoted(name)}",
                    mend="leave the examples out instead",
                )
            raise self._unknown(which, name)
        with self._own.writing() as connection:
            connection.execute("DELETE FROM part WHERE kind = ? AND key = ?", (which.name, name_key(name)))

    def has(self, kind: str, name: str) -> bool:
        """Tell whether the user's own store has a part of that name."""
        values = (kind_named(kind).name, name_key(name))
        return bool(self._own.rows("SELECT 1 FROM part WHERE kind = ? AND key = ?", values))

    def entry(self, kind: str, name: str) -> Entry:
        """Look a part up by its name, with what is known about it.

        Raises
        ------
        InputError
            If there is no such part; it names the nearest ones.
        """
        which = kind_named(kind)
        found = self._select(which, "AND key = ?", (name_key(name),))
        if not found:
            raise self._unknown(which, name)
        return found[0]

    def get(self, kind: str, name: str) -> Part:
        """Look a part up by its name; see :meth:`entry`."""
        return self.entry(kind, name).part

    def names(self, kind: str) -> tuple[str, ...]:
        """Names of all parts of a kind, in order."""
        return tuple(entry.part.name for entry in self._select(kind_named(kind)))

    def find(self, kind: str, text: str = "", where: Mapping[str, Range] | None = None) -> tuple[Entry, ...]:
        """Find parts by words and by ranges of their values.

        Parameters
        ----------
        kind : str
            driver, passive, vent, amplifier or sheet.
        text : str
            Words that name or notes must all contain, each from its beginning; empty: any.
        where : mapping, optional
            From a field, stored or derived (``fs``, ``qts``, ``vas``, ``vd``, …), to its least and most in
            SI. A part that does not state a field is not found by it.

        Returns
        -------
        tuple of Entry
            In the order of their names.

        Raises
        ------
        InputError
            If a field is not known or a range is none.
        """
        which = kind_named(kind)
        clause, values = "", list[object]()
        words = re.findall(r"[^\W_]+", text)
        if text.strip() and not words:
            return ()
        if words:
            clause += " AND id IN (SELECT rowid FROM part_text WHERE part_text MATCH ?)"
            values.append(" ".join(f'"{word}"*' for word in words))
        for name, bounds in (where or {}).items():
            least, most = _range(which, name, bounds)
            clause += _WITHIN
            values += [name, least, most]
        return tuple(self._select(which, clause, tuple(values)))

    def drivers(self, patterns: Sequence[str] = ("*",)) -> tuple[Driver, ...]:
        """Drivers whose names match any of the patterns; see :meth:`matching`."""
        return cast("tuple[Driver, ...]", self.matching("driver", patterns))

    def passives(self, patterns: Sequence[str] = ("*",)) -> tuple[Passive, ...]:
        """Passives whose names match any of the patterns; see :meth:`matching`."""
        return cast("tuple[Passive, ...]", self.matching("passive", patterns))

    def vents(self, patterns: Sequence[str] = ("*",)) -> tuple[VentStock, ...]:
        """Vents whose names match any of the patterns; see :meth:`matching`."""
        return cast("tuple[VentStock, ...]", self.matching("vent", patterns))

    def amplifiers(self, patterns: Sequence[str] = ("*",)) -> tuple[Amplifier, ...]:
        """Amplifiers whose names match any of the patterns; see :meth:`matching`."""
        return cast("tuple[Amplifier, ...]", self.matching("amplifier", patterns))

    def sheets(self, patterns: Sequence[str] = ("*",)) -> tuple[Sheet, ...]:
        """Sheets whose names match any of the patterns; see :meth:`matching`."""
        return cast("tuple[Sheet, ...]", self.matching("sheet", patterns))

    def matching(self, kind: str, patterns: Sequence[str]) -> tuple[Part, ...]:
        """Find parts by name patterns.

        Parameters
        ----------
        kind : str
            driver, passive, vent, amplifier or sheet.
        patterns : sequence of str
            Names in which ``*`` stands for any text; upper and lower case are the same. None: no part.

        Returns
        -------
        tuple of Part
            In the order of their names, each once.

        Raises
        ------
        InputError
            If a pattern matches nothing; it names the nearest parts. ``*`` alone may.
        """
        which = kind_named(kind)
        if not patterns:
            return ()
        entries = self._select(which)
        keys = [name_key(entry.part.name) for entry in entries]
        wanted: set[int] = set()
        for pattern in patterns:
            pieces = (re.escape(name_key(piece, strip=False)) for piece in pattern.strip().split("*"))
            expression = re.compile(".*".join(pieces), re.DOTALL)
            hits = {number for number, key in enumerate(keys) if expression.fullmatch(key)}
            if not hits and pattern.strip() != "*":
                raise self._unknown(which, pattern)
            wanted |= hits
        return tuple(entry.part for number, entry in enumerate(entries) if number in wanted)

    def _select(self, kind: PartKind, clause: str = "", values: tuple[object, ...] = ()) -> list[Entry]:
        """Entries of both shelves, in the order of their names; own ones hide examples."""
        query = (
            "SELECT key, data, given, provenance, added FROM part WHERE kind = ? "  # noqa: S608
            + clause  # only from this module; values are bound
        )
        found = {
            str(row[0]): read_entry(kind, row[1:], self._own.place)
            for row in self._own.rows(query, (kind.name, *values))
        }
        if self._include_examples:
            own = self._own.rows("SELECT key FROM part WHERE kind = ?", (kind.name,)) if clause else ()
            hidden = {*found, *(row[0] for row in own)}
            examples = example_entries(kind.name)
            keys = self._example_keys(query, (kind.name, *values)) if clause else list(examples)
            found.update((key, examples[key]) for key in keys if key not in hidden)
        return [found[key] for key in sorted(found, key=natural_order)]

    def _example_keys(self, query: str, values: tuple[object, ...]) -> list[str]:
        if self._examples is None:
            self._examples = example_shelf()
        return [str(row[0]) for row in self._examples.rows(query, values)]

    def _example_named(self, kind: PartKind, key: str) -> bool:
        return self._include_examples and key in example_entries(kind.name)

    def _twins(self, kind: PartKind, part: Part, key: str) -> list[str]:
        """Names of other parts with the same parameters."""
        values = kind.values(part)
        clause, bound = " AND key <> ?", list[object]([key])
        for name in kind.identity:
            size = values.get(name)
            if isinstance(size, int | float):
                clause += _ALSO_WITHIN if clause.count("?") > 1 else _WITHIN
                bound += [name, size * (1.0 - SAME), size * (1.0 + SAME)]
        near = self._select(kind, clause + " LIMIT 3", tuple(bound))
        return [
            entry.part.name
            for entry in near
            if all(alike(values.get(name), kind.values(entry.part).get(name)) for name in kind.identity)
        ]

    def _unknown(self, kind: PartKind, name: str) -> InputError:
        names = self.names(kind.name)
        keys = {name_key(known): known for known in names}
        near = difflib.get_close_matches(name_key(name).replace("*", ""), list(keys), n=3, cutoff=0.4)
        if near:
            mend = f"the nearest are {', '.join(keys[key] for key in near)}"
        elif names:
            mend = f"there are {len(names)}, from {names[0]} to {names[-1]}"
        else:
            mend = f"there are no {kind.plural}: add or import some"
        return InputError(
            f"{kind.name} must be one of the store's, got {quoted(name)}", place=self._own.place, mend=mend
        )


_WITHIN = " AND id IN (SELECT part FROM figure WHERE field = ? AND value BETWEEN ? AND ?)"
# The same, for few candidates: looked up one by one.
_ALSO_WITHIN = """ AND EXISTS (SELECT 1 FROM figure
    WHERE figure.part = part.id AND field = ? AND value BETWEEN ? AND ?)"""


def _range(kind: PartKind, name: str, bounds: Range) -> tuple[float, float]:
    if name not in kind.figures:
        near = difflib.get_close_matches(name, kind.figures, n=3, cutoff=0.4)
        raise InputError(
            f"field must be a number of a {kind.name}, got {quoted(name)}",
            mend=f"nearest: {', '.join(near)}" if near else f"one of {', '.join(kind.figures)}",
        )
    least, most = bounds
    low = -math.inf if least is None else float(least)
    high = math.inf if most is None else float(most)
    if not low <= high:
        raise InputError(f"range of {name} must go from less to more, got {low:g} to {high:g}")
    return low, high
