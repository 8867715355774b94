"""The design file."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Discriminator, Tag, model_validator

from boxwright.files.schema_parts import (
    Area,
    DriverTable,
    Length,
    LengthOrZero,
    MassOrZero,
    Money,
    PassiveTable,
    Ratio,
    Volume,
    check_section,
)
from boxwright.files.schema_shared import AirTable, BoxOutline, Facing, PlacementValue, Share, SourceTable
from boxwright.files.values import Amount, Count, Label, Prose, Table, Whole, fail
from boxwright.quantity import Kind

__all__ = [
    "BoxTable",
    "ChamberTable",
    "DesignDriverTable",
    "DesignFile",
    "PassiveOpeningTable",
    "SegmentTable",
    "VentOpeningTable",
]


class SegmentTable(Table):
    """A piece of a line."""

    length: Length
    area: Area | None = None
    area_start: Area | None = None
    area_end: Area | None = None
    diameter: Length | None = None
    diameter_start: Length | None = None
    diameter_end: Length | None = None
    flow_resistivity: Annotated[float, Amount(Kind.FLOW_RESISTIVITY, open_below=False)] | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        ways = ({"area"}, {"area_start", "area_end"}, {"diameter"}, {"diameter_start", "diameter_end"})
        if self.model_fields_set - {"length", "flow_resistivity"} not in ways:
            fail(
                "a segment must have its section once",
                mend="give area, area_start and area_end, diameter, or diameter_start and diameter_end",
            )
        return self


class ChamberTable(Table):
    """A chamber, or a line when it has segments."""

    name: Label = ""
    volume: Volume | None = None
    q_leak: Ratio | None = None
    q_absorption: Ratio | None = None
    fill: Share | None = None
    segment: tuple[SegmentTable, ...] = ()
    end: Literal["closed", "open"] | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if not self.segment and self.volume is None:
            fail("a chamber must have `volume`", mend='add volume, for example volume = "18 L"')
        if self.end is not None and not self.segment:
            fail("end must be left out of a chamber without segments", key="end")
        if len(self.segment) > 200:
            fail(f"segment must be at most 200 tables, got {len(self.segment)}", key="segment")
        return self


def _ends(value: object) -> object:
    """Accept "flanged-free", "flanged+free", "flanged, free", "both flanged" or a list of two."""
    if isinstance(value, str):
        words = value.lower().replace("+", " ").replace("-", " ").replace(",", " ").split()
        if len(words) == 2 and words[0] == "both":
            words = [words[1]] * 2
        value = words
    if (
        not isinstance(value, list)
        or len(value) != 2
        or any(word not in ("flanged", "free") for word in value)
    ):
        fail("ends must be the outer and the inner end, each flanged or free", mend='write "flanged-free"')
    return value


Ends = Annotated[tuple[Literal["flanged", "free"], Literal["flanged", "free"]], BeforeValidator(_ends)]


class PassiveOpeningTable(PassiveTable):
    """Equal passives in an opening."""

    kind: Literal["passive"]
    chamber: Label = "rear"
    to: Label = "outside"
    count: Count = 1
    added_mass: MassOrZero | None = None
    facing: Facing | None = None


class VentOpeningTable(Table):
    """Equal vents in an opening."""

    kind: Literal["vent"]
    chamber: Label = "rear"
    to: Label = "outside"
    count: Count = 1
    shape: Literal["round", "slot"] = "round"
    diameter: Length | None = None
    width: Length | None = None
    height: Length | None = None
    length: Length
    ends: Ends | None = None
    walls: Whole | None = None
    flare: LengthOrZero | None = None
    max_air_speed: Annotated[float, Amount(Kind.SPEED)] | None = None
    price: Money | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        check_section(self.shape, self.diameter, self.width, self.height)
        if self.walls and self.shape == "round":
            fail(f"walls must be 0 for a round vent, got {self.walls}", key="walls")
        if self.walls and self.walls > 3:
            fail(f"walls must be 0 to 3, got {self.walls}", key="walls")
        return self


def _opening_kind(value: Any) -> str:
    kind = value.get("kind") if isinstance(value, dict) else None
    return kind if isinstance(kind, str) else ""


OpeningTable = Annotated[
    Annotated[PassiveOpeningTable, Tag("passive")] | Annotated[VentOpeningTable, Tag("vent")],
    Discriminator(_opening_kind),
]


class BoxTable(BoxOutline):
    """The box around the air."""

    shape: Literal["box", "wedge", "profile"] | None = None
    wall: Length | None = None
    sheet: Label = ""
    braces: Whole | None = None


class DesignDriverTable(DriverTable):
    """A driver and how several of it work as one."""

    count: Count | None = None
    wiring: Label | None = None
    coil_wiring: Literal["series", "parallel", "single"] | None = None
    mounting: Literal["side-by-side", "push-push", "face-to-face"] | None = None
    facing: Facing | None = None


class DesignFile(Table):
    """A design file."""

    format: Literal["boxwright-design/1"]
    name: Label = ""
    notes: Prose = ""
    air: AirTable | None = None
    source: SourceTable | None = None
    driver: DesignDriverTable
    rear: ChamberTable | None = None
    front: ChamberTable | None = None
    chamber: tuple[ChamberTable, ...] = ()
    opening: tuple[OpeningTable, ...] = ()
    placement: PlacementValue | None = None
    box: BoxTable | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        for key, most in (("chamber", 16), ("opening", 64)):
            if len(getattr(self, key)) > most:
                fail(f"{key} must be at most {most} tables, got {len(getattr(self, key))}", key=key)
        return self
