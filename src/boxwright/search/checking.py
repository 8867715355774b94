"""What a brief and its parts must keep before a search; files keep most of it already, a program may not."""

from __future__ import annotations

import math
from typing import get_args, get_type_hints

from boxwright.acoustics import placement
from boxwright.acoustics.checking import check_driver, check_passive, is_number, one_of
from boxwright.brief import FACES, FAMILIES, Brief, Space
from boxwright.errors import InputError

__all__ = ["check_brief", "check_parts"]

MOST_CONES, MOST_PASSIVES, MOST_VENTS = 4, 8, 4
_PROTECTIONS = get_args(get_type_hints(Brief)["protection"])
_FACINGS = get_args(get_type_hints(Brief)["passive_facing"])
_SHAPES = get_args(get_type_hints(Space)["shape"])


def check_brief(brief: Brief) -> None:
    """Refuse a brief that nothing can be searched for.

    Raises
    ------
    InputError
        With the field and its table.
    """
    limits, space, target = brief.limits, brief.space, brief.target
    if not limits.families:
        raise InputError("families must name at least one box type, got none", place="[limits]")
    for name in limits.families:
        if name not in FAMILIES:
            raise InputError(f"families must be of {', '.join(FAMILIES)}, got {name!r}", place="[limits]")
    for field in ("driver_faces", "passive_faces", "vent_faces"):
        for face in getattr(limits, field):
            if face not in FACES:
                raise InputError(f"{field} must be of {', '.join(FACES)}, got {face!r}", place="[limits]")
    for field, most in (("cones", MOST_CONES), ("passives", MOST_PASSIVES), ("vents", MOST_VENTS)):
        number = getattr(limits, field)
        if not isinstance(number, int) or not 1 <= number <= most:
            raise InputError(f"{field} must be 1 to {most}, got {_shown(number)}", place="[limits]")
    _number(target.level, "level", "[target]", above=-math.inf)
    for field in ("reach", "band_top"):
        _number(getattr(target, field), field, "[target]")
    if target.content_from is not None:
        _number(target.content_from, "content_from", "[target]")
    for field in ("budget", "weight", "air_speed"):
        value = getattr(limits, field)
        if value is not None and value != math.inf:  # infinite: no limit
            _number(value, field, "[limits]")
    if limits.q_leak != math.inf:
        _number(limits.q_leak, "q_leak", "[limits]")
    for field in ("edge", "depth_clearance"):
        if getattr(limits, field) != 0.0:
            _number(getattr(limits, field), field, "[limits]")
    one_of(space.shape, "shape of the space", _SHAPES)
    for field in ("width", "height", "depth", "depth_top"):
        if getattr(space, field) != 0.0:  # zero: not used by this shape, or refused where it is
            _number(getattr(space, field), field, "[space]")
    if space.net_volume is not None and space.net_volume != math.inf:
        _number(space.net_volume, "net_volume", "[space]")
    one_of(brief.protection, "protection", _PROTECTIONS)
    one_of(brief.passive_facing, "passive_facing", _FACINGS)
    one_of(target.placement.space, "space of the placement", tuple(placement.SOLID_ANGLES))
    placement.check(target.placement)


def check_parts(offer: object) -> None:
    """Refuse parts that cannot be: the first driver or passive with a value out of its range.

    Parameters
    ----------
    offer : PartsOffer
    """
    for driver in getattr(offer, "drivers", ()):
        check_driver(driver, f"the driver {driver.name!a}"[:80])
    for passive in getattr(offer, "passives", ()):
        check_passive(passive, f"the passive {passive.name!a}"[:80])


def _number(value: object, field: str, place: str, *, above: float = 0.0) -> None:
    if not (is_number(value) and above < value < math.inf):
        bound = "a finite number" if math.isinf(above) else f"> {above:g}"
        raise InputError(f"{field} must be {bound}, got {_shown(value)}", place=place)


def _shown(value: object) -> str:
    return f"{value:g}" if is_number(value) else ascii(value)[:60]
