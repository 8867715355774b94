"""The kinds of value a key may hold, each with its requirement, as pydantic annotations."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, NoReturn

from pydantic import BaseModel, BeforeValidator, ConfigDict, GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from boxwright.errors import InputError
from boxwright.files.reading import shown
from boxwright.quantity import Kind, parse

__all__ = ["OURS", "Amount", "Count", "Degrees", "Label", "Prose", "Table", "Whole", "fail"]

OURS = "boxwright"
"""Type of the errors raised here, as pydantic reports them."""

_EXTREME = 1e12  # in SI no quantity of a loudspeaker comes near; products of a few such stay finite
_UNITS = {
    Kind.LENGTH: "m", Kind.AREA: "m²", Kind.VOLUME: "m³", Kind.MASS: "kg", Kind.FORCE_FACTOR: "T·m",
    Kind.COMPLIANCE: "m/N", Kind.MECHANICAL_RESISTANCE: "N·s/m", Kind.RESISTANCE: "Ω", Kind.INDUCTANCE: "H",
    Kind.FREQUENCY: "Hz", Kind.VOLTAGE: "V", Kind.CURRENT: "A", Kind.POWER: "W", Kind.TEMPERATURE: "K",
    Kind.PRESSURE: "Pa", Kind.DENSITY: "kg/m³", Kind.SPEED: "m/s", Kind.FLOW_RESISTIVITY: "Pa·s/m²",
    Kind.LEVEL: "dB",
}  # fmt: skip
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


def fail(message: str, *, mend: str = "", key: str = "") -> NoReturn:
    """Report a problem to pydantic, which adds where it is.

    Parameters
    ----------
    message : str
        Field, requirement and value received.
    mend : str
        What would make it acceptable.
    key : str
        The key that is to blame, when the check belongs to a whole table.
    """
    raise PydanticCustomError(OURS, "{message}", {"message": message, "mend": mend, "key": key})


class Table(BaseModel):
    """A table that knows all its keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


@dataclass(frozen=True, slots=True)
class Amount:
    """A physical quantity: a plain SI number or a string with a unit.

    Attributes
    ----------
    kind : Kind
        Its dimension.
    least, most : float
        Bounds, in SI.
    open_below : bool
        Whether ``least`` itself is refused.
    """

    kind: Kind
    least: float = 0.0
    most: float = _EXTREME
    open_below: bool = True

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Tell pydantic that this class does the reading."""
        del source, handler
        return core_schema.with_info_plain_validator_function(self.read)

    def read(self, value: object, info: ValidationInfo) -> float:
        """Turn what the file holds into an SI number, or say what is wrong with it."""
        field = info.field_name or "value"
        number = float(value) if type(value) is float and self.kind is not Kind.TEMPERATURE else None
        if number is None:
            number = self._parsed(value, field)
        if not math.isfinite(number):
            fail(f"{field} must be a finite number, got {number}")
        below = number <= self.least if self.open_below else number < self.least
        # A positive quantity that is next to nothing would overflow what is divided by it.
        tiny = self.open_below and self.least == 0.0 and number < 1 / _EXTREME
        if below or tiny or number > self.most:
            fail(f"{field} must be {self._requirement(number)}, got {shown(value)}")
        return number

    def _parsed(self, value: object, field: str) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float, str)):
            fail(f"{field} must be a number or a text with a unit, got {shown(value)}")
        if self.kind is Kind.TEMPERATURE and not isinstance(value, str) and value <= 150:
            fail(f"{field} must have a unit, got {shown(value)}", mend=f'write "{shown(value)} degC"')
        if isinstance(value, int):
            try:
                value = float(value)
            except OverflowError:
                fail(f"{field} must be a finite number, got {shown(value)}")
        try:
            return parse(value, self.kind, field=field)
        except InputError as error:
            fail(error.message, mend=error.mend)

    def _requirement(self, number: float) -> str:
        symbol = _UNITS.get(self.kind, "")
        suffix = f" {symbol}" if symbol else ""
        if number > self.most:
            return f"≤ {self.most:g}{suffix}"
        if self.open_below and number > 0.0:
            return f"≥ {max(self.least, 1 / _EXTREME):g}{suffix}"
        return f"{'>' if self.open_below else '≥'} {self.least:g}{suffix}"


def _text(value: object, info: ValidationInfo, most: int, lines: bool) -> str:
    field = info.field_name or "value"
    if not isinstance(value, str):
        fail(f"{field} must be a text, got {shown(value)}", mend="put it between quotes")
    if len(value) > most:
        fail(f"{field} must have at most {most} characters, got {len(value)}")
    odd = _CONTROL.search(value) or (None if lines else re.search(r"[\t\n]", value))
    if odd:
        fail(f"{field} must not contain control characters, got U+{ord(odd[0]):04X}")
    return value


def _label(value: object, info: ValidationInfo) -> str:
    return _text(value, info, 200, lines=False)


def _prose(value: object, info: ValidationInfo) -> str:
    return _text(value, info, 20_000, lines=True)


Label = Annotated[str, BeforeValidator(_label)]
Prose = Annotated[str, BeforeValidator(_prose)]


def _whole(value: object, info: ValidationInfo, least: int, most: int) -> int:
    field = info.field_name or "value"
    if isinstance(value, bool) or not isinstance(value, int):
        fail(f"{field} must be a whole number, got {shown(value)}")
    if not least <= value <= most:
        fail(f"{field} must be {least} to {most}, got {shown(value)}")
    return value


def _count(value: object, info: ValidationInfo) -> int:
    return _whole(value, info, 1, 64)


def _whole_small(value: object, info: ValidationInfo) -> int:
    return _whole(value, info, 0, 64)


Count = Annotated[int, BeforeValidator(_count)]
Whole = Annotated[int, BeforeValidator(_whole_small)]


def _degrees(value: object, info: ValidationInfo) -> float:
    """Read a phase: plain numbers are degrees, as measuring tables have them."""
    if isinstance(value, str):
        return float(f"{math.degrees(_RADIANS.read(value, info)):.12g}")
    return _DEGREES.read(value, info)


_RADIANS = Amount(Kind.ANGLE, least=-1e6, most=1e6)
_DEGREES = Amount(Kind.RATIO, least=-1e6, most=1e6)
Degrees = Annotated[float, BeforeValidator(_degrees)]
