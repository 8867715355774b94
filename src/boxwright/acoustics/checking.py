"""What a design must keep before anything is computed with it; files keep it already, a program may not."""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Any, TypeGuard, get_args, get_type_hints

import numpy as np

from boxwright.design import Arrangement, Chamber, Design, Facing, PassiveOpening, VentOpening
from boxwright.errors import InputError
from boxwright.parts import Driver, Passive

__all__ = ["check_design", "check_driver", "check_passive", "check_voltage", "is_number", "one_of"]

# In SI no quantity of a loudspeaker comes near; products of a few such stay finite.
EXTREME = 1e12
MOST_OPENINGS = 64

_DRIVER = {"re": "Ω", "bl": "T·m", "mms": "kg", "cms": "m/N", "sd": "m²"}
_PASSIVE = {"mmp": "kg", "cmp": "m/N", "sp": "m²"}
_TRAVELS = {"xmax": "m", "xmech": "m"}
_AIR = {"density": "kg/m³", "speed_of_sound": "m/s", "viscosity": "Pa·s", "gamma": "", "prandtl": ""}
_LIMITS = {"max_voltage": "V", "max_current": "A", "max_power": "W", "load": "Ω"}
_MOUNTINGS = get_args(get_type_hints(Arrangement)["mounting"])
_ENDS = get_args(get_type_hints(Chamber)["line_end"])
_FACINGS = get_args(Facing)


def check_design(design: object) -> None:
    """Refuse a design that no box can have.

    Parameters
    ----------
    design : Design

    Raises
    ------
    InputError
        For the first value that is no number or out of its range, or a chamber that is not there.
    """
    if not isinstance(design, Design):
        raise InputError(
            f"design must be a Design, got a {type(design).__name__}",
            mend="load_design reads one from a file",
        )
    check_driver(design.driver, "the driver")
    _positive(design.air, "the air", _AIR)
    _positive(design.source, "the source", {"voltage": "V"})
    _positive(design.source, "the source", _LIMITS, optional=True)
    _at_least_zero(design.source.series_resistance, "series_resistance of the source", "Ω")
    one_of(design.arrangement.mounting, "mounting of the drivers", _MOUNTINGS)
    one_of(design.arrangement.facing, "facing of the drivers", _FACINGS)
    for chamber, name in (
        (design.rear, "rear"),
        (design.front, "front"),
        *((each, each.name) for each in design.chambers),
    ):
        if chamber is not None:
            _check_chamber(chamber, f"the {name} chamber")
    names = {name for name in ("rear", "front") if getattr(design, name) is not None}
    for chamber in design.chambers:
        if chamber.name in names or chamber.name in {"", "outside", "rear", "front"}:
            raise InputError(f'name of a further chamber must be its own, got "{chamber.name[:60]}"')
        names.add(chamber.name)
    for opening in design.openings:
        _check_opening(opening, names)


def check_driver(driver: Driver, owner: str) -> None:
    """Refuse a driver with a small-signal value or a limit out of its range; ``owner`` is what to call it."""
    _positive(driver, owner, _DRIVER)
    _positive(driver, owner, {**_TRAVELS, "pmax": "W"}, optional=True)
    for name, unit in (("rms", "N·s/m"), ("creep", "")):
        _at_least_zero(getattr(driver, name), f"{name} of {owner}", unit)


def check_passive(passive: Passive, owner: str) -> None:
    """Refuse a passive likewise."""
    _positive(passive, owner, _PASSIVE)
    _positive(passive, owner, _TRAVELS, optional=True)
    _at_least_zero(passive.rmp, f"rmp of {owner}", "N·s/m")


def check_voltage(voltage: object) -> None:
    """Refuse a source voltage that is no number, not above zero or far beyond any use.

    Raises
    ------
    InputError
        With the value.
    """
    if not is_number(voltage):
        raise InputError(f"voltage must be a number of V, got {_shown(voltage)}")
    if not 0.0 < voltage < math.inf:
        raise InputError(f"voltage must be > 0 V, got {voltage:g}")
    if not 1.0 / EXTREME <= voltage <= EXTREME:
        raise InputError(f"voltage must lie between {1.0 / EXTREME:g} and {EXTREME:g} V, got {voltage:g}")


def _check_chamber(chamber: Chamber, owner: str) -> None:
    _positive(chamber, owner, {"volume": "m³"})
    for name in ("q_leak", "q_absorption"):
        q = getattr(chamber, name)
        if q is not None and q != math.inf:  # infinite: no loss
            _positive(chamber, owner, {name: ""})
    if not (is_number(chamber.fill) and 0.0 <= chamber.fill <= 1.0):
        raise InputError(f"fill of {owner} must be from 0 to 1, got {_shown(chamber.fill)}")
    one_of(chamber.line_end, f"line_end of {owner}", _ENDS)
    for segment in chamber.segments:
        _positive(segment, f"a segment of {owner}", {"length": "m", "area_start": "m²", "area_end": "m²"})
        _at_least_zero(segment.flow_resistivity, f"flow_resistivity of a segment of {owner}", "Pa·s/m²")


def _check_opening(opening: PassiveOpening | VentOpening, names: Collection[str]) -> None:
    what = "passives" if isinstance(opening, PassiveOpening) else "vents"
    if not isinstance(opening.count, int) or not 1 <= opening.count <= MOST_OPENINGS:
        raise InputError(
            f"count of the {what} must be a whole number from 1 to {MOST_OPENINGS}, got {_shown(opening.count)}"
        )
    one_of(opening.chamber, f"chamber of the {what}", sorted(names))
    one_of(opening.to, f"to of the {what}", ("outside", *sorted(set(names) - {opening.chamber})))
    if isinstance(opening, PassiveOpening):
        check_passive(opening.passive, "the passive")
        _at_least_zero(opening.added_mass, "added_mass of the passives", "kg")
        one_of(opening.facing, "facing of the passives", _FACINGS)
    else:
        one_of(opening.shape, "shape of the vents", ("round", "slot"))
        sizes = {"diameter": "m"} if opening.shape == "round" else {"width": "m", "height": "m"}
        _positive(opening, "the vents", sizes)
        _positive(opening, "the vents", {"max_air_speed": "m/s"}, optional=True)
        for name in ("length", "flare"):
            _at_least_zero(getattr(opening, name), f"{name} of the vents", "m")
        for end in opening.ends:
            one_of(end, "ends of the vents", ("flanged", "free"))


def is_number(value: object) -> TypeGuard[float]:
    """Whether something is a real number, numpy's included."""
    return isinstance(value, int | float | np.number) and not isinstance(value, bool)


def _positive(thing: object, owner: str, fields: dict[str, str], *, optional: bool = False) -> None:
    for name, unit in fields.items():
        value = getattr(thing, name)
        if optional and value is None:
            continue
        if not (is_number(value) and 1.0 / EXTREME <= value <= EXTREME):
            bound = f"at most {EXTREME:g}" if is_number(value) and value > EXTREME else "> 0"
            raise InputError(f"{name} of {owner} must be {bound} {unit}".rstrip() + f", got {_shown(value)}")


def _at_least_zero(value: object, what: str, unit: str) -> None:
    if not (is_number(value) and 0.0 <= value <= EXTREME):
        raise InputError(f"{what} must be a number ≥ 0 {unit}".rstrip() + f", got {_shown(value)}")


def one_of(value: object, what: str, words: Collection[str]) -> None:
    """Refuse what is none of a few words; ``what`` begins with the field."""
    if value not in words:
        listed = ", ".join(words) if words else "that of a chamber, and there is none"
        raise InputError(f"{what} must be one of {listed}, got {_shown(value)}")


def _shown(value: Any) -> str:
    if is_number(value):
        return f"{float(value):g}"
    return ascii(value)[:60]
