"""Several drivers that work as one, by one rule."""

from __future__ import annotations

import re
from dataclasses import replace

from boxwright.design import Arrangement
from boxwright.errors import InputError
from boxwright.parts.driver import Coil, Driver

__all__ = ["equivalent_driver", "wiring"]


def _scaled(coil: Coil, factor: float) -> Coil:
    return replace(coil, le=coil.le * factor, k=coil.k * factor, l2=coil.l2 * factor, r2=coil.r2 * factor)


def _coils_joined(driver: Driver, wanted: str | None) -> Driver:
    """The driver with its voice coils joined as wanted.

    The coils share one gap, so they are taken as fully coupled: c coils in series have c times the resistance and
    force factor of one and c² times its inductive impedance; in parallel a c-th of the resistance, and force factor
    and inductive impedance of one.
    """
    if wanted is None or wanted == driver.coils_as or driver.coils == 1:
        return driver
    c = driver.coils
    re_of = {"single": 1.0, "series": float(c), "parallel": 1.0 / c}
    bl_of = {"single": 1.0, "series": float(c), "parallel": 1.0}
    coil_of = {"single": 1.0, "series": float(c * c), "parallel": 1.0}
    return replace(
        driver,
        re=driver.re * re_of[wanted] / re_of[driver.coils_as],
        bl=driver.bl * bl_of[wanted] / bl_of[driver.coils_as],
        coil=_scaled(driver.coil, coil_of[wanted] / coil_of[driver.coils_as]),
        coils_as=wanted,
    )


def equivalent_driver(driver: Driver, arrangement: Arrangement) -> Driver:
    """The one driver that an arrangement of equal drivers amounts to.

    Parameters
    ----------
    driver : Driver
        One of them, as bought.
    arrangement : Arrangement
        How many, how wired, how mounted.

    Returns
    -------
    Driver

    Raises
    ------
    InputError
        If the counts are not positive, or face-to-face pairs are wanted of an odd number.

    Notes
    -----
    All n = s·p units (p strings of s in series) share the air and move with one velocity v. The voltage over a string
    is s times that of one unit and the current of the whole p times that of one string, so re and the coil's impedance
    scale by s/p; every unit's force bl·i/p adds up to n·bl·i/p, so bl scales by s. Masses, resistances and stiffnesses
    add: mms and rms times n, cms over n. The area is n·sd; of a face-to-face pair only one cone meets the air, n·sd/2.
    The rated power is n times one's; travel stays. Voice coils are joined first (fully coupled).

    References
    ----------
    small1972direct
    """
    s, p = arrangement.series, arrangement.parallel
    if s < 1 or p < 1:
        raise InputError(f"drivers in series and in parallel must be at least 1, got {s} and {p}")
    n = s * p
    paired = arrangement.mounting == "face-to-face"
    if paired and n % 2:
        raise InputError(
            f"count must be even for face-to-face pairs, got {n}",
            mend="use an even count or another mounting",
        )
    one = _coils_joined(driver, arrangement.coil_wiring)
    if n == 1:
        return one
    return replace(
        one,
        re=one.re * s / p,
        bl=one.bl * s,
        coil=_scaled(one.coil, s / p),
        mms=one.mms * n,
        cms=one.cms / n,
        rms=one.rms * n,
        sd=one.sd * n / (2.0 if paired else 1.0),
        pmax=None if one.pmax is None else one.pmax * n,
    )


def wiring(text: str, count: int) -> tuple[int, int]:
    """Drivers in series and strings in parallel from words.

    Parameters
    ----------
    text : str
        single, series, parallel, series-parallel, or outright like ``2s2p``.
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
    splits = [(s, count // s) for s in range(1, count + 1) if count % s == 0]
    outright = re.fullmatch(r"(\d{1,2})s(\d{1,2})p", text)
    if outright:
        found = int(outright[1]), int(outright[2])
        if found in splits:
            return found
        possible = ", ".join(f"{s}s{p}p" for s, p in splits)
        raise InputError(
            f"wiring must come out at {count} drivers, got {text!r}", mend=f"possible: {possible}"
        )
    if text == "single" and count == 1:
        return 1, 1
    if text == "series":
        return count, 1
    if text == "parallel":
        return 1, count
    if text == "series-parallel":
        mixed = [(s, p) for s, p in splits if s > 1 and p > 1]
        if mixed:
            return min(mixed, key=lambda sp: (abs(sp[0] - sp[1]), sp))
    words = "series, parallel" + (", series-parallel" if any(s > 1 < p for s, p in splits) else "")
    raise InputError(
        f"wiring must be one of {'single, ' if count == 1 else ''}{words} for {count} drivers, got {text!r}",
        mend="or write the split outright, like 2s2p",
    )
