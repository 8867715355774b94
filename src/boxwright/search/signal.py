"""What is the same for every candidate: frequencies, the way to the listener, filters, and the limits to keep."""

from __future__ import annotations

import math

import numpy as np

from boxwright.acoustics import filters, placement
from boxwright.acoustics.response import REFERENCE_PRESSURE
from boxwright.brief import Brief
from boxwright.design import Filter, Placement
from boxwright.errors import InputError
from boxwright.search.tables import Bounds, Signal

__all__ = ["bounds_of", "high_passes", "signal_of"]

BELOW, BAND, ABOVE = 10, 22, 5
# Where the passband's level is looked for, over the reach, besides the band itself.
HIGHEST = 8.0
# What a box for low notes can be asked for; wider than anybody will. [Hz]
LEAST_REACH, MOST_REACH, MOST_TOP = 1.0, 1000.0, 10_000.0
LEAST_CONTENT = 0.1
# Corner of the protective high-pass over the reach, and its orders, the mildest first.
CORNERS = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
ORDERS = (2, 4)


def high_passes(brief: Brief) -> tuple[Filter | None, ...]:
    """The protective high-passes that may be added, the mildest first; None: no addition."""
    if brief.protection != "chosen":
        return (None,)
    reach = brief.target.reach
    return (
        None,
        *(
            Filter(kind="high-pass", family="butterworth", order=order, frequency=corner * reach)
            for corner in CORNERS
            for order in ORDERS
        ),
    )


def signal_of(brief: Brief) -> Signal:
    """Frequencies, transfer and filters of a brief.

    Raises
    ------
    InputError
        If the band is empty, or ``protection`` is none although the source has a high-pass.
    """
    target = brief.target
    lowest = target.content_from if target.content_from is not None else 0.5 * target.reach
    for field, value, least, most in (
        ("reach", target.reach, LEAST_REACH, MOST_REACH),
        ("band_top", target.band_top, LEAST_REACH, MOST_TOP),
        ("content_from", lowest, LEAST_CONTENT, math.inf),
    ):
        if not least <= value <= most:
            bounds = f"≥ {least:g} Hz" if math.isinf(most) else f"from {least:g} to {most:g} Hz"
            raise InputError(f"{field} must be {bounds}, got {value:g} Hz", place="[target]")
    if not target.reach < target.band_top:
        raise InputError(
            f"band_top must be above reach ({target.reach:g} Hz), got {target.band_top:g} Hz",
            place="[target]",
        )
    if lowest > target.reach:
        raise InputError(
            f"content_from must not be above reach ({target.reach:g} Hz), got {lowest:g} Hz",
            place="[target]",
        )
    if brief.protection == "none" and any(f.kind == "high-pass" for f in brief.source.filters):
        raise InputError(
            'protection must be "given" or "chosen" where the source has a high-pass, got "none"',
            place="[source]",
            mend='take the filter out or write protection = "given"',
        )
    # content that begins at the reach still needs a few frequencies to read the reach from
    start = min(lowest, 0.85 * target.reach)
    highest = max(HIGHEST * target.reach, 1.5 * target.band_top)
    frequency = np.concatenate((
        np.geomspace(start, target.reach, BELOW, endpoint=False),
        np.geomspace(target.reach, target.band_top, BAND),
        np.geomspace(target.band_top, highest, ABOVE + 1)[1:],
    ))  # fmt: skip
    w = 2.0 * np.pi * frequency
    place = target.placement
    plain = Placement(space=place.space, distance=place.distance)
    per_flow = placement.SOLID_ANGLES[place.space] * place.distance / brief.air.density
    gains = [
        filters.cascade(brief.source.filters if added is None else (*brief.source.filters, added), frequency)
        for added in high_passes(brief)
    ]
    turn = np.array([np.angle(g[1:] / g[:-1]) for g in gains])
    return Signal(
        w=w,
        below=BELOW,
        top=BELOW + BAND,
        content=int(np.searchsorted(frequency, lowest * (1.0 - 1e-12))) if lowest < target.reach else BELOW,
        transfer2=np.abs(placement.transfer(place, brief.air, frequency)) ** 2,
        asymptote2=1.0 / per_flow**2,
        gain2=np.abs(np.array(gains)) ** 2,
        delay=-turn / np.diff(w),
        plain2=np.abs(placement.transfer(plain, brief.air, frequency)) ** 2,
    )


def bounds_of(brief: Brief) -> Bounds:
    """The limits of a brief, squared where the kernel wants them so."""
    source, limits, air = brief.source, brief.limits, brief.air
    voltage, current = source.voltage_limit, source.current_limit
    return Bounds(
        pressure2=(REFERENCE_PRESSURE * 10.0 ** (brief.target.level / 20.0)) ** 2,
        voltage2=voltage**2 if voltage is not None else math.inf,
        current2=current**2 if current is not None else math.inf,
        budget=limits.budget if limits.budget is not None else math.inf,
        weight=limits.weight if limits.weight is not None else math.inf,
        net=brief.space.net_volume if brief.space.net_volume is not None else math.inf,
        q_leak=limits.q_leak,
        bulk=air.bulk_modulus,
        density=air.density,
        speed_of_sound=air.speed_of_sound,
    )
