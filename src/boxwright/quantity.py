"""Numbers with units, at the edges only: "18 L" → 0.018, and back for display and for files.

Inside the package every number is an SI float. A decimal number is taken exactly and multiplied by the exact
factor of its unit before it is rounded once, so "18 L" is 0.018 to the last bit and :func:`write` can be
undone without loss.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Literal

from boxwright.errors import InputError
from boxwright.units import Dimension, UnitError, Worth, known_names, unit_worth

__all__ = ["Kind", "parse", "show", "write"]

MOST_CHARACTERS = 64


@dataclass(frozen=True, slots=True)
class _Spec:
    """A kind of quantity: its name, an example, and the units it is shown in, each from a least SI value."""

    what: str
    example: str
    metric: tuple[tuple[str, float], ...]
    inch: tuple[tuple[str, float], ...] = ()


class Kind(Enum):
    """What a number measures."""

    LENGTH = _Spec("a length", "210 mm", (("mm", 0.0), ("m", 1.0)), (("in", 0.0), ("ft", 3.048)))
    AREA = _Spec("an area", "215 cm2", (("cm²", 0.0), ("m²", 1.0)), (("sq in", 0.0), ("sq ft", 0.9290304)))
    VOLUME = _Spec(
        "a volume",
        "18 L",
        (("cm³", 0.0), ("L", 1e-4), ("m³", 1.0)),
        (("cu in", 0.0), ("cu ft", 2.831684659e-3)),
    )
    MASS = _Spec("a mass", "28 g", (("g", 0.0), ("kg", 1.0)), (("oz", 0.0), ("lb", 0.45359237)))
    FORCE = _Spec("a force", "30 N", (("N", 0.0),), (("lbf", 0.0),))
    FORCE_FACTOR = _Spec("a force factor", "7.5 T*m", (("T·m", 0.0),))
    COMPLIANCE = _Spec("a compliance", "0.42 mm/N", (("mm/N", 0.0),))
    STIFFNESS = _Spec("a stiffness", "2.4 N/mm", (("N/mm", 0.0),))
    MECHANICAL_RESISTANCE = _Spec("a mechanical resistance", "1.6 N*s/m", (("N·s/m", 0.0),))
    RESISTANCE = _Spec("a resistance", "3.6 ohm", (("Ω", 0.0), ("kΩ", 1e3)))
    INDUCTANCE = _Spec("an inductance", "0.9 mH", (("µH", 0.0), ("mH", 1e-4), ("H", 1.0)))
    FREQUENCY = _Spec("a frequency", "32 Hz", (("Hz", 0.0), ("kHz", 1e3)))
    VOLTAGE = _Spec("a voltage", "24 V", (("mV", 0.0), ("V", 0.1)))
    CURRENT = _Spec("a current", "10 A", (("mA", 0.0), ("A", 0.1)))
    POWER = _Spec("a power", "150 W", (("mW", 0.0), ("W", 0.1), ("kW", 1e3)))
    TEMPERATURE = _Spec("a temperature", "20 degC", (("°C", 0.0),), (("°F", 0.0),))
    PRESSURE = _Spec("a pressure", "1013 hPa", (("Pa", 0.0), ("kPa", 1e3), ("MPa", 1e6), ("GPa", 1e9)))
    DENSITY = _Spec("a density", "700 kg/m3", (("kg/m³", 0.0),))
    SPEED = _Spec("a speed", "17 m/s", (("m/s", 0.0),), (("ft/s", 0.0),))
    TIME = _Spec("a time", "12 ms", (("ms", 0.0), ("s", 1.0)))
    FLOW_RESISTIVITY = _Spec("a flow resistivity", "2000 Pa*s/m2", (("Pa·s/m²", 0.0),))
    ANGLE = _Spec("an angle", "30 deg", (("°", 0.0),))
    LEVEL = _Spec("a level", "102 dB", (("dB", 0.0),))
    RATIO = _Spec("a ratio", "50 %", (("", 0.0),))
    COUNT = _Spec("a whole number", "2", (("", 0.0),))
    PRICE = _Spec("a plain number in your currency", "79.90", (("", 0.0),))

    @property
    def what(self) -> str:
        """Name with its article, for messages."""
        return self.value.what

    @property
    def example(self) -> str:
        """A value as a user would write it."""
        return self.value.example

    @property
    def dimension(self) -> Dimension:
        """Of the SI unit."""
        return _worth(self.value.metric[0][0]).dimension


# Signs a data sheet may carry, and how our own grammar spells them.
_SPELLINGS = str.maketrans(
    {
        "µ": "u", "μ": "u", "Ω": "ohm", "\N{OHM SIGN}": "ohm", "²": "^2", "³": "^3", "·": "*", "⋅": "*",
        "∙": "*", "×": "*", "℃": "degC", "℉": "degF", "−": "-", "″": '"', "”": '"', "“": '"', "′": "'",
        "’": "'", "%": " percent", "\t": " ",
        "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{THIN SPACE}": " ",
    }
)  # fmt: skip
_ALLOWED = re.compile(r"""[A-Za-z0-9 .,+\-*/^()'"_°]*""")
_NUMBER = re.compile(r"([+-]?)((?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE]([+-]?[0-9]+))?)")
_MIXED = re.compile(r"([+-]?)(?:([0-9]+)[ -]+)?([0-9]+) ?/ ?([0-9]+)(?![0-9.])")
_GROUPED = re.compile(r"[+-]?[0-9][0-9.,'_]*(?: [0-9]{3})*(?![0-9])")
_TEMPERATURES = {"C": "degC", "F": "degF", "deg C": "degC", "deg F": "degF"}


def parse(value: str | float, kind: Kind, *, field: str, place: str = "") -> float:
    """Read a number with or without a unit.

    Parameters
    ----------
    value : str, int or float
        Text such as ``"8.25 in"``; a plain number is SI already.
    kind : Kind
        What it has to measure.
    field : str
        Its name, for the message.
    place : str, optional
        File, key and line, for the message.

    Returns
    -------
    float
        In SI units.

    Raises
    ------
    InputError
        If the value is not a finite number of that kind.

    Notes
    -----
    ``"8 1/4 in"`` is read as 8.25 in. A decimal comma and thousands separators are refused, since one cannot
    be told from the other. ``gal`` is the US liquid gallon. Nothing is evaluated.
    """
    try:
        result = _read(value, kind)
    except _RefusedError as trouble:
        raise InputError(
            f"{field} must be {kind.what}, got {_quoted(value)}"
            + (f": {trouble.reason}" if trouble.reason else ""),
            place=place,
            mend=trouble.mend or f'write it like "{kind.example}"',
        ) from None
    return result


def show(value: float, kind: Kind, *, system: Literal["metric", "inch"] = "metric", digits: int = 3) -> str:
    """Write a number for a reader, rounded, in the unit of the trade that suits its size.

    Parameters
    ----------
    value : float
        In SI units.
    kind : Kind
        What it measures.
    system : str
        "metric" or "inch" (inches and cubic feet; what has no such unit stays metric).
    digits : int
        Significant digits. [-]

    Returns
    -------
    str
        ``"18.0 L"``, ``"0.636 cu ft"``; prices have two decimals and no unit.
    """
    if math.isnan(value):
        return "unknown"
    steps: tuple[tuple[str, float], ...] = kind.value.metric
    if system == "inch" and kind.value.inch:
        steps = kind.value.inch
    if math.isinf(value):
        number, unit = ("∞" if value > 0 else "−∞"), steps[-1][0]
    elif kind is Kind.PRICE:
        number, unit = f"{value:.2f}", ""
    elif kind is Kind.COUNT:
        number, unit = f"{value:.0f}", ""
    else:
        # chosen after rounding, so that 999.6 mm becomes 1.00 m and not 1000 mm
        unit = _step(steps, abs(float(f"{value:.{digits - 1}e}")))
        worth = _worth(unit)
        number = _rounded(value / float(worth.factor) - float(worth.offset), digits)
    gap = "" if unit in {"", "°"} else " "
    return f"{number}{gap}{unit}"


def write(value: float, kind: Kind) -> str:
    """Write a number for a file, so that :func:`parse` gives it back to the last bit.

    Parameters
    ----------
    value : float
        In SI units, finite.
    kind : Kind
        What it measures.

    Returns
    -------
    str
        The shortest decimal number with a unit that suits its size, in plain ASCII; the bare SI number where
        no unit gives the value back exactly.
    """
    plain = repr(float(value))
    if kind is Kind.COUNT and value == int(value):
        return str(int(value))
    if not math.isfinite(value) or not 1e-12 <= abs(value) < 1e12:
        return "0" if plain == "0.0" else plain
    unit = _spelled(_step(kind.value.metric, abs(value)))
    worth = _worth(unit)
    if unit and worth.factor.numerator < 10**12 and worth.factor.denominator < 10**12:
        factor = Decimal(worth.factor.numerator) / Decimal(worth.factor.denominator)
        offset = Decimal(worth.offset.numerator) / Decimal(worth.offset.denominator)
        text = f"{(Decimal(plain) / factor - offset).normalize():f} {unit}"
        if len(text) <= MOST_CHARACTERS and parse(text, kind, field="value") == value:
            return text
    return plain.removesuffix(".0")


def _worth(unit: str) -> Worth:
    unit = _spelled(unit)
    return unit_worth(unit) if unit else Worth(factor=Fraction(1), dimension=())


def _spelled(unit: str) -> str:
    """Plain ASCII for a unit that is shown with typographic signs."""
    unit = unit.translate(_SPELLINGS).replace("^", "")
    return {"°": "deg", "°C": "degC", "°F": "degF"}.get(unit, unit)


def _step(steps: tuple[tuple[str, float], ...], size: float) -> str:
    unit = steps[0][0]
    for name, least in steps:
        if size >= least:
            unit = name
    return unit


def _rounded(value: float, digits: int) -> str:
    if value == 0.0:
        return "0"
    text = f"{value:.{digits - 1}e}"
    return f"{Decimal(text):f}" if 1e-6 <= abs(float(text)) < 1e9 else text


class _RefusedError(Exception):
    """Why a text is no quantity of the kind asked for, and what would mend it."""

    def __init__(self, reason: str, mend: str = "") -> None:
        self.reason = reason
        self.mend = mend
        super().__init__(reason)


def _read(value: object, kind: Kind) -> float:
    if isinstance(value, str):
        result = _as_float(_parsed(value, kind))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        result = _as_float(value)
    else:
        raise _RefusedError("")
    if kind is Kind.TEMPERATURE and result < 0.0:
        raise _RefusedError("it is below absolute zero")
    if kind is Kind.COUNT and result != int(result):
        raise _RefusedError("")
    return result


def _parsed(value: str, kind: Kind) -> Fraction | float:
    """Read a text, exactly; a float only for the negative zero, which no fraction holds."""
    if len(value) > MOST_CHARACTERS:
        raise _RefusedError(f"longer than {MOST_CHARACTERS} characters")
    text = value.translate(_SPELLINGS).strip()
    if not text:
        raise _RefusedError("it is empty")
    strange = _ALLOWED.sub("", text)
    if strange:
        raise _RefusedError(_strange(strange[0]), "type it with plain Latin letters and digits")
    grouped = _GROUPED.match(text)
    if grouped and re.search(r"[,'_ ][0-9]", grouped[0]):
        raise _ungrouped(grouped[0], text[grouped.end() :])
    amount, rest = _amount(text)
    unit = rest.strip()
    if re.match(r"[0-9.,+]", unit):
        raise _RefusedError("it is not one number with one unit")
    if unit:
        worth = _unit(unit, kind)
        amount = (amount + worth.offset) * worth.factor
    return -0.0 if not amount and text.startswith("-") else amount


def _amount(text: str) -> tuple[Fraction, str]:
    """Split the number off, exactly."""
    mixed = _MIXED.match(text)
    if mixed:
        sign, whole, top, bottom = mixed.groups()
        if int(bottom) == 0:
            raise _RefusedError("a fraction cannot have 0 below the line")
        amount = int(whole or "0") + Fraction(int(top), int(bottom))
        return (-amount if sign == "-" else amount), text[mixed.end() :]
    number = _NUMBER.match(text)
    if number is None:
        raise _RefusedError("it does not begin with a number")
    if number[3] and (len(number[3]) > 5 or abs(int(number[3])) > 400):
        raise _RefusedError("it is outside the range of numbers")
    return Fraction(number[1] + number[2]), text[number.end() :]


def _unit(unit: str, kind: Kind) -> Worth:
    text = re.sub(r"(?<=[A-Za-z0-9)])[.\-](?=[A-Za-z])", "*", unit)  # N.s/m, N-s/m
    text = text.replace("''", '"')
    text = {'"': "in", "'": "ft", "°": "deg"}.get(text, text.replace("°", "deg"))
    if kind is Kind.TEMPERATURE:
        text = _TEMPERATURES.get(text, text)
    if kind is Kind.PRICE:
        raise _RefusedError("a price takes no unit and no currency sign", "leave the unit out")
    try:
        worth = unit_worth(text)
    except UnitError as trouble:
        raise _RefusedError(trouble.reason, _nearest(trouble.name, kind)) from None
    if worth.dimension != kind.dimension:
        raise _RefusedError(_other(worth.dimension, unit))
    return worth


def _as_float(size: Fraction | float) -> float:
    try:
        result = float(size)
    except OverflowError:
        result = math.inf
    if not math.isfinite(result) or (size and result == 0.0):
        raise _RefusedError(
            "it is not a finite number" if math.isnan(result) else "it is outside the range of numbers"
        )
    return result


def _quoted(value: object) -> str:
    """Repeat a value safely: short, one line, control characters spelled out."""
    if isinstance(value, int) and value.bit_length() > 200:  # Python refuses to spell out very long ones
        return "a whole number of very many digits"
    text = str(value)[: MOST_CHARACTERS + 1]
    if len(text) > MOST_CHARACTERS:
        text = text[:40] + "…"
    text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)
    return f'"{text}"' if isinstance(value, str) else text


def _strange(character: str) -> str:
    import unicodedata

    name = unicodedata.name(character, f"U+{ord(character):04X}")
    shown = f'"{character}" ' if character.isprintable() else ""
    return f"the character {shown}({name}) is not read in a number or unit"


def _ungrouped(number: str, rest: str) -> _RefusedError:
    """Word the refusal of a decimal comma or of thousands separators."""
    rest = f" {rest.strip()}" if rest.strip() else ""
    bare = re.sub(r"[,'_ ]", "", number)
    if number.count(",") != 1 or re.search(r",[0-9]*\.", number):
        return _RefusedError("it has thousands separators, which are not read", f'write "{bare}{rest}"')
    decimal = re.sub(r"[.'_ ]", "", number).replace(",", ".")
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}", number):
        return _RefusedError(
            "a comma may be a decimal comma or group thousands, so it is not read",
            f'write "{decimal}{rest}" or "{bare}{rest}"',
        )
    return _RefusedError(
        "it has a decimal comma, and numbers here take a decimal point", f'write "{decimal}{rest}"'
    )


def _nearest(name: str, kind: Kind) -> str:
    import difflib

    names = {known.lower(): known for known in reversed(known_names())}
    fitting = [low for low, known in names.items() if unit_worth(known).dimension == kind.dimension]
    close = [
        *difflib.get_close_matches(name.lower(), fitting, n=1, cutoff=0.6),
        *difflib.get_close_matches(name.lower(), names, n=1, cutoff=0.5),
    ]
    known = names[close[0]] if name and close else ""
    return f'the nearest known is "{known}"' if known else f'write it like "{kind.example}"'


def _other(dimension: Dimension, unit: str) -> str:
    for kind in Kind:
        if kind not in {Kind.COUNT, Kind.PRICE} and kind.dimension == dimension:
            return f'"{unit}" is the unit of {kind.what}'
    return f'"{unit}" is the unit of something else'
