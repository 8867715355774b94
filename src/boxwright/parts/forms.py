"""The forms a part's field can take: a number with a unit, words, one of a few words, a curve.

Each form reads what stands in a file, checks what a program hands over, and writes so that reading gives the
same back to the last bit.
"""

from __future__ import annotations

import json
import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Protocol

from boxwright.errors import InputError
from boxwright.parts.curve import Curve
from boxwright.quantity import Kind, parse, show, write

__all__ = [
    "LONGEST_NAME",
    "LONGEST_TEXT",
    "Curved",
    "Figure",
    "Form",
    "OneOf",
    "Value",
    "Words",
    "plain_curve",
    "quoted",
]

LONGEST_NAME = 120
LONGEST_TEXT = 20_000
LONGEST_CURVE = 1000

Value = float | str | Curve
"""What a field can hold."""


def quoted(value: object) -> str:
    """Repeat a value safely in a message: short, one line, control characters spelled out."""
    if isinstance(value, int) and value.bit_length() > 200:  # Python refuses to spell out very long ones
        return "a whole number of very many digits"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    text = str(value)
    if len(text) > 60:
        text = text[:40] + "…"
    text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)
    return f'"{text}"' if isinstance(value, str) else text


class Form(Protocol):
    """How a field is read, checked and written."""

    def read(self, raw: object, name: str) -> Value:
        """Read what stands in a file, a unit included."""
        ...

    def checked(self, value: Any, name: str) -> Value:
        """Return a value in SI if it can be kept; say why where it cannot."""
        ...

    def written(self, value: Any) -> str:
        """Write a value so that :meth:`read` gives it back exactly."""
        ...


@dataclass(frozen=True, slots=True)
class Figure:
    """A number.

    Attributes
    ----------
    kind : Kind
        What it measures.
    above_zero : bool
        Whether it must be > 0; else it must be ≥ 0.
    most : float
        Its upper bound, in SI.
    """

    kind: Kind
    above_zero: bool = False
    most: float = math.inf

    def read(self, raw: object, name: str) -> Value:
        """Read a number with or without a unit."""
        if not isinstance(raw, str | int | float):
            raise InputError(
                f"{name} must be {self.kind.what}, got {quoted(raw)}",
                mend=f'write it like "{self.kind.example}"',
            )
        return self.checked(parse(raw, self.kind, field=name), name)

    def checked(self, value: Any, name: str) -> Value:
        """Keep a finite number within its bounds; a count stays a whole number."""
        if type(value) is float and self.kind is not Kind.COUNT and math.isfinite(value):
            number = value  # the usual case, quickly
        else:
            number = parse(float(value) if hasattr(value, "__float__") else value, self.kind, field=name)
        if number < 0.0 or (self.above_zero and number == 0.0) or number > self.most:
            bound = "> 0" if self.above_zero else "≥ 0"
            if number > self.most:
                bound = f"≤ {show(self.most, self.kind)}"
            raise InputError(f"{name} must be {bound}, got {show(number, self.kind)}")
        return int(number) if self.kind is Kind.COUNT else number + 0.0  # no negative zero

    def written(self, value: Any) -> str:
        """Write it with a unit."""
        return write(value, self.kind)


@dataclass(frozen=True, slots=True)
class Words:
    """Text.

    Attributes
    ----------
    longest : int
        Most characters.
    lines : bool
        Whether it may have several lines, and may be empty.
    """

    longest: int
    lines: bool

    def read(self, raw: object, name: str) -> Value:
        """Read text."""
        if not isinstance(raw, str):
            raise InputError(f"{name} must be text, got {quoted(raw)}", mend="put it in quotes")
        text = raw.replace("\r\n", "\n").replace("\r", "\n") if self.lines else raw.strip()
        return self.checked(text, name)

    def checked(self, value: Any, name: str) -> Value:
        """Keep text that can be written, shown and found again."""
        if not isinstance(value, str):
            raise InputError(f"{name} must be text, got {quoted(value)}")
        if len(value) > self.longest:
            raise InputError(f"{name} must be at most {self.longest} characters, got {len(value)}")
        if not self.lines and not value.strip():
            raise InputError(f"{name} must not be empty", mend="give the part a name")
        if not self.lines and value != value.strip():
            raise InputError(f"{name} must not begin or end with a space, got {quoted(value)}")
        for character in value:
            # Cc: control, Cs: half of a surrogate pair, Zl and Zp: line ends of their own kind
            forbidden = unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}
            if forbidden and not (self.lines and character in "\n\t"):
                raise InputError(
                    f"{name} must be plain text, got the control character U+{ord(character):04X}",
                    mend="take it out",
                )
        return value

    def written(self, value: Any) -> str:
        """Write it as it is."""
        return str(value)


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of a few words."""

    words: tuple[str, ...]

    def read(self, raw: object, name: str) -> Value:
        """Read a word, whatever its case."""
        return self.checked(raw.strip().lower() if isinstance(raw, str) else raw, name)

    def checked(self, value: Any, name: str) -> Value:
        """Keep one of the words."""
        if value not in self.words:
            raise InputError(f"{name} must be one of {', '.join(self.words)}, got {quoted(value)}")
        return str(value)

    def written(self, value: Any) -> str:
        """Write it as it is."""
        return str(value)


@dataclass(frozen=True, slots=True)
class Curved:
    """A large-signal curve, in a table's cell as JSON: ``{"polynomial": [1.0, 0.0, -900.0]}``."""

    def read(self, raw: object, name: str) -> Value:
        """Read a curve from JSON text or from a mapping with ``polynomial`` or ``table``."""
        if isinstance(raw, str):
            try:
                raw = json.loads(raw)
            except (ValueError, RecursionError):
                raise self._refused(name, raw) from None
        if not isinstance(raw, Mapping) or len(raw) != 1:
            raise self._refused(name, raw)
        key, content = next(iter(raw.items()))
        if not isinstance(content, Sequence) or isinstance(content, str):
            raise self._refused(name, raw)
        if key == "polynomial":
            return self.checked(Curve(polynomial=tuple(content)), name)
        if key == "table" and all(isinstance(row, list | tuple) and len(row) == 2 for row in content):
            return self.checked(Curve(table=tuple((row[0], row[1]) for row in content)), name)
        raise self._refused(name, raw)

    def checked(self, value: Any, name: str) -> Value:
        """Keep finite numbers, and a table whose travel rises."""
        if not isinstance(value, Curve) or bool(value.polynomial) == bool(value.table):
            raise self._refused(name, value)
        if len(value.polynomial) + len(value.table) > LONGEST_CURVE:
            raise InputError(f"{name} must have at most {LONGEST_CURVE} numbers or points")

        def number(entry: Any) -> float:
            return parse(entry, Kind.RATIO, field=f"each number of {name}")

        polynomial = tuple(number(a) for a in value.polynomial)
        table = tuple((number(x), number(ratio)) for x, ratio in value.table)
        if any(later[0] <= earlier[0] for earlier, later in pairwise(table)):
            raise InputError(f"{name} must have travel that rises from point to point")
        return Curve(polynomial=polynomial, table=table)

    def written(self, value: Any) -> str:
        """Write it as JSON; Python writes the shortest digits that give the same number."""
        return json.dumps(plain_curve(value))

    @staticmethod
    def _refused(name: str, value: object) -> InputError:
        return InputError(
            f"{name} must be a curve, got {quoted(value)}",
            mend='write it like {"polynomial": [1.0, 0.0, -900.0]} or {"table": [[-0.01, 0.8], [0.0, 1.0]]}',
        )


def plain_curve(curve: Curve) -> dict[str, list[Any]]:
    """Turn a curve into lists and numbers, for a file."""
    if curve.table:
        return {"table": [list(point) for point in curve.table]}
    return {"polynomial": list(curve.polynomial)}
