"""Tables that design and brief share: air, source, placement, the outline of a box."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, model_validator

from boxwright.files.schema_parts import Frequency, Length, LengthOrZero, Ratio, ResistanceOrZero
from boxwright.files.values import Amount, Count, Degrees, Table, fail
from boxwright.quantity import Kind

__all__ = [
    "AirTable",
    "BoxOutline",
    "Facing",
    "FilterTable",
    "PlacementTable",
    "PlacementValue",
    "SourceTable",
]

Facing = Literal["sideways", "up", "down"]
Level = Annotated[float, Amount(Kind.LEVEL, least=-500.0, most=500.0)]
Share = Annotated[float, Amount(Kind.RATIO, most=1.0, open_below=False)]
Coordinate = Annotated[float, Amount(Kind.LENGTH, least=-1000.0)]


_STATE = ("altitude", "humidity")
_OUTRIGHT = ("viscosity", "gamma", "prandtl")


class AirTable(Table):
    """The medium, by its state or outright."""

    temperature: Annotated[float, Amount(Kind.TEMPERATURE, least=150.0, most=400.0)] | None = None
    pressure: Annotated[float, Amount(Kind.PRESSURE)] | None = None
    altitude: Annotated[float, Amount(Kind.LENGTH, least=-2000.0, most=11000.0)] | None = None
    humidity: Share | None = None
    density: Annotated[float, Amount(Kind.DENSITY, least=0.01, most=100.0)] | None = None
    speed_of_sound: Annotated[float, Amount(Kind.SPEED, least=10.0, most=10_000.0)] | None = None
    viscosity: Ratio | None = None
    gamma: Annotated[float, Amount(Kind.RATIO, least=1.0, most=2.0)] | None = None
    prandtl: Ratio | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.pressure is not None and self.altitude is not None:
            fail("pressure and altitude say the same: give one", key="altitude")
        outright = self.density is not None
        if outright != (self.speed_of_sound is not None):
            fail("density and speed_of_sound must be given together")
        for key in _STATE if outright else _OUTRIGHT:
            if getattr(self, key) is not None:
                where = (
                    "where density and speed_of_sound are given" if outright else "unless density is given"
                )
                fail(f"{key} must be left out {where}", key=key)
        return self


class FilterTable(Table):
    """One filter before the amplifier."""

    kind: Literal["high-pass", "low-pass", "low-shelf", "high-shelf", "peak"]
    family: Literal["butterworth", "linkwitz-riley", "bessel", "chebyshev"] | None = None
    order: Count | None = None
    frequency: Frequency
    q: Ratio | None = None
    gain: Annotated[float, Amount(Kind.LEVEL, least=-60.0, most=60.0)] | None = None
    ripple: Annotated[float, Amount(Kind.LEVEL, most=20.0)] | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        is_pass = self.kind.endswith("pass")
        for key in ("q", "gain") if is_pass else ("family", "order", "ripple"):
            if getattr(self, key) is not None:
                fail(f"{key} must be left out of a {self.kind} filter", key=key)
        if self.ripple is not None and self.family != "chebyshev":
            fail("ripple must be left out unless family is chebyshev", key="ripple")
        if self.order is not None and self.order > 12:
            fail(f"order must be 1 to 12, got {self.order}", key="order")
        if self.family == "linkwitz-riley" and (self.order or 2) % 2:
            fail(f"order must be even for linkwitz-riley, got {self.order}", key="order")
        if not is_pass and self.gain is None:
            fail(f"a {self.kind} filter must have `gain`", mend="add gain")
        return self


class SourceTable(Table):
    """Amplifier, cable and filters."""

    voltage: Annotated[float, Amount(Kind.VOLTAGE)] | None = None
    max_voltage: Annotated[float, Amount(Kind.VOLTAGE)] | None = None
    max_current: Annotated[float, Amount(Kind.CURRENT)] | None = None
    max_power: Annotated[float, Amount(Kind.POWER)] | None = None
    load: Annotated[float, Amount(Kind.RESISTANCE)] | None = None
    series_resistance: ResistanceOrZero | None = None
    filter: tuple[FilterTable, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.max_power is not None and self.load is None:
            fail(
                "max_power must come with `load`, the load it is rated for", key="max_power", mend="add load"
            )
        if len(self.filter) > 32:
            fail(f"filter must be at most 32 tables, got {len(self.filter)}", key="filter")
        return self


Point = tuple[LengthOrZero, LengthOrZero, LengthOrZero]


class RoomTable(Table):
    """A rectangular room or cabin."""

    size: tuple[Length, Length, Length]
    source: Point
    listener: Point
    damping: Annotated[float, Amount(Kind.RATIO, most=1.0)] | None = None
    leak_frequency: Annotated[float, Amount(Kind.FREQUENCY, open_below=False)] | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        for key in ("source", "listener"):
            for axis, (at, size) in enumerate(zip(getattr(self, key), self.size, strict=True)):
                if at > size:
                    axis_name = ("length", "width", "height")[axis]
                    fail(
                        f"{key} must be inside the room, got {at:g} m in a {axis_name} of {size:g} m", key=key
                    )
        return self


class TransferFields(Table):
    """A measured transfer."""

    frequency: tuple[Frequency, ...]
    level: tuple[Level, ...]
    phase: tuple[Degrees, ...] | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        points = len(self.frequency)
        if not 2 <= points <= 20_000:
            fail(f"frequency must have 2 to 20000 values, got {points}", key="frequency")
        for key in ("level", "phase"):
            values = getattr(self, key)
            if values is not None and len(values) != points:
                fail(f"{key} must have as many values as frequency ({points}), got {len(values)}", key=key)
        for before, after in pairwise(self.frequency):
            if after <= before:
                fail(
                    f"frequency must rise from value to value, got {after:g} after {before:g} Hz",
                    key="frequency",
                )
        return self


class PlacementTable(Table):
    """Where the box plays and where it is heard."""

    space: Literal["free", "half", "quarter", "eighth"] | None = None
    distance: Length | None = None
    room: RoomTable | None = None
    table: TransferFields | None = None


def _placement(value: object) -> object:
    return {"space": value} if isinstance(value, str) else value


PlacementValue = Annotated[PlacementTable, BeforeValidator(_placement)]


class BoxOutline(Table):
    """Outer sizes of a box."""

    width: LengthOrZero | None = None
    height: LengthOrZero | None = None
    depth: LengthOrZero | None = None
    depth_top: LengthOrZero | None = None
    profile: tuple[tuple[Coordinate, Coordinate], ...] = ()

    @model_validator(mode="after")
    def _check_profile(self) -> Self:
        if not self.profile:
            return self
        if not 3 <= len(self.profile) <= 200:
            fail(f"profile must have 3 to 200 corners, got {len(self.profile)}", key="profile")
        from shapely import Polygon

        outline = Polygon(self.profile)
        if not outline.is_valid or outline.area <= 0.0:
            fail(
                "profile must be an outline that encloses an area and does not cross itself",
                key="profile",
                mend="list the corners in order around it",
            )
        return self
