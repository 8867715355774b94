"""From whatever a data sheet states to a whole driver or passive, and how far the sheet agrees with itself.

The rule for a sheet that states more than it needs: values are taken in a fixed order of trust, and one that
already follows from those taken before it is only checked. For a driver the order is re sd bl mms cms rms (the
stored parameters), then fs qes qms qts vas diameter eta0; for a passive sp mmp cmp rmp, then fp qmp vap diameter.
Every stated value is checked against what the other stated ones imply by the same rule.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from boxwright.air import Air
from boxwright.errors import InputError
from boxwright.parts.curve import Curves
from boxwright.parts.driver import Body, Coil, Driver
from boxwright.parts.passive import Passive
from boxwright.parts.plausible import check_driver, check_passive
from boxwright.parts.relations import Impossible, SheetModel, Solution, driver_model, passive_model, solve
from boxwright.quantity import Kind, show

__all__ = [
    "DRIVER_SYMBOLS",
    "PASSIVE_SYMBOLS",
    "CompletedDriver",
    "CompletedPassive",
    "Disagreement",
    "complete_driver",
    "complete_passive",
]

DRIVER_SYMBOLS: Mapping[str, Kind] = MappingProxyType({
    "re": Kind.RESISTANCE, "bl": Kind.FORCE_FACTOR, "mms": Kind.MASS, "cms": Kind.COMPLIANCE,
    "rms": Kind.MECHANICAL_RESISTANCE, "sd": Kind.AREA, "diameter": Kind.LENGTH, "fs": Kind.FREQUENCY,
    "qms": Kind.RATIO, "qes": Kind.RATIO, "qts": Kind.RATIO, "vas": Kind.VOLUME, "eta0": Kind.RATIO,
})  # fmt: skip
"""What a driver's data sheet may state; ``diameter`` is the effective diameter of the cone."""

PASSIVE_SYMBOLS: Mapping[str, Kind] = MappingProxyType({
    "mmp": Kind.MASS, "cmp": Kind.COMPLIANCE, "rmp": Kind.MECHANICAL_RESISTANCE, "sp": Kind.AREA,
    "diameter": Kind.LENGTH, "fp": Kind.FREQUENCY, "qmp": Kind.RATIO, "vap": Kind.VOLUME,
})  # fmt: skip
"""What a passive's data sheet may state."""

WORTH_A_WARNING = 5.0
_LEAST, _MOST = 1e-12, 1e12  # in SI no value of a sheet comes near either
_FAR = 1e15


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A stated value against what the other stated values imply.

    Attributes
    ----------
    symbol : str
        Which value.
    stated : float
        In SI.
    implied : float or None
        In SI; None: the others say nothing about it.
    percent : float or None
        How much the stated value is above the implied one. [%]
    """

    symbol: str
    stated: float
    implied: float | None
    percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompletedDriver:
    """A driver and the data sheet it came from.

    Attributes
    ----------
    driver : Driver
        Whole.
    given : mapping of str to float
        What was stated.
    taken : tuple of str
        The stated values that the driver rests on; the rest were only checked.
    implied : mapping of str to float
        Every symbol of the finished driver.
    disagreements : tuple of Disagreement
        One for each stated value, in the order in which they were stated.
    warnings : tuple of str
        A sentence for each disagreement over 5 %.
    """

    driver: Driver
    given: Mapping[str, float]
    taken: tuple[str, ...]
    implied: Mapping[str, float]
    disagreements: tuple[Disagreement, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompletedPassive:
    """A passive and the data sheet it came from; attributes as for a driver."""

    passive: Passive
    given: Mapping[str, float]
    taken: tuple[str, ...]
    implied: Mapping[str, float]
    disagreements: tuple[Disagreement, ...]
    warnings: tuple[str, ...]


def complete_driver(
    values: Mapping[str, float],
    *,
    air: Air,
    place: str = "",
    name: str = "",
    coil: Coil | None = None,
    creep: float = 0.0,
    xmax: float | None = None,
    xmech: float | None = None,
    pmax: float | None = None,
    coils: int = 1,
    coils_as: str = "series",
    body: Body | None = None,
    curves: Curves | None = None,
    price: float | None = None,
    notes: str = "",
) -> CompletedDriver:
    """Find the whole driver from any sufficient part of its data sheet.

    Parameters
    ----------
    values : mapping of str to float
        By symbol, of DRIVER_SYMBOLS, SI. They describe the driver with its coils connected as ``coils_as`` says.
    air : Air
        In which ``vas`` and ``eta0`` are meant.
    place : str, optional
        File, key and line, for messages.
    name, coil, creep, xmax, xmech, pmax, coils, coils_as, body, curves, price, notes
        As in Driver; they take no part in the completion.

    Returns
    -------
    CompletedDriver
        The driver, all its values, and how far the stated ones agree.

    Raises
    ------
    InputError
        If a value is impossible or too few are stated to determine the driver.

    Notes
    -----
    The rule for more values than needed is that of the module. Valid: small signals. Departure from source: none.

    References
    ----------
    small1972direct
    """
    model = driver_model(air)
    values = _checked_values(values, DRIVER_SYMBOLS, place)
    for branch in ("qms", "qes"):
        if "qts" in values and branch in values and values["qts"] >= values[branch]:
            raise InputError(
                f"qts must be below {branch}, of which it is a part, got {values['qts']:g} with a {branch} of "
                f"{values[branch]:g}",
                place=place,
            )
    if values.get("eta0", 0.0) >= 1.0:
        raise InputError(
            f"eta0 must be below 1, got {values['eta0']:g}",
            place=place,
            mend='a percentage is written as "0.5 %"',
        )
    stored, taken = _completed("driver", model, values, place)
    driver = Driver(
        **stored, name=name, coil=coil or Coil(), creep=creep, xmax=xmax, xmech=xmech, pmax=pmax, coils=coils,
        coils_as=coils_as, body=body or Body(), curves=curves or Curves(), price=price, notes=notes,
    )  # fmt: skip
    check_driver(driver, place)
    implied = {
        **stored, "diameter": _diameter(driver.sd), "fs": driver.fs, "qms": driver.qms, "qes": driver.qes,
        "qts": driver.qts, "vas": driver.vas(air), "eta0": driver.eta0(air),
    }  # fmt: skip
    disagreements = _disagreements(model, values)
    return CompletedDriver(
        driver=driver,
        given=MappingProxyType(values),
        taken=taken,
        implied=MappingProxyType(implied),
        disagreements=disagreements,
        warnings=_warnings(model, values, disagreements, implied, DRIVER_SYMBOLS),
    )


def complete_passive(
    values: Mapping[str, float],
    *,
    air: Air,
    place: str = "",
    name: str = "",
    xmax: float | None = None,
    xmech: float | None = None,
    added_mass_max: float | None = None,
    body: Body | None = None,
    curves: Curves | None = None,
    price: float | None = None,
    notes: str = "",
) -> CompletedPassive:
    """Find the whole passive from any sufficient part of its data sheet.

    Parameters
    ----------
    values : mapping of str to float
        By symbol, of PASSIVE_SYMBOLS, SI, without added mass.
    air : Air
        In which ``vap`` is meant.
    place : str, optional
        File, key and line, for messages.
    name, xmax, xmech, added_mass_max, body, curves, price, notes
        As in Passive; they take no part in the completion.

    Returns
    -------
    CompletedPassive
        The passive, all its values, and how far the stated ones agree.

    Raises
    ------
    InputError
        If a value is impossible or too few are stated to determine the passive.

    References
    ----------
    small1974
    """
    model = passive_model(air)
    values = _checked_values(values, PASSIVE_SYMBOLS, place)
    stored, taken = _completed("passive", model, values, place)
    passive = Passive(
        **stored, name=name, xmax=xmax, xmech=xmech, added_mass_max=added_mass_max, body=body or Body(),
        curves=curves or Curves(), price=price, notes=notes,
    )  # fmt: skip
    check_passive(passive, place)
    implied = {
        **stored, "diameter": _diameter(passive.sp), "fp": passive.fp, "qmp": passive.qmp, "vap": passive.vap(air),
    }  # fmt: skip
    disagreements = _disagreements(model, values)
    return CompletedPassive(
        passive=passive,
        given=MappingProxyType(values),
        taken=taken,
        implied=MappingProxyType(implied),
        disagreements=disagreements,
        warnings=_warnings(model, values, disagreements, implied, PASSIVE_SYMBOLS),
    )


def _diameter(area: float) -> float:
    return math.sqrt(4.0 * area / math.pi)


def _checked_values(values: Mapping[str, float], symbols: Mapping[str, Kind], place: str) -> dict[str, float]:
    for symbol, value in values.items():
        if symbol not in symbols:
            close = difflib.get_close_matches(symbol, symbols, n=1, cutoff=0.5)
            raise InputError(
                f"{symbol} is not a value of this data sheet",
                place=place,
                mend=f"the nearest known is {close[0]}" if close else f"known are {', '.join(symbols)}",
            )
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not math.isfinite(value)
            or value <= 0.0
        ):
            raise InputError(f"{symbol} must be a number > 0, got {value}", place=place)
        if not _LEAST <= value <= _MOST:
            raise InputError(
                f"{symbol} must be from {_LEAST:g} to {_MOST:g} in SI units, got {value:g}", place=place
            )
    return {symbol: float(value) for symbol, value in values.items()}


def _completed(
    what: str, model: SheetModel, values: Mapping[str, float], place: str
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Solve for the stored parameters, or say what is missing or impossible."""
    try:
        solution = solve(model, values)
    except Impossible as trouble:
        total = model.parallel[0] if model.parallel else ""
        raise InputError(
            f"{total} must be below the {trouble.branch} of {trouble.value:.4g} that the other values imply, got "
            f"{values[total]:g}",
            place=place,
        ) from None
    if not solution.complete:
        raise _too_few(what, model, values, solution, place)
    stored = {name: solution.value(name) or 0.0 for name in model.stored}
    for name, value in stored.items():
        if not 1.0 / _FAR <= value <= _FAR:
            raise InputError(
                f"{what} must have possible values, got ones that imply {name} = {value:.3g} in SI units",
                place=place,
            )
    return stored, tuple(solution.taken)


def _too_few(
    what: str, model: SheetModel, values: Mapping[str, float], solution: Solution, place: str
) -> InputError:
    missing = [name for name in model.stored if solution.value(name) is None]
    stated = ", ".join(values) or "none"
    enough = model.enough(values)
    if solution.ambiguous:
        problem = f"got {stated}, which two different {what}s have in common"
    else:
        problem = f"got {stated}, which leave {_listed(missing)} open"
    mend = (
        f"{_listed(enough)} would be enough"
        if len(enough) == 1
        else f"{_listed(enough)} together would be enough"
    )
    return InputError(f"{what} must be determined by its values, {problem}", place=place, mend=mend)


def _listed(names: list[str] | tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _disagreements(model: SheetModel, values: Mapping[str, float]) -> tuple[Disagreement, ...]:
    found = []
    for symbol, stated in values.items():
        others = {name: value for name, value in values.items() if name != symbol}
        try:
            implied = solve(model, others).value(symbol)
        except Impossible:
            implied = None
        percent = None if implied is None else 100.0 * (stated / implied - 1.0)
        found.append(Disagreement(symbol=symbol, stated=stated, implied=implied, percent=percent))
    return tuple(found)


def _worst(disagreements: tuple[Disagreement, ...]) -> float:
    return max((abs(each.percent) for each in disagreements if each.percent is not None), default=0.0)


def _warnings(
    model: SheetModel,
    values: Mapping[str, float],
    disagreements: tuple[Disagreement, ...],
    implied: Mapping[str, float],
    symbols: Mapping[str, Kind],
) -> tuple[str, ...]:
    if _worst(disagreements) <= WORTH_A_WARNING:
        return ()
    suspect = _suspect(model, values)
    found = []
    for each in disagreements:
        if each.percent is None or each.implied is None or abs(each.percent) <= WORTH_A_WARNING:
            continue
        kind = symbols[each.symbol]
        text = (
            f"{each.symbol} is stated as {show(each.stated, kind)}, but the other values imply "
            f"{show(each.implied, kind)} ({each.percent:+.1f} %); used is {show(implied[each.symbol], kind)}"
        )
        if each.symbol == suspect:
            text += f"; without {suspect} the rest agree, so it is probably the one that is wrong"
        found.append(text)
    return tuple(found)


def _suspect(model: SheetModel, values: Mapping[str, float]) -> str:
    """Return the one value without which the rest agree; empty where there is no such one, or several."""
    found = []
    for symbol in values:
        others = {name: value for name, value in values.items() if name != symbol}
        rest = _disagreements(model, others)
        checked = sum(each.percent is not None for each in rest)
        if checked and model.sufficient(others) and _worst(rest) <= WORTH_A_WARNING:
            found.append(symbol)
    return found[0] if len(found) == 1 else ""
