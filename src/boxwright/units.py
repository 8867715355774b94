"""What a unit expression is worth: "mm/N" → its factor to SI and its dimension.

The expression is read by a small grammar of our own (names, ``*``, ``/``, ``^``, one-digit exponents,
brackets), so nothing a user writes is ever evaluated. The usual names are in a table here; only a name that
is not in it is looked up in pint, which is slow to import.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

__all__ = ["Dimension", "UnitError", "Worth", "known_names", "unit_worth"]

Dimension = tuple[tuple[str, int], ...]
"""Base units with their exponents, sorted by name: ``(("kg", 1), ("s", -2))``."""


class UnitError(Exception):
    """A unit expression that cannot be read; the edge turns it into an InputError.

    Parameters
    ----------
    reason : str
        What is wrong, as half a sentence.
    name : str, optional
        The name that is not known, when that is the trouble.
    """

    def __init__(self, reason: str, name: str = "") -> None:
        self.reason = reason
        self.name = name
        super().__init__(reason)


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """A unit in SI: ``value_si = (value + offset)·factor``.

    Attributes
    ----------
    factor : Fraction
        SI units in one of this unit, exact where the unit is defined exactly.
    dimension : Dimension
        Over m, kg, s, A, K, rad and dB.
    offset : Fraction
        Of a temperature scale, in its own degrees; 0 elsewhere.
    """

    factor: Fraction
    dimension: Dimension
    offset: Fraction = Fraction(0)


def _dimension(exponents: Mapping[str, int]) -> Dimension:
    return tuple(sorted((name, exponent) for name, exponent in exponents.items() if exponent))


def _worth(factor: str | int, **exponents: int) -> Worth:
    return Worth(factor=Fraction(factor), dimension=_dimension(exponents))


# Names that take a prefix. Exact by the definitions of the SI; foot, inch and pound by the 1959 agreement.
_PREFIXABLE: dict[str, Worth] = {
    "m": _worth(1, m=1),
    "g": _worth("0.001", kg=1),
    "s": _worth(1, s=1),
    "A": _worth(1, A=1),
    "K": _worth(1, K=1),
    "N": _worth(1, kg=1, m=1, s=-2),
    "T": _worth(1, kg=1, s=-2, A=-1),
    "V": _worth(1, kg=1, m=2, s=-3, A=-1),
    "W": _worth(1, kg=1, m=2, s=-3),
    "J": _worth(1, kg=1, m=2, s=-2),
    "H": _worth(1, kg=1, m=2, s=-2, A=-2),
    "Hz": _worth(1, s=-1),
    "Pa": _worth(1, kg=1, m=-1, s=-2),
    "ohm": _worth(1, kg=1, m=2, s=-3, A=-2),
    "L": _worth("0.001", m=3),
    "l": _worth("0.001", m=3),
    "bar": _worth(100000, kg=1, m=-1, s=-2),
}
_PREFIXES: dict[str, Fraction] = {
    "n": Fraction(1, 10**9),
    "u": Fraction(1, 10**6),
    "m": Fraction(1, 1000),
    "c": Fraction(1, 100),
    "d": Fraction(1, 10),
    "h": Fraction(100),
    "k": Fraction(1000),
    "M": Fraction(10**6),
    "G": Fraction(10**9),
}
_PLAIN: dict[str, Worth] = {
    "in": _worth("0.0254", m=1),
    "ft": _worth("0.3048", m=1),
    "gal": _worth("0.003785411784", m=3),
    "cc": _worth("0.000001", m=3),
    "lb": _worth("0.45359237", kg=1),
    "oz": Worth(factor=Fraction("0.45359237") / 16, dimension=(("kg", 1),)),
    "min": _worth(60, s=1),
    "atm": _worth(101325, kg=1, m=-1, s=-2),
    "rayl": _worth(1, kg=1, m=-2, s=-1),
    "Tm": _worth(1, kg=1, m=1, s=-2, A=-1),
    "Ns": _worth(1, kg=1, m=1, s=-1),
    "degC": Worth(factor=Fraction(1), dimension=(("K", 1),), offset=Fraction("273.15")),
    "degF": Worth(factor=Fraction(5, 9), dimension=(("K", 1),), offset=Fraction("459.67")),
    "rad": _worth(1, rad=1),
    # π to the 36 digits that a float can never tell apart from π
    "deg": Worth(factor=Fraction("3.14159265358979323846264338327950288") / 180, dimension=(("rad", 1),)),
    "dB": _worth(1, dB=1),
    "percent": _worth("0.01"),
    "ppm": _worth("0.000001"),
}
_WORDS: dict[str, str] = {
    "meter": "m", "metre": "m", "millimeter": "mm", "millimetre": "mm", "centimeter": "cm",
    "centimetre": "cm",
    "inch": "in", "inche": "in", "foot": "ft", "feet": "ft", "liter": "L", "litre": "L", "ltr": "L",
    "gallon": "gal", "gram": "g", "gramme": "g", "kilogram": "kg", "pound": "lb", "lb": "lb", "ounce": "oz",
    "newton": "N", "tesla": "T", "ohm": "ohm", "volt": "V", "watt": "W", "amp": "A", "ampere": "A",
    "henry": "H", "henrie": "H", "hertz": "Hz", "pascal": "Pa", "second": "s", "sec": "s", "minute": "min",
    "kelvin": "K", "degree": "deg", "percent": "percent", "celsius": "degC", "fahrenheit": "degF",
    "radian": "rad",
}  # fmt: skip
_CUBIC = re.compile(r"(cubic|cu|square|sq)\.?[ ]*([A-Za-z]+)\.?")
_TOKEN = re.compile(r"\s*(?:(\*\*|\^)\s*(-?[0-9]+)|([A-Za-z_]+)(-?[0-9]+)?|([*/()]))")
_MOST_EXPONENT = 6
_MOST_FACTORS = 8


def known_names() -> tuple[str, ...]:
    """Return the unit names of the table, with the prefixes that occur in the trade."""
    prefixed = ("mm", "cm", "dm", "um", "kg", "mg", "ms", "mH", "uH", "kHz", "hPa", "kPa", "mA", "mV", "kW")
    return (*_PREFIXABLE, *_PLAIN, *prefixed)


@lru_cache(maxsize=1024)
def unit_worth(expression: str) -> Worth:
    """Factor and dimension of a unit expression.

    Parameters
    ----------
    expression : str
        In plain ASCII: ``"mm/N"``, ``"T*m"``, ``"N s/m"``, ``"cu ft"``, ``"ft3"``. A gallon is the US liquid
        gallon.

    Returns
    -------
    Worth
        Factor (exact for names of the table), dimension, and offset of a temperature scale.

    Raises
    ------
    UnitError
        If the expression cannot be read or a name in it is not known.
    """
    text = expression.strip()
    cubic = _CUBIC.fullmatch(text)
    if cubic:
        text = f"{cubic[2]}^{3 if cubic[1].startswith('cu') else 2}"
    factors = _factors(text)
    if len(factors) == 1 and factors[0][1] == 1:
        return _name_worth(factors[0][0])
    total = Fraction(1)
    exponents: dict[str, int] = {}
    for name, exponent in factors:
        worth = _name_worth(name)
        if worth.offset:
            raise UnitError(f'"{name}" cannot be part of a compound unit')
        total *= worth.factor**exponent
        for base, power in worth.dimension:
            exponents[base] = exponents.get(base, 0) + power * exponent
    return Worth(factor=total, dimension=_dimension(exponents))


def _factors(text: str) -> list[tuple[str, int]]:
    """Read ``a b^2/(c d)`` into names with signed exponents; a ``/`` divides by the next item only."""
    found: list[tuple[str, int]] = []
    signs = [1]  # of the brackets we are in
    sign, position, last = 1, 0, "sign"
    end = len(text.rstrip())
    while position < end:
        token = _TOKEN.match(text, position)
        if token is None:
            raise UnitError(f'"{text}" is not a unit')
        position = token.end()
        _, power, name, glued, mark = token.groups()
        if power:
            if last != "name":
                raise UnitError(f'"{text}" is not a unit')
            found[-1] = (found[-1][0], found[-1][1] * _exponent(power))
            last = "power"
        elif name:
            found.append((name, signs[-1] * sign * _exponent(glued or "1")))
            sign, last = 1, "power" if glued else "name"
            if len(found) > _MOST_FACTORS:
                raise UnitError("its unit has too many parts")
        elif mark == "(":
            signs.append(signs[-1] * sign)
            sign, last = 1, "sign"
        elif last == "sign":
            raise UnitError(f'"{text}" is not a unit')
        elif mark == ")":
            if len(signs) == 1:
                raise UnitError("its unit has a bracket too many")
            signs.pop()
            last = "close"
        else:
            sign, last = (1 if mark == "*" else -1), "sign"
    if last == "sign":
        raise UnitError(f'"{text}" is not a unit')
    if len(signs) != 1:
        raise UnitError("its unit has an open bracket")
    return found


def _exponent(text: str) -> int:
    value = int(text) if len(text) <= 2 else _MOST_EXPONENT + 1
    if not 0 < abs(value) <= _MOST_EXPONENT:
        raise UnitError(f"exponents from 1 to {_MOST_EXPONENT} are the only ones that make sense in a unit")
    return value


@lru_cache(maxsize=1024)
def _name_worth(name: str) -> Worth:
    if name in _PREFIXABLE:
        return _PREFIXABLE[name]
    if name in _PLAIN:
        return _PLAIN[name]
    prefix, rest = _PREFIXES.get(name[0]), _PREFIXABLE.get(name[1:])
    if prefix is not None and rest is not None:
        return Worth(factor=prefix * rest.factor, dimension=rest.dimension)
    word = name.lower()
    word = _WORDS.get(word) or _WORDS.get(word.removesuffix("s")) or ""
    if word:
        return _name_worth(word)
    return _looked_up(name)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


_PINT_BASES = {"meter": "m", "gram": "kg", "second": "s", "ampere": "A", "kelvin": "K", "radian": "rad"}


def _looked_up(name: str) -> Worth:
    """Ask pint for a single name (never for an expression)."""
    registry = _registry()
    try:
        unit = registry.Unit(name)
        zero = float(registry.Quantity(0.0, unit).to_root_units().magnitude)
        factor, root = registry.get_root_units(unit)
        powers = {str(base): Fraction(power) for base, power in dict(root._units).items()}
        scale = Fraction(float(factor))
    except Exception as error:  # pint raises its own, attribute, key, type, value and token errors
        raise UnitError(f'"{name}" is not a known unit', name) from error
    if zero != 0.0:
        raise UnitError(f'"{name}" is a scale with an offset, which is not taken')
    if any(power.denominator != 1 for power in powers.values()):
        raise UnitError(f'"{name}" has a fractional dimension, which is not taken')
    exponents = {_PINT_BASES.get(base, base): int(power) for base, power in powers.items()}
    return Worth(factor=scale / Fraction(1000) ** exponents.get("kg", 0), dimension=_dimension(exponents))
