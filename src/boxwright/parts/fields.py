"""The kinds of parts and their fields: the one table that the store, its tables and its files go by."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any

from boxwright.air import standard_air
from boxwright.errors import InputError
from boxwright.parts import forms
from boxwright.parts.curve import Curves
from boxwright.parts.driver import Body, Coil, Driver
from boxwright.parts.forms import Curved, Figure, Form, OneOf, Value, Words
from boxwright.parts.passive import Passive
from boxwright.parts.plausible import check_driver, check_passive
from boxwright.parts.stock import Amplifier, Sheet, VentStock
from boxwright.quantity import Kind

__all__ = ["KINDS", "Column", "Derived", "Part", "PartKind", "kind_named", "kind_of"]

Part = Driver | Passive | VentStock | Amplifier | Sheet
"""Anything the store keeps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One field of a part.

    Attributes
    ----------
    name : str
        As in tables and files: the symbol of the papers where there is one.
    path : tuple of str
        Attributes from the part down to the value: ``("body", "depth")``.
    form : Form
        How it is read, checked and written.
    required : bool
        Whether a part cannot be without it.
    default : Value or None
        What the part holds when nothing is stated.
    """

    name: str
    path: tuple[str, ...]
    form: Form
    required: bool = False
    default: Value | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """A value that follows from the others: a part can be found by it.

    Attributes
    ----------
    of : callable
        From the part to the value in SI; None where the part does not state enough.
    """

    name: str
    kind: Kind
    of: Callable[[Any], float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartKind:
    """A kind of part.

    Attributes
    ----------
    name, plural : str
        In files, tables and messages.
    make : type
        Its dataclass.
    columns : tuple of Column
        Everything that is stored.
    derived : tuple of Derived
        What follows from it.
    identity : tuple of str
        Two parts that agree in these are one part under two names; the most telling first.
    rule : callable
        Raises InputError for a part whose values do not go together.
    """

    name: str
    plural: str
    make: type[Part]
    columns: tuple[Column, ...]
    derived: tuple[Derived, ...] = ()
    identity: tuple[str, ...] = ()
    rule: Callable[[Any], None] = lambda _: None
    column: Mapping[str, Column] = field(init=False)

    def __post_init__(self) -> None:
        """Let the columns be looked up by name."""
        object.__setattr__(self, "column", {column.name: column for column in self.columns})

    @property
    def figures(self) -> tuple[str, ...]:
        """Names of everything a part of this kind can be filtered by."""
        stored = (column.name for column in self.columns if isinstance(column.form, Figure))
        return (*stored, *(derived.name for derived in self.derived))

    def values(self, part: Part) -> dict[str, Value]:
        """Take a part apart: what it states, by column, in SI; what is left at its default is left out.

        Raises
        ------
        InputError
            If a value cannot be kept: not finite, below its bound, an unknown word.
        """
        taken: dict[str, Value] = {}
        for column in self.columns:
            held: Any = part
            for attribute in column.path:
                held = getattr(held, attribute)
            if column.required or (held is not None and held != column.default):
                taken[column.name] = column.form.checked(held, column.name)
        self.rule(part)
        return taken

    def build(self, values: Mapping[str, Value]) -> Part:
        """Put a part together from its values by column, in SI: the reverse of :meth:`values`.

        Raises
        ------
        InputError
            If a required value is missing or one cannot be kept.
        """
        own: dict[str, Any] = {}
        nested: dict[str, dict[str, Value]] = {}
        for column in self.columns:
            value = values.get(column.name)
            if value is None:
                if column.required:
                    raise InputError(f"{column.name} must be given", mend=f"state it for this {self.name}")
                continue
            place = own if len(column.path) == 1 else nested.setdefault(column.path[0], {})
            place[column.path[-1]] = column.form.checked(value, column.name)
        for name, inner in nested.items():
            own[name] = _NESTED[name](**inner)
        part = self.make(**own)
        self.rule(part)
        return part

    def measures(self, part: Part, values: Mapping[str, Value]) -> dict[str, float]:
        """List every number a part can be found by, stored and derived, in SI.

        Raises
        ------
        InputError
            If a derived value is out of the range of numbers, as only absurd parts have it.
        """
        found = {name: float(value) for name, value in values.items() if isinstance(value, int | float)}
        for derived in self.derived:
            try:
                value = derived.of(part)
            except ArithmeticError as error:
                raise InputError(
                    f"{derived.name} must be within the range of numbers, got values that do not allow one",
                    mend="check the units of the others",
                ) from error
            if value is not None and not math.isnan(value):
                found[derived.name] = value
        return found

    def check(self, part: Part) -> None:
        """Raise InputError if the part cannot be kept."""
        self.measures(part, self.values(part))


_NESTED: Mapping[str, Callable[..., Any]] = {"coil": Coil, "body": Body, "curves": Curves}


def _column(make: type, path: str, form: Form, *, name: str = "", required: bool = False) -> Column:
    """Describe a field; its default is read from the dataclass, so that it is stated once."""
    parts = tuple(path.split("."))
    owner: Any = make if len(parts) == 1 else _NESTED[parts[0]]
    default = next(f.default for f in fields(owner) if f.name == parts[-1])
    return Column(
        name=name or parts[-1],
        path=parts,
        form=form,
        required=required,
        default=None if default is MISSING else default,
    )


def _body(make: type) -> tuple[Column, ...]:
    length = Figure(Kind.LENGTH, above_zero=True)
    return (
        *(
            _column(make, f"body.{name}", length)
            for name in ("frame_diameter", "cutout_diameter", "depth", "magnet_diameter", "bolt_circle")
        ),
        _column(make, "body.bolts", Figure(Kind.COUNT)),
        _column(make, "body.displacement", Figure(Kind.VOLUME)),
        _column(make, "body.weight", Figure(Kind.MASS, above_zero=True)),
    )


def _common(make: type, **required: Figure) -> tuple[Column, ...]:
    name = _column(make, "name", Words(forms.LONGEST_NAME, lines=False), required=True)
    return (name, *(_column(make, path, form, required=True) for path, form in required.items()))


def _ending(make: type) -> tuple[Column, ...]:
    return (
        _column(make, "price", Figure(Kind.PRICE)),
        _column(make, "notes", Words(forms.LONGEST_TEXT, lines=True)),
    )


def _above(kind: Kind) -> Figure:
    return Figure(kind, above_zero=True)


def _travel_volume(area: float, travel: float | None) -> float | None:
    return None if travel is None else area * travel


DRIVER = PartKind(
    name="driver",
    plural="drivers",
    make=Driver,
    columns=(
        *_common(
            Driver,
            re=_above(Kind.RESISTANCE),
            bl=_above(Kind.FORCE_FACTOR),
            mms=_above(Kind.MASS),
            cms=_above(Kind.COMPLIANCE),
            rms=Figure(Kind.MECHANICAL_RESISTANCE),
            sd=_above(Kind.AREA),
        ),
        _column(Driver, "coil.le", Figure(Kind.INDUCTANCE)),
        _column(Driver, "coil.k", Figure(Kind.RATIO), name="coil_k"),
        _column(Driver, "coil.n", Figure(Kind.RATIO, most=1.0), name="coil_n"),
        _column(Driver, "coil.l2", Figure(Kind.INDUCTANCE), name="coil_l2"),
        _column(Driver, "coil.r2", Figure(Kind.RESISTANCE), name="coil_r2"),
        _column(Driver, "creep", Figure(Kind.RATIO, most=1.0)),
        _column(Driver, "xmax", _above(Kind.LENGTH)),
        _column(Driver, "xmech", _above(Kind.LENGTH)),
        _column(Driver, "pmax", _above(Kind.POWER)),
        _column(Driver, "coils", _above(Kind.COUNT)),
        _column(Driver, "coils_as", OneOf(("series", "parallel", "single"))),
        *_body(Driver),
        _column(Driver, "curves.bl", Curved(), name="bl_curve"),
        _column(Driver, "curves.kms", Curved(), name="kms_curve"),
        _column(Driver, "curves.le", Curved(), name="le_curve"),
        *_ending(Driver),
    ),
    derived=(
        Derived(name="fs", kind=Kind.FREQUENCY, of=lambda d: d.fs),
        Derived(name="qms", kind=Kind.RATIO, of=lambda d: d.qms),
        Derived(name="qes", kind=Kind.RATIO, of=lambda d: d.qes),
        Derived(name="qts", kind=Kind.RATIO, of=lambda d: d.qts),
        Derived(name="vas", kind=Kind.VOLUME, of=lambda d: d.vas(standard_air())),
        Derived(name="eta0", kind=Kind.RATIO, of=lambda d: d.eta0(standard_air())),
        Derived(name="vd", kind=Kind.VOLUME, of=lambda d: _travel_volume(d.sd, d.xmax)),
    ),
    rule=check_driver,
    identity=("mms", "cms", "bl", "rms", "re", "sd"),
)

PASSIVE = PartKind(
    name="passive",
    plural="passives",
    make=Passive,
    columns=(
        *_common(
            Passive,
            mmp=_above(Kind.MASS),
            cmp=_above(Kind.COMPLIANCE),
            rmp=Figure(Kind.MECHANICAL_RESISTANCE),
            sp=_above(Kind.AREA),
        ),
        _column(Passive, "xmax", _above(Kind.LENGTH)),
        _column(Passive, "xmech", _above(Kind.LENGTH)),
        _column(Passive, "added_mass_max", Figure(Kind.MASS)),
        *_body(Passive),
        _column(Passive, "curves.kmp", Curved(), name="kmp_curve"),
        *_ending(Passive),
    ),
    derived=(
        Derived(name="fp", kind=Kind.FREQUENCY, of=lambda p: p.fp),
        Derived(name="qmp", kind=Kind.RATIO, of=lambda p: p.qmp),
        Derived(name="vap", kind=Kind.VOLUME, of=lambda p: p.vap(standard_air())),
        Derived(name="vd", kind=Kind.VOLUME, of=lambda p: _travel_volume(p.sp, p.xmax)),
    ),
    rule=check_passive,
    identity=("mmp", "cmp", "rmp", "sp"),
)


def _vent_area(vent: VentStock) -> float | None:
    if vent.shape == "round":
        return None if vent.diameter is None else math.pi / 4.0 * vent.diameter**2
    return None if vent.width is None or vent.height is None else vent.width * vent.height


def _vent_has_a_size(vent: VentStock) -> None:
    """Demand a tube's diameter; a slot's width and height may be left for the search to choose."""
    if vent.shape == "round" and vent.diameter is None:
        raise InputError("diameter must be given for a round vent", mend="state its inner diameter")
    if vent.shape == "slot" and vent.diameter is not None:
        raise InputError("diameter must be left out for a slot", mend="state width and height")


VENT = PartKind(
    name="vent",
    plural="vents",
    make=VentStock,
    columns=(
        *_common(VentStock),
        _column(VentStock, "shape", OneOf(("round", "slot"))),
        _column(VentStock, "diameter", _above(Kind.LENGTH)),
        _column(VentStock, "width", _above(Kind.LENGTH)),
        _column(VentStock, "height", _above(Kind.LENGTH)),
        _column(VentStock, "wall", Figure(Kind.LENGTH)),
        _column(VentStock, "flare", Figure(Kind.LENGTH)),
        _column(VentStock, "max_length", _above(Kind.LENGTH)),
        _column(VentStock, "bend_price", Figure(Kind.PRICE)),
        _column(VentStock, "price_per_metre", Figure(Kind.PRICE)),
        *_ending(VentStock),
    ),
    derived=(Derived(name="area", kind=Kind.AREA, of=_vent_area),),
    identity=("shape", "diameter", "width", "height", "wall", "flare", "max_length", "bend_price"),
    rule=_vent_has_a_size,
)

AMPLIFIER = PartKind(
    name="amplifier",
    plural="amplifiers",
    make=Amplifier,
    columns=(
        *_common(Amplifier, power=_above(Kind.POWER), load=_above(Kind.RESISTANCE)),
        _column(Amplifier, "max_voltage", _above(Kind.VOLTAGE)),
        _column(Amplifier, "max_current", _above(Kind.CURRENT)),
        _column(Amplifier, "output_resistance", Figure(Kind.RESISTANCE)),
        _column(Amplifier, "weight", _above(Kind.MASS)),
        *_ending(Amplifier),
    ),
    identity=("power", "load", "max_voltage", "max_current", "output_resistance", "weight", "price"),
)

SHEET = PartKind(
    name="sheet",
    plural="sheets",
    make=Sheet,
    columns=(
        *_common(Sheet, length=_above(Kind.LENGTH), width=_above(Kind.LENGTH), thickness=_above(Kind.LENGTH)),
        _column(Sheet, "nominal_thickness", _above(Kind.LENGTH)),
        _column(Sheet, "density", _above(Kind.DENSITY)),
        _column(Sheet, "youngs_modulus", _above(Kind.PRESSURE)),
        *_ending(Sheet),
    ),
    identity=("length", "width", "thickness", "density", "youngs_modulus", "price"),
)

KINDS: Mapping[str, PartKind] = {kind.name: kind for kind in (DRIVER, PASSIVE, VENT, AMPLIFIER, SHEET)}
"""Every kind of part by its name."""


def kind_named(name: str) -> PartKind:
    """Look a kind of part up by its name, singular or plural.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    wanted = name.strip().lower()
    for kind in KINDS.values():
        if wanted in {kind.name, kind.plural}:
            return kind
    raise InputError(
        f"kind of part must be one of {', '.join(KINDS)}, got {forms.quoted(name)}",
        mend="name one of them",
    )


def kind_of(part: Part) -> PartKind:
    """Kind of a part.

    Raises
    ------
    InputError
        If it is nothing the store keeps.
    """
    kind = _BY_TYPE.get(type(part))
    if kind is None:
        raise InputError(f"part must be one of {', '.join(KINDS)}, got a {type(part).__name__}")
    return kind


_BY_TYPE: Mapping[type, PartKind] = {kind.make: kind for kind in KINDS.values()}
