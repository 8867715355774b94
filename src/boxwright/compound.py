"""Several drivers that work as one, by one rule."""

from __future__ import annotations

import difflib
import re
from dataclasses import replace

from boxwright.design import Arrangement
from boxwright.errors import InputError
from boxwright.parts.driver import Coil, Driver

__all__ = ["equivalent_driver", "wiring"]

MOST_DRIVERS = 64
_PAIRED = ("face-to-face", "push-push")
_WORDS = ("single", "series", "parallel", "series-parallel")


def equivalent_driver(driver: Driver, arrangement: Arrangement) -> Driver:
    """Return the one driver that an arrangement of equal drivers amounts to.

    Parameters
    ----------
    driver : Driver
        One of them, as bought.
    arrangement : Arrangement
        How many, how wired, how mounted.

    Returns
    -------
    Driver
        Name, travel, curves, body and price stay those of one.

    Raises
    ------
    InputError
        If a count is not a whole number from 1 to 64 in all, if mounting in pairs is wanted of an odd number, or if
        the wiring of the coils is not known.

    Notes
    -----
    All n = s·p units (p strings of s in series) share the air and move with one velocity. The voltage over a
    string is s times that of one unit and the current of the whole p times that of one string, so re and the coil's
    impedance scale by s/p; every unit's force bl·i/p adds up to n·bl·i/p, so bl scales by s. Masses, resistances
    and stiffnesses add: mms and rms times n, cms over n. The area is n·sd; of a face-to-face pair only one cone
    meets the air of either side, so n·sd/2 (the air between the cones is taken as rigid). Rated power is n times
    that of one; travel stays.

    The voice coils of each unit are joined first. They share one gap, so they are taken as fully coupled: c coils in
    series have c times the resistance and force factor of one and c² times its inductive impedance; in parallel a c-th
    of the resistance, and force factor and inductive impedance of one. A coil left open does nothing; the rated power
    is then the driven coil's share (common practice, no source).

    References
    ----------
    small1972direct
    """
    series, parallel = _whole("series", arrangement.series), _whole("parallel", arrangement.parallel)
    n = series * parallel
    if n > MOST_DRIVERS:
        raise InputError(f"count must be at most {MOST_DRIVERS}, got {n}")
    if arrangement.mounting in _PAIRED and n % 2:
        raise InputError(
            f"count must be even for {arrangement.mounting} pairs, got {n}",
            mend="use an even count or another mounting",
        )
    one = _coils_joined(driver, arrangement.coil_wiring)
    if n == 1:
        return one
    return replace(
        one,
        re=one.re * series / parallel,
        bl=one.bl * series,
        coil=_scaled(one.coil, series / parallel),
        mms=one.mms * n,
        cms=one.cms / n,
        rms=one.rms * n,
        sd=one.sd * n / (2.0 if arrangement.mounting == "face-to-face" else 1.0),
        pmax=None if one.pmax is None else one.pmax * n,
    )


def wiring(text: str, count: int) -> tuple[int, int]:
    """Read drivers in series and strings in parallel from words.

    Parameters
    ----------
    text : str
        single, series, parallel, series-parallel (the split nearest to a square; of two, the one with the fewer in
        series), or outright like ``2s3p``.
    count : int
        How many drivers.

    Returns
    -------
    tuple of int
        In series, in parallel.

    Raises
    ------
    InputError
        If the words are unknown or do not come out at ``count``.
    """
    count = _whole("count", count)
    if count > MOST_DRIVERS:
        raise InputError(f"count must be at most {MOST_DRIVERS}, got {count}")
    splits = [(s, count // s) for s in range(1, count + 1) if count % s == 0]
    possible = "possible: " + ", ".join(f"{s}s{p}p" for s, p in splits)
    word = text.strip().lower()
    outright = re.fullmatch(r"([0-9]{1,3})\s*s\s*([0-9]{1,3})\s*p", word)
    if outright:
        found = int(outright[1]), int(outright[2])
        if found not in splits:
            raise InputError(f'wiring must come out at {_drivers(count)}, got "{text}"', mend=possible)
        return found
    mixed = [split for split in splits if min(split) > 1]
    named = {"series": (count, 1), "parallel": (1, count)}
    if count == 1:
        named["single"] = (1, 1)
    if mixed:
        named["series-parallel"] = min(mixed, key=lambda split: (abs(split[0] - split[1]), split))
    if word in named:
        return named[word]
    if word in _WORDS:
        raise InputError(f'wiring must be possible with {_drivers(count)}, got "{text}"', mend=possible)
    close = difflib.get_close_matches(word[:64], _WORDS, n=1, cutoff=0.5)
    raise InputError(
        f'wiring must be one of {", ".join(named)} or a split like 2s2p, got "{text[:64]}"',
        mend=f"the nearest known is {close[0]}" if close else possible,
    )


def _coils_joined(driver: Driver, wanted: str | None) -> Driver:
    """Return the driver with its voice coils joined as wanted."""
    if wanted is None or wanted == driver.coils_as:
        return driver
    c = float(_whole("coils", driver.coils))
    # of all coils together, as multiples of one: resistance, force factor, inductive impedance, rated power
    ways = {"single": (1.0, 1.0, 1.0, 1.0), "series": (c, c, c * c, c), "parallel": (1.0 / c, 1.0, 1.0, c)}
    for field, way in (("coil_wiring", wanted), ("coils_as", driver.coils_as)):
        if way not in ways:
            raise InputError(f'{field} must be one of {", ".join(ways)}, got "{way}"')
    new, old = ways[wanted], ways[driver.coils_as]
    # what one coil is rated for says nothing certain of both together, so the power never rises
    power = min(new[3] / old[3], 1.0)
    return replace(
        driver,
        re=driver.re * (new[0] / old[0]),
        bl=driver.bl * (new[1] / old[1]),
        coil=_scaled(driver.coil, new[2] / old[2]),
        pmax=None if driver.pmax is None else driver.pmax * power,
        coils_as=wanted,
    )


def _scaled(coil: Coil, factor: float) -> Coil:
    return replace(coil, le=coil.le * factor, k=coil.k * factor, l2=coil.l2 * factor, r2=coil.r2 * factor)


def _whole(field: str, value: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise InputError(f"{field} must be a whole number of at least 1, got {value}")
    return value


def _drivers(count: int) -> str:
    return "1 driver" if count == 1 else f"{count} drivers"
