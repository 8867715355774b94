"""The brief file."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, model_validator

from boxwright.brief import PassiveFacing
from boxwright.files.schema_parts import (
    DriverTable,
    Frequency,
    LengthOrZero,
    Mass,
    PassiveTable,
    Ratio,
    SheetTable,
    VentStockTable,
    Volume,
)
from boxwright.files.schema_shared import AirTable, BoxOutline, PlacementValue, SourceTable
from boxwright.files.values import Amount, Label, Prose, Table, Whole, fail
from boxwright.quantity import Kind

__all__ = ["BriefFile", "LimitsTable", "PartsTable", "SpaceTable", "TargetTable"]


def _listed(value: object) -> object:
    """Accept one word where a list of words is meant."""
    return [value] if isinstance(value, str) else value


Family = Literal["closed", "vented", "passive", "bandpass"]
Face = Literal["front", "back", "left", "right", "top", "bottom"]
Families = Annotated[tuple[Family, ...], BeforeValidator(_listed)]
Faces = Annotated[tuple[Face, ...], BeforeValidator(_listed)]
Patterns = Annotated[tuple[Label, ...], BeforeValidator(_listed)]


class SpaceTable(BoxOutline):
    """The envelope that the box has to stay in."""

    shape: Literal["box", "wedge", "profile", "volume"] = "box"
    net_volume: Volume | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        needed = {
            "box": {"width", "height", "depth"},
            "wedge": {"width", "height", "depth", "depth_top"},
            "profile": {"width", "profile"},
            "volume": {"net_volume"},
        }[self.shape]
        sizes = ("width", "height", "depth", "depth_top", "profile", "net_volume")
        for key in sizes:
            if key in needed and not getattr(self, key):
                fail(f"a space of shape {self.shape} must have `{key}` > 0", key=key, mend=f"add {key}")
            if key not in needed and key != "net_volume" and getattr(self, key):
                fail(f"{key} must be left out of a space of shape {self.shape}", key=key)
        return self


class TargetTable(Table):
    """What the box has to do."""

    reach: Frequency
    level: Annotated[float, Amount(Kind.LEVEL, most=200.0)]
    band_top: Frequency | None = None
    content_from: Frequency | None = None
    placement: PlacementValue | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        top = 100.0 if self.band_top is None else self.band_top
        if top <= self.reach:
            fail(f"band_top must be above reach ({self.reach:g} Hz), got {top:g} Hz", key="band_top")
        if self.content_from is not None and self.content_from > top:
            fail(
                f"content_from must be below band_top ({top:g} Hz), got {self.content_from:g} Hz",
                key="content_from",
            )
        return self


class BriefSourceTable(SourceTable):
    """Amplifier, cable and filters, and what the search may add."""

    protection: Literal["none", "given", "chosen"] | None = None

    @model_validator(mode="after")
    def _check_protection(self) -> Self:
        if self.protection == "none" and any(each.kind == "high-pass" for each in self.filter):
            fail(
                'protection must be "given" or "chosen" where the filters have a high-pass, got "none"',
                key="protection",
            )
        return self


class LimitsTable(Table):
    """What the box may cost, weigh and contain."""

    budget: Annotated[float, Amount(Kind.PRICE)] | None = None
    weight: Mass | None = None
    cones: Whole | None = None
    passives: Whole | None = None
    vents: Whole | None = None
    families: Families | None = None
    driver_faces: Faces | None = None
    passive_faces: Faces | None = None
    vent_faces: Faces | None = None
    passive_facing: PassiveFacing | None = None
    edge: LengthOrZero | None = None
    depth_clearance: LengthOrZero | None = None
    air_speed: Annotated[float, Amount(Kind.SPEED)] | None = None
    q_leak: Ratio | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.cones == 0:
            fail("cones must be 1 to 64, got 0", key="cones")
        if self.families == ():
            fail("families must name at least one box type", key="families")
        return self


class PartsTable(Table):
    """Which parts of the store may be used."""

    drivers: Patterns | None = None
    passives: Patterns | None = None
    vents: Patterns | None = None
    sheet: Label | None = None


class BriefFile(Table):
    """A brief file."""

    format: Literal["boxwright-brief/1"]
    name: Label = ""
    notes: Prose = ""
    air: AirTable | None = None
    space: SpaceTable
    target: TargetTable
    source: BriefSourceTable | None = None
    limits: LimitsTable | None = None
    parts: PartsTable | None = None
    driver: tuple[DriverTable, ...] = ()
    passive: tuple[PassiveTable, ...] = ()
    vent: tuple[VentStockTable, ...] = ()
    sheet: tuple[SheetTable, ...] = ()
