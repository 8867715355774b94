"""Tables of the things that are bought: driver, passive, vent stock, sheet."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import model_validator

from boxwright.files.values import Amount, Count, Label, Prose, Table, Whole, fail
from boxwright.quantity import Kind

__all__ = [
    "Area",
    "CurveTable",
    "DriverCurves",
    "DriverTable",
    "Length",
    "Money",
    "PassiveCurves",
    "PassiveTable",
    "Ratio",
    "SheetTable",
    "VentStockTable",
]

Length = Annotated[float, Amount(Kind.LENGTH)]
LengthOrZero = Annotated[float, Amount(Kind.LENGTH, open_below=False)]
Travel = Annotated[float, Amount(Kind.LENGTH, least=-10.0, most=10.0)]
Area = Annotated[float, Amount(Kind.AREA)]
Volume = Annotated[float, Amount(Kind.VOLUME)]
Mass = Annotated[float, Amount(Kind.MASS)]
MassOrZero = Annotated[float, Amount(Kind.MASS, open_below=False)]
Frequency = Annotated[float, Amount(Kind.FREQUENCY)]
Resistance = Annotated[float, Amount(Kind.RESISTANCE)]
ResistanceOrZero = Annotated[float, Amount(Kind.RESISTANCE, open_below=False)]
InductanceOrZero = Annotated[float, Amount(Kind.INDUCTANCE, open_below=False)]
Power = Annotated[float, Amount(Kind.POWER)]
Ratio = Annotated[float, Amount(Kind.RATIO)]
RatioOrZero = Annotated[float, Amount(Kind.RATIO, open_below=False)]
Coefficient = Annotated[float, Amount(Kind.RATIO, least=-1e30, most=1e30)]
Money = Annotated[float, Amount(Kind.PRICE, open_below=False)]

_MOST_POINTS = 1000


class CurveTable(Table):
    """One large-signal curve: the ratio to the value at rest over travel in metres, positive outward."""

    polynomial: tuple[Coefficient, ...] = ()
    table: tuple[tuple[Travel, Ratio], ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Self:
        if bool(self.polynomial) == bool(self.table):
            fail("a curve must have either `polynomial` or `table`")
        if self.polynomial:
            if len(self.polynomial) > 20:
                fail(
                    f"polynomial must have at most 20 coefficients, got {len(self.polynomial)}",
                    key="polynomial",
                )
            if abs(self.polynomial[0] - 1.0) > 1e-3:
                fail(
                    f"polynomial must be a ratio of 1 at rest, so begin with 1.0, got {self.polynomial[0]:g}",
                    key="polynomial",
                    mend="divide every coefficient by the first",
                )
            return self
        if not 2 <= len(self.table) <= _MOST_POINTS:
            fail(f"table must have 2 to {_MOST_POINTS} rows, got {len(self.table)}", key="table")
        travels = [row[0] for row in self.table]
        for before, after in pairwise(travels):
            if after <= before:
                fail(
                    f"travel in table must rise from row to row, got {after:g} after {before:g} m",
                    key="table",
                )
        at_rest = [ratio for travel, ratio in self.table if travel == 0.0]
        if not at_rest or abs(at_rest[0] - 1.0) > 1e-3:
            fail(
                "table must have a row for travel 0 with ratio 1", key="table", mend="add the row [0.0, 1.0]"
            )
        return self


class DriverCurves(Table):
    """Large-signal curves of a driver."""

    bl: CurveTable | None = None
    kms: CurveTable | None = None
    le: CurveTable | None = None


class PassiveCurves(Table):
    """Large-signal curves of a passive."""

    kmp: CurveTable | None = None


class CoilTable(Table):
    """Inductive part of a voice coil."""

    le: InductanceOrZero | None = None
    k: RatioOrZero | None = None
    n: Annotated[float, Amount(Kind.RATIO, most=1.0, open_below=False)] | None = None
    l2: InductanceOrZero | None = None
    r2: ResistanceOrZero | None = None


class BodyTable(Table):
    """Outside of a driver or passive."""

    frame_diameter: Length | None = None
    cutout_diameter: Length | None = None
    depth: Length | None = None
    magnet_diameter: Length | None = None
    bolt_circle: Length | None = None
    bolts: Whole = 0
    displacement: Annotated[float, Amount(Kind.VOLUME, open_below=False)] | None = None
    weight: Mass | None = None


class DriverTable(BodyTable):
    """A driver by any sufficient part of its data sheet."""

    name: Label = ""
    re: Resistance | None = None
    bl: Annotated[float, Amount(Kind.FORCE_FACTOR)] | None = None
    mms: Mass | None = None
    cms: Annotated[float, Amount(Kind.COMPLIANCE)] | None = None
    rms: Annotated[float, Amount(Kind.MECHANICAL_RESISTANCE, open_below=False)] | None = None
    sd: Area | None = None
    diameter: Length | None = None
    fs: Frequency | None = None
    qms: Ratio | None = None
    qes: Ratio | None = None
    qts: Ratio | None = None
    vas: Volume | None = None
    eta0: Ratio | None = None
    xmax: Length | None = None
    xmech: Length | None = None
    pmax: Power | None = None
    le: InductanceOrZero | None = None
    coil_k: RatioOrZero | None = None
    coil_n: Annotated[float, Amount(Kind.RATIO, most=1.0, open_below=False)] | None = None
    coil_l2: InductanceOrZero | None = None
    coil_r2: ResistanceOrZero | None = None
    coil: CoilTable | None = None
    creep: Annotated[float, Amount(Kind.RATIO, most=1.0, open_below=False)] | None = None
    coils: Count | None = None
    coils_as: Literal["series", "parallel", "single"] | None = None
    curves: DriverCurves | None = None
    price: Money | None = None
    notes: Prose = ""

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.xmax is not None and self.xmech is not None and self.xmech < self.xmax:
            fail(f"xmech must be at least xmax ({self.xmax:g} m), got {self.xmech:g} m", key="xmech")
        for flat, key in (
            ("le", "le"),
            ("coil_k", "k"),
            ("coil_n", "n"),
            ("coil_l2", "l2"),
            ("coil_r2", "r2"),
        ):
            if self.coil and getattr(self, flat) is not None and getattr(self.coil, key) is not None:
                fail(f"{flat} must be given once, got it in [driver.coil] as well", key=flat)
        return self


class PassiveTable(BodyTable):
    """A passive by any sufficient part of its data sheet."""

    name: Label = ""
    mmp: Mass | None = None
    cmp: Annotated[float, Amount(Kind.COMPLIANCE)] | None = None
    rmp: Annotated[float, Amount(Kind.MECHANICAL_RESISTANCE, open_below=False)] | None = None
    sp: Area | None = None
    diameter: Length | None = None
    fp: Frequency | None = None
    qmp: Ratio | None = None
    vap: Volume | None = None
    xmax: Length | None = None
    xmech: Length | None = None
    added_mass_max: MassOrZero | None = None
    curves: PassiveCurves | None = None
    price: Money | None = None
    notes: Prose = ""

    @model_validator(mode="after")
    def _check_travel(self) -> Self:
        if self.xmax is not None and self.xmech is not None and self.xmech < self.xmax:
            fail(f"xmech must be at least xmax ({self.xmax:g} m), got {self.xmech:g} m", key="xmech")
        return self


class VentStockTable(Table):
    """A vent that can be bought or built."""

    name: Label = ""
    shape: Literal["round", "slot"] = "round"
    diameter: Length | None = None
    width: Length | None = None
    height: Length | None = None
    wall: LengthOrZero | None = None
    flare: LengthOrZero | None = None
    max_length: Length | None = None
    bend_price: Money | None = None
    price: Money | None = None
    price_per_metre: Money | None = None
    notes: Prose = ""

    @model_validator(mode="after")
    def _check(self) -> Self:
        check_section(self.shape, self.diameter, self.width, self.height, whole=self.shape == "round")
        return self


class SheetTable(Table):
    """A sheet good."""

    name: Label = ""
    length: Length
    width: Length
    thickness: Length
    nominal_thickness: Length | None = None
    density: Annotated[float, Amount(Kind.DENSITY)] | None = None
    youngs_modulus: Annotated[float, Amount(Kind.PRESSURE)] | None = None
    price: Money | None = None
    notes: Prose = ""


def check_section(
    shape: str, diameter: float | None, width: float | None, height: float | None, *, whole: bool = True
) -> None:
    """Require the sizes that a round or slot vent has (all of them, if ``whole``), and no others."""
    sizes = {"diameter": diameter, "width": width, "height": height}
    needed = ("diameter",) if shape == "round" else ("width", "height")
    for key, value in sizes.items():
        if key not in needed and value is not None:
            fail(
                f"{key} must be left out of a {shape} vent", key=key, mend='or set shape = "slot" or "round"'
            )
    for key in needed:
        if whole and sizes[key] is None:
            fail(f"a {shape} vent must have `{key}`", mend=f"add {key}")
