"""bl, stiffness and inductance of a design over travel: as stated, or by default from xmax, which is always announced.

References
----------
iec62458
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from boxwright.compound import equivalent_driver
from boxwright.design import Design, PassiveOpening
from boxwright.largesignal.curvetable import CurveTable, even_part, tabulate
from boxwright.parts.curve import Curve
from boxwright.parts.driver import Driver
from boxwright.parts.passive import Passive

__all__ = ["CurveSet", "curves_for", "default_bl", "default_stiffness"]

# IEC 62458's limits for xmax.
_BL_LEFT = 0.82
_COMPLIANCE_LEFT = 0.75
# How far the grid reaches where a part states neither travel nor table. [m]
_REACH = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveSet:
    """All curves of a design; None: the same at every travel.

    Attributes
    ----------
    kmp : tuple of CurveTable or None
        One entry an opening; None for vents.
    announced : tuple of str
        Every curve that rests on a default, in words.
    """

    bl: CurveTable | None
    kms: CurveTable | None
    le: CurveTable | None
    kmp: tuple[CurveTable | None, ...]
    announced: tuple[str, ...]


def default_bl(xmax: float) -> Curve:
    """``1 − 0.18·(x/xmax)²``: the force factor at xmax is 82 % of that at rest.

    References
    ----------
    iec62458
    """
    return Curve(polynomial=(1.0, 0.0, (_BL_LEFT - 1.0) / xmax**2))


def default_stiffness(xmax: float) -> Curve:
    """``1 + ⅓·(x/xmax)²``: the compliance at xmax is 75 % of that at rest.

    References
    ----------
    iec62458
    """
    return Curve(polynomial=(1.0, 0.0, (1.0 / _COMPLIANCE_LEFT - 1.0) / xmax**2))


def curves_for(design: Design, driver: Driver | None = None) -> CurveSet:
    """Curves of a design's driver and passives, with defaults from xmax where none are stated.

    Parameters
    ----------
    driver : Driver or None
        The equivalent driver, if it is at hand.

    Raises
    ------
    InputError
        If a stated curve cannot be used.

    References
    ----------
    iec62458
    """
    driver = equivalent_driver(design.driver, design.arrangement) if driver is None else driver
    said: list[str] = []
    paired = design.arrangement.mounting == "face-to-face"
    reach = _reach_of(driver)

    def of_driver(
        stated: Curve | None, word: str, fallback: Callable[[float], Curve], left: str
    ) -> CurveTable | None:
        curve = _stated_or_default(stated, f"driver {word}", driver.xmax, fallback, left, said)
        if curve is None:
            return None
        if paired:
            curve = even_part(curve)
        return tabulate(curve, f"{word} of the driver", reach=reach, hardens=word == "kms")

    bl = of_driver(driver.curves.bl, "bl", default_bl, "82 % of its value at rest")
    kms = of_driver(driver.curves.kms, "kms", default_stiffness, "4/3 of its value at rest")
    le = None
    if driver.curves.le is not None:
        stated = even_part(driver.curves.le) if paired else driver.curves.le
        le = tabulate(stated, "le of the driver", reach=reach, hardens=False)
    elif driver.coil.le or driver.coil.k or driver.coil.l2:
        said.append("driver le: not stated, taken as the same at every travel")
    if paired:
        said.append("drivers face to face: the mean of each curve and its mirror is used")
    return CurveSet(bl=bl, kms=kms, le=le, kmp=_passive_curves(design, said), announced=tuple(said))


def _passive_curves(design: Design, said: list[str]) -> tuple[CurveTable | None, ...]:
    found: list[CurveTable | None] = []
    for opening in design.openings:
        if not isinstance(opening, PassiveOpening):
            found.append(None)
            continue
        part = opening.passive
        name = f"passive {part.name}".rstrip()
        curve = _stated_or_default(
            part.curves.kmp, f"{name} kmp", part.xmax, default_stiffness, "4/3 of its value at rest", said
        )
        table = None
        if curve is not None:
            table = tabulate(curve, f"kmp of {name}", reach=_reach_of(part), hardens=True)
        found.append(table)
    return tuple(found)


def _stated_or_default(
    stated: Curve | None,
    name: str,
    xmax: float | None,
    fallback: Callable[[float], Curve],
    left: str,
    said: list[str],
) -> Curve | None:
    if stated is not None:
        return stated
    if xmax is None:
        said.append(f"{name}: no curve and no xmax stated, taken as the same at every travel")
        return None
    said.append(f"{name}: default parabola, {left} at xmax {xmax * 1e3:.3g} mm (limits of IEC 62458)")
    return fallback(xmax)


def _reach_of(part: Driver | Passive) -> float:
    stated = [3.0 * x for x in (part.xmax,) if x] + [1.5 * x for x in (part.xmech,) if x]
    return max(stated) if stated else _REACH
