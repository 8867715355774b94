"""What a driver or a passive may not be, whatever its data sheet says."""

from __future__ import annotations

import math

from boxwright.errors import InputError
from boxwright.parts.driver import Body, Driver
from boxwright.parts.passive import Passive

__all__ = ["check_driver", "check_passive"]

MOST_COILS = 8


def check_driver(driver: Driver, place: str = "") -> None:
    """Refuse a driver whose fields beside the small-signal parameters are impossible.

    Parameters
    ----------
    driver : Driver
        To be checked.
    place : str, optional
        File, key and line, for the message.

    Raises
    ------
    InputError
        Naming the first field that is impossible.
    """
    _check_travel(driver.xmax, driver.xmech, place)
    _positive("pmax", driver.pmax, "W", place)
    _not_negative("price", driver.price, place)
    if not 0.0 <= driver.creep < 1.0:
        raise InputError(f"creep must be from 0 to below 1, got {driver.creep:g}", place=place)
    coils = driver.coils
    if isinstance(coils, bool) or not isinstance(coils, int) or not 1 <= coils <= MOST_COILS:
        raise InputError(f"coils must be a whole number from 1 to {MOST_COILS}, got {coils}", place=place)
    if driver.coils_as not in {"series", "parallel", "single"}:
        raise InputError(
            f'coils_as must be "series", "parallel" or "single", got "{driver.coils_as}"', place=place
        )
    coil = driver.coil
    for key, size in (("le", coil.le), ("coil_k", coil.k), ("coil_l2", coil.l2), ("coil_r2", coil.r2)):
        _not_negative(key, size, place)
    if not 0.0 <= coil.n <= 1.0:
        raise InputError(f"coil_n must be from 0 to 1, got {coil.n:g}", place=place)
    _check_body(driver.body, place)


def check_passive(passive: Passive, place: str = "") -> None:
    """Refuse a passive whose fields beside the small-signal parameters are impossible; as for a driver."""
    _check_travel(passive.xmax, passive.xmech, place)
    _not_negative("added_mass_max", passive.added_mass_max, place)
    _not_negative("price", passive.price, place)
    _check_body(passive.body, place)


def _check_travel(xmax: float | None, xmech: float | None, place: str) -> None:
    _positive("xmax", xmax, "m", place)
    _positive("xmech", xmech, "m", place)
    if xmax is not None and xmech is not None and xmech < xmax:
        raise InputError(f"xmech must not be below the xmax of {xmax:g} m, got {xmech:g} m", place=place)


def _check_body(body: Body, place: str) -> None:
    for key in ("frame_diameter", "cutout_diameter", "depth", "magnet_diameter", "bolt_circle"):
        _positive(key, getattr(body, key), "m", place)
    _not_negative("displacement", body.displacement, place)
    _not_negative("weight", body.weight, place)


def _positive(key: str, value: float | None, unit: str, place: str) -> None:
    if value is not None and not 0.0 < value < math.inf:
        raise InputError(f"{key} must be > 0 {unit}, got {value:g}", place=place)


def _not_negative(key: str, value: float | None, place: str) -> None:
    if value is not None and not 0.0 <= value < math.inf:
        raise InputError(f"{key} must be ≥ 0, got {value:g}", place=place)
