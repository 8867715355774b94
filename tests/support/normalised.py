"""Designs from the normalised figures that papers tabulate, and readings of a response in the same figures.

The driver has no mechanical loss and no inductance, so that its qts is its qes. A vent without losses is a
passive whose suspension is as good as absent: that is exact in the linear model, where a duct's boundary
layers would not be.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from boxwright.air import Air
from boxwright.design import Chamber, Design, PassiveOpening, Source
from boxwright.parts import Driver, Passive

AIR = Air(density=1.20, speed_of_sound=343.0)
FS = 30.0
SD = 0.02
VAS = 0.060
RE = 5.0
SP = 0.03

Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def driver(*, qts: float) -> Driver:
    """30 Hz, 60 L, 5 Ω, without mechanical or inductive loss."""
    cms = VAS / (AIR.bulk_modulus * SD**2)
    mms = 1.0 / ((2.0 * math.pi * FS) ** 2 * cms)
    bl = math.sqrt(math.sqrt(mms / cms) * RE / qts)
    return Driver(re=RE, bl=bl, mms=mms, cms=cms, rms=0.0, sd=SD)


def closed(*, qtc: float, alpha: float = 3.0) -> Design:
    """A closed box of the wanted total Q; its resonance is FS·√(1+α)."""
    part = driver(qts=qtc / math.sqrt(1.0 + alpha))
    return Design(
        air=AIR, source=Source(voltage=1.0), driver=part, rear=Chamber(name="rear", volume=VAS / alpha)
    )


def passive(*, qts: float, h: float, alpha: float, delta: float, ql: float = math.inf) -> Design:
    """A passive box: h = fb/fs, alpha = vas/vb, delta = vap/vb, without loss in the passive."""
    volume = VAS / alpha
    cab = volume / AIR.bulk_modulus
    cap = delta * cab
    wb = 2.0 * math.pi * h * FS
    mass = (1.0 / cab + 1.0 / cap) / wb**2
    part = Passive(mmp=mass * SP**2, cmp=cap / SP**2, rmp=0.0, sp=SP)
    return Design(
        air=AIR,
        source=Source(voltage=1.0),
        driver=driver(qts=qts),
        rear=Chamber(name="rear", volume=volume, q_leak=None if math.isinf(ql) else ql),
        openings=(PassiveOpening(passive=part),),
    )


def vented(*, qts: float, h: float, alpha: float, ql: float = math.inf) -> Design:
    """A vented box whose vent is a mass alone."""
    return passive(qts=qts, h=h, alpha=alpha, delta=1e13, ql=ql)


def passband_level(design: Design) -> float:
    """Level that the response tends to where only the moving mass counts, at 1 m in half space. [dB].

    p = ρ·Sd·bl·V/(re·mms)/(2π·r), the reference of every alignment's |G|.
    """
    part = design.driver
    pressure = design.air.density * part.sd * part.bl * design.source.voltage / (part.re * part.mms)
    return 20.0 * math.log10(pressure / (2.0 * math.pi) / 20e-6)


def last_crossing(curve: Curve, level: float, low: float, high: float) -> float:
    """Highest frequency in the range at which a curve passes a level, to 1e-10 relative."""
    for _ in range(6):
        x = np.geomspace(low, high, 300)
        side = curve(x) > level
        change = np.nonzero(side[1:] != side[:-1])[0]
        assert change.size, f"no crossing of {level:g} between {low:g} and {high:g}"
        low, high = float(x[change[-1]]), float(x[change[-1] + 1])
    return math.sqrt(low * high)


def highest(curve: Curve, low: float, high: float) -> tuple[float, float]:
    """Frequency and value of a curve's maximum in the range, by a parabola at the best of a fine grid."""
    for points in (2001, 401):
        x = np.geomspace(low, high, points)
        y = curve(x)
        i = int(np.argmax(y))
        if i in (0, points - 1):
            return float(x[i]), float(y[i])
        low, high = float(x[i - 1]), float(x[i + 1])
    left, middle, right = y[i - 1], y[i], y[i + 1]
    bend = left - 2.0 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
    return float(x[i] * (x[i + 1] / x[i]) ** shift), float(middle - 0.25 * (left - right) * shift)
