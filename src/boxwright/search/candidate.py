"""One candidate: build it on paper, move it, and say which limit it breaks first."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.search.kernel import CLOSED, FRONT, REAR, move
from boxwright.search.tables import Bounds, DriverRow, OpeningRow, Signal

__all__ = [
    "AIR_SPEED",
    "BUDGET",
    "COLUMNS",
    "CONE_TRAVEL",
    "CURRENT",
    "FITS",
    "LENGTH_LONG",
    "LENGTH_SHORT",
    "MASS_HEAVY",
    "MASS_LIGHT",
    "NET_LARGE",
    "NO_AIR",
    "PASSIVE_TRAVEL",
    "POWER",
    "PROTECTION",
    "REACH",
    "REASONS",
    "VENT_FILLS",
    "VOLTAGE",
    "WEIGHT",
    "Scratch",
    "judge",
    "scratch",
]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# The limits in the order they are tried; a candidate is counted under the first that it breaks.
(
    FITS,
    NO_AIR,
    VENT_FILLS,
    NET_LARGE,
    MASS_LIGHT,
    MASS_HEAVY,
    LENGTH_SHORT,
    LENGTH_LONG,
    BUDGET,
    WEIGHT,
    CONE_TRAVEL,
    PASSIVE_TRAVEL,
    AIR_SPEED,
    VOLTAGE,
    CURRENT,
    POWER,
    REACH,
    PROTECTION,
) = range(18)
REASONS = 18

# Columns of a row about a candidate, SI.
COLUMNS = (
    "inside", "net", "share", "tuning", "amount", "high_pass", "reach", "clean2", "binding", "price", "weight",
    "delay", "level_short", "reach_short", "protection_short", "price_over", "weight_over", "amount_over",
)  # fmt: skip
_INSIDE, _NET, _SHARE, _TUNING, _AMOUNT, _HIGH_PASS, _REACH, _CLEAN2, _BINDING, _PRICE, _WEIGHT, _DELAY = (
    range(12)
)
_LEVEL_SHORT, _REACH_SHORT, _PROTECTION_SHORT, _PRICE_OVER, _WEIGHT_OVER, _AMOUNT_OVER = range(12, 18)

_fast = njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract", "nsz", "arcp"})


class Scratch(NamedTuple):
    """Work space of one thread; shape (nf,) each."""

    electrical: Complex
    mechanical: Complex
    velocity2: Real
    current2: Real
    opening2: Real
    outside: Complex


def scratch(nf: int) -> Scratch:
    """Work space for ``nf`` frequencies."""
    return Scratch(
        electrical=np.zeros(nf, np.complex128),
        mechanical=np.zeros(nf, np.complex128),
        velocity2=np.zeros(nf),
        current2=np.zeros(nf),
        opening2=np.zeros(nf),
        outside=np.zeros(nf, np.complex128),
    )


@_fast
def _resonance(cms: float, mms: float, sd: float, cab: float) -> float:
    return math.sqrt((1.0 / cms + sd * sd / cab) / mms)


@_fast
def _highest(outside: Complex, transfer2: Real, gain2: Real) -> tuple[float, int]:
    """The highest squared level, and at which frequency."""
    highest, peak = 0.0, 0
    for i in range(outside.size):
        level2 = (
            (outside[i].real * outside[i].real + outside[i].imag * outside[i].imag) * transfer2[i] * gain2[i]
        )
        if level2 > highest:
            highest, peak = level2, i
    return highest, peak


@njit(inline="always")
def judge(
    where: int,
    full: bool,
    driver: DriverRow,
    opening_set: OpeningRow,
    inside: float,
    tuning: float,
    share: float,
    wood_weight: float,
    wood_price: float,
    room: float,
    signal: Signal,
    bounds: Bounds,
    work: Scratch,
    row: Real,
) -> int:
    """Which limit a candidate breaks first, and its figures.

    Parameters
    ----------
    where : int
        CLOSED, REAR or FRONT: where the openings are.
    full : bool
        Go on after the first broken limit, so that ``row`` holds every shortfall.
    driver, opening_set : DriverRow, OpeningRow
        Of the tables.
    inside : float
        Volume within the walls. [m³]
    tuning : float
        [Hz]
    share : float
        Of the net volume behind the cone. [-]
    room : float
        Longest vent the box takes. [m]
    work : Scratch
        Holds the driver's impedances already.
    row : ndarray, shape (len(COLUMNS),)
        Written. [SI]

    Returns
    -------
    int
        FITS, or the first limit that is broken.
    """
    first_broken = FITS
    w = signal.w
    nf = w.size
    below, top = signal.below, signal.top
    for column in range(row.size):
        row[column] = 0.0
    wt = 2.0 * math.pi * tuning
    c2 = bounds.speed_of_sound * bounds.speed_of_sound
    open_share = 1.0 - share if where == FRONT else 1.0

    # build: net volume, and the grams or the length that tune it
    net = inside - driver.displacement
    amount = 0.0
    mass, resistance, half, stiffness, through2 = 1.0, 0.0, 0.0, 0.0, 0.0
    travel2 = math.inf
    speed2 = math.inf
    price = driver.price + wood_price
    weight = driver.weight + wood_weight
    if where != CLOSED:
        net -= opening_set.displacement
        count = opening_set.number
        area = opening_set.area
        price += opening_set.price
        weight += opening_set.weight
        if opening_set.is_vent > 0.5:
            # net = inside − bore·length and length = count·area·c²/(ω²·net) − ends: a quadratic in net
            bore = opening_set.bore
            ends = opening_set.ends
            pull = count * area * c2 / (wt * wt * open_share)
            middle = net + bore * ends
            under = middle * middle - 4.0 * bore * pull
            if net <= 0.0:
                return NO_AIR
            if under <= 0.0:
                return VENT_FILLS  # no length tunes what it leaves of the box
            net = 0.5 * (middle + math.sqrt(under))
            amount = pull / net - ends
            if amount < opening_set.shortest:
                first_broken = LENGTH_SHORT
                row[_AMOUNT_OVER] = opening_set.shortest - amount
            elif amount > room:
                first_broken = LENGTH_LONG
                row[_AMOUNT_OVER] = amount - room
            length = max(amount, opening_set.shortest)
            price += opening_set.price_per_metre * length
            weight += opening_set.weight_per_metre * length
            mass = bounds.density * (length + ends) / (count * area)
            half = opening_set.loss * (length + ends) / count
            through2 = (length + ends) * (length + ends) / c2
            speed = opening_set.speed * area * count
            speed2 = 0.5 * speed * speed
        elif net > 0.0:
            spring = 1.0 / opening_set.compliance + count * area * area * bounds.bulk / (net * open_share)
            moving = spring / (wt * wt)
            amount = moving - opening_set.mass
            if amount < 0.0:
                first_broken = MASS_LIGHT
                row[_AMOUNT_OVER] = -amount
            elif amount > opening_set.added_max:
                first_broken = MASS_HEAVY
                row[_AMOUNT_OVER] = amount - opening_set.added_max
            weight += count * max(amount, 0.0)
            scale = 1.0 / (count * area * area)
            mass = max(moving, opening_set.mass) * scale
            resistance = opening_set.resistance * scale
            stiffness = scale / opening_set.compliance
            left = max(opening_set.travel - opening_set.sag_per_kg * moving, 0.0) * count * area
            travel2 = 0.5 * left * left
    if net <= 0.0:
        return NO_AIR
    if net > bounds.net:
        return NET_LARGE
    row[_INSIDE], row[_NET], row[_SHARE], row[_TUNING], row[_AMOUNT] = inside, net, share, tuning, amount
    row[_PRICE], row[_WEIGHT] = price, weight
    if first_broken != FITS and not full:
        return first_broken
    if price > bounds.budget:
        row[_PRICE_OVER] = price - bounds.budget
        first_broken = BUDGET if first_broken == FITS else first_broken
    if weight > bounds.weight:
        row[_WEIGHT_OVER] = weight - bounds.weight
        first_broken = WEIGHT if first_broken == FITS else first_broken
    if first_broken != FITS and not full:
        return first_broken

    # move
    sd = driver.sd
    bl = driver.bl
    cab = net * share / bounds.bulk
    cab_front = net * (1.0 - share) / bounds.bulk
    if where != REAR:
        wr = _resonance(driver.cms, driver.mms, sd, cab)
        if where == CLOSED:
            row[_TUNING] = wr / (2.0 * math.pi)
    else:
        wr = wt
    rear = (cab, wr * cab / bounds.q_leak)
    front = (cab_front, wt * cab_front / bounds.q_leak)
    opening = (mass, resistance, half, stiffness, through2)
    v2, i2, o2, u = work.velocity2, work.current2, work.opening2, work.outside
    current_limit2 = min(bounds.current2, driver.current2)
    cone = driver.travel
    half_cone2 = 0.5 * cone * cone

    clean2 = math.inf
    binding = FITS
    # in a hurry, the reach alone decides first: most candidates go no further; then the band, then what is outside it
    start, stop = (below, top) if full else (below, below + 1)
    for stage in range(1 if full else 4):
        if stage == 1:
            start, stop = stop, top
        elif stage == 2:
            start, stop = 0, below
        elif stage == 3:
            start, stop = top, nf
        move(
            where, w, 0 if full else start, nf if full else stop, work.electrical, work.mechanical,
            bl, sd, rear, front, opening, v2, i2, o2, u,
        )  # fmt: skip
        for i in range(max(start, below), min(stop, top)):
            p2 = (u[i].real * u[i].real + u[i].imag * u[i].imag) * signal.transfer2[i]
            room2 = half_cone2 * w[i] * w[i] / v2[i]
            which = CONE_TRAVEL
            if where != CLOSED:
                allowed = travel2 * w[i] * w[i] / o2[i]
                if allowed < room2:
                    room2, which = allowed, PASSIVE_TRAVEL
                allowed = speed2 / o2[i]
                if allowed < room2:
                    room2, which = allowed, AIR_SPEED
            if bounds.voltage2 < room2:
                room2, which = bounds.voltage2, VOLTAGE
            allowed = current_limit2 / i2[i]
            if allowed < room2:
                room2 = allowed
                which = CURRENT if bounds.current2 <= driver.current2 else POWER
            if p2 * room2 < clean2:
                clean2, binding = p2 * room2, which
        if clean2 < bounds.pressure2 and not full:
            return binding
    row[_CLEAN2], row[_BINDING] = clean2, binding
    if clean2 < bounds.pressure2:
        row[_LEVEL_SHORT] = 10.0 * math.log10(bounds.pressure2 / clean2)
        first_broken = binding if first_broken == FITS else first_broken

    # reach and protection, with the mildest high-pass that keeps both
    accelerated = bl * sd / (driver.re * driver.mms)
    asymptote2 = signal.asymptote2 * accelerated * accelerated if where != FRONT else math.inf
    outcome = REACH
    least_reach = math.inf
    least_over = math.inf
    chosen = 0
    for h in range(signal.gain2.shape[0]):
        gain2 = signal.gain2[h]
        highest, peak = _highest(u, signal.plain2, gain2)
        target2 = 0.5 * min(asymptote2, highest)
        at = below
        # the band has to be unbroken from its highest level down to the reach
        level2 = math.inf
        for i in range(below, max(below, peak) + 1):
            level2 = min(
                level2, (u[i].real * u[i].real + u[i].imag * u[i].imag) * signal.plain2[i] * gain2[i]
            )
        if level2 < target2:
            short = 10.0 * math.log10(target2 / level2)
            if short < least_reach:
                least_reach = short
                if outcome == REACH:
                    chosen = h
            continue
        # the drive that gives the level at the reach, and what it does further down
        p2 = (u[at].real * u[at].real + u[at].imag * u[at].imag) * signal.transfer2[at] * gain2[at]
        drive2 = bounds.pressure2 / p2
        over2 = 0.0
        for i in range(signal.content, below):
            d2 = drive2 * gain2[i]
            over2 = max(over2, d2 * v2[i] / (half_cone2 * w[i] * w[i]))
            if where != CLOSED:
                over2 = max(over2, d2 * o2[i] / (travel2 * w[i] * w[i]), d2 * o2[i] / speed2)
        least_reach = 0.0
        if outcome == REACH or over2 < least_over:
            least_over = over2
            chosen = h
        outcome = PROTECTION
        if over2 <= 1.0:
            outcome = FITS
            chosen = h
            break
    row[_HIGH_PASS] = chosen
    if outcome == REACH:
        row[_REACH_SHORT] = least_reach
    if outcome == PROTECTION:
        row[_PROTECTION_SHORT] = math.sqrt(least_over) - 1.0
    if first_broken == FITS:
        first_broken = outcome
    if first_broken != FITS and not full:
        return first_broken

    # figures: where the level is really half its power, and the longest delay in the band
    gain2 = signal.gain2[chosen]
    highest, peak = _highest(u, signal.plain2, gain2)
    target2 = 0.5 * min(asymptote2, highest)
    upper2 = highest
    row[_REACH] = w[0] / (2.0 * math.pi)
    for i in range(peak - 1, -1, -1):
        level2 = (u[i].real * u[i].real + u[i].imag * u[i].imag) * signal.plain2[i] * gain2[i]
        if level2 < target2:
            slope = math.log(upper2 / level2)
            part = math.log(target2 / level2) / slope if slope > 0.0 else 1.0
            row[_REACH] = w[i] * (w[i + 1] / w[i]) ** part / (2.0 * math.pi)
            break
        upper2 = level2
    longest = 0.0
    for i in range(below, top - 1):
        turn = u[i + 1] * u[i].conjugate()
        delay = -math.atan2(turn.imag, turn.real) / (w[i + 1] - w[i]) + signal.delay[chosen, i]
        longest = max(longest, delay)
    row[_DELAY] = longest
    return first_broken
