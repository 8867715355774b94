"""Many slightly different boxes at once: which designs the compiled path takes, and what it needs of them."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import ends, filters, placement
from boxwright.acoustics.limits import GRAVITY, air_speed_limit
from boxwright.acoustics.media import round_duct, slot_duct
from boxwright.acoustics.tuning import FILL_GAIN
from boxwright.compound import equivalent_driver
from boxwright.design import Design, Facing, PassiveOpening, Placement, VentOpening
from boxwright.errors import InputError
from boxwright.spread.boxes import Boxes
from boxwright.spread.judging import judge_block
from boxwright.spread.kernel import fill_block
from boxwright.spread.tables import Columns, Curves, Fixed

__all__ = [
    "Batch",
    "Judged",
    "Wanted",
    "columns_of",
    "empty_curves",
    "fixed_of",
    "in_turn",
    "out_of_reach",
    "run_batch",
    "span_of",
    "tunings",
]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
Whole = NDArray[np.int64]
Progress = Callable[[str, float], None]

BLOCK = 512
_SIDES = ("rear", "front")


def out_of_reach(design: Design) -> str:
    """Why the compiled path cannot take a design, in words; empty: it can."""
    if design.chambers:
        return "it has coupled chambers"
    if any(o.to != "outside" for o in design.openings):
        return "an opening joins two chambers"
    if any(c is not None and c.segments for c in (design.rear, design.front)):
        return "it is a line"
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What every box is judged by.

    Attributes
    ----------
    pressure : float
        Wanted in the band, rms; 0: judged at ``voltage``. [Pa]
    voltage : float
        At the source, rms. [V]
    content, low, high : float
        Lowest note of the programme, and the band. [Hz]
    reach : float
        Highest that is allowed; inf: any. [Hz]
    """

    pressure: float
    voltage: float
    content: float
    low: float
    high: float
    reach: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One value a box; shape (n,).

    Attributes
    ----------
    reach, tuning : ndarray
        NaN where a box has no reach. [Hz]
    clean2 : ndarray
        Squared pressure of the lowest clean level in the band, rms. [Pa²]
    broken : ndarray of int
        Bits as of `judge_block`.
    """

    reach: Real
    tuning: Real
    clean2: Real
    broken: Whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Everything about n boxes.

    Attributes
    ----------
    transfer2 : ndarray, shape (nf,)
        Squared pressure at the listener per volume velocity. [Pa²·s²/m⁶]
    """

    curves: Curves
    transfer2: Real
    judged: Judged


def fixed_of(design: Design, frequency: Real) -> Fixed:
    """What all boxes of a design share.

    Parameters
    ----------
    frequency : ndarray, shape (nf,)
        Rising. [Hz]
    """
    w = 2.0 * np.pi * frequency
    driver = equivalent_driver(design.driver, design.arrangement)
    coil = driver.coil
    sets, nf = len(design.openings), w.size
    series_z, shunt_y = np.zeros((sets, nf), np.complex128), np.zeros((sets, nf), np.complex128)
    number, area = np.ones(sets), np.ones(sets)
    air = design.air
    medium = (air.density, air.speed_of_sound, air.viscosity, air.gamma, air.prandtl)
    for s, opening in enumerate(design.openings):
        if not isinstance(opening, VentOpening):
            continue
        number[s], area[s] = opening.count, ends.vent_area(opening)
        for i in range(nf):
            if opening.shape == "round":
                series_z[s, i], shunt_y[s, i] = round_duct(w[i], 0.5 * opening.diameter, *medium)
            else:
                series_z[s, i], shunt_y[s, i] = slot_duct(w[i], opening.width, opening.height, *medium)
    place = design.placement
    plain = Placement(space=place.space, distance=place.distance)
    solid = placement.SOLID_ANGLES[place.space] * place.distance
    source = design.source
    limits = (source.voltage_limit, source.current_limit)
    return Fixed(
        w=w,
        coil=(coil.le, coil.k, coil.n, coil.l2, coil.r2),
        series=source.series_resistance,
        creep=driver.creep,
        rear=design.rear is not None,
        front=design.front is not None,
        behind=np.array([o.chamber == "rear" for o in design.openings], np.int64),
        vent=np.array([isinstance(o, VentOpening) for o in design.openings], np.int64),
        number=number,
        area=area,
        series_z=series_z,
        shunt_y=shunt_y,
        gain2=np.abs(filters.cascade(source.filters, frequency)) ** 2,
        transfer2=np.abs(placement.transfer(place, air, frequency)) ** 2,
        plain2=np.abs(placement.transfer(plain, air, frequency)) ** 2,
        # as `predict` has it: only a cone that faces the outside tends to a level of its own
        far2=(air.density / solid) ** 2 if design.front is None and design.rear is not None else 0.0,
        voltage2=math.inf if limits[0] is None else limits[0] ** 2,
        current2=math.inf if limits[1] is None else limits[1] ** 2,
    )


def _left(
    stated: tuple[float | None, float | None], factor: Real, mass: Real, compliance: Real, facing: Facing
) -> Real:
    """Linear travel that gravity leaves, as `linear_travel` has it, for many."""
    known = [x for x in stated if x is not None]
    if not known:
        return np.full(factor.shape, np.inf)
    hang = 0.0 if facing == "sideways" else mass * GRAVITY * compliance
    return np.maximum(min(known) * factor - hang, 0.0)


def tunings(cab: Real, masses: list[Real], stiffnesses: list[Real]) -> Real:
    """`boxwright.acoustics.tuning.resonance_of` for many chambers at once; every array of shape (n,). [Hz]."""
    own = [k / m for m, k in zip(masses, stiffnesses, strict=True)]
    if len(own) == 1:
        return np.asarray(np.sqrt((1.0 / cab + stiffnesses[0]) / masses[0]) / (2.0 * np.pi))
    low = np.max(own, axis=0)
    high = low + np.sum([1.0 / (m * cab) for m in masses], axis=0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        with np.errstate(divide="ignore"):
            excess = cab - np.sum(
                [1.0 / (m * (middle - o)) for m, o in zip(masses, own, strict=True)], axis=0
            )
        low, high = np.where(excess < 0.0, middle, low), np.where(excess < 0.0, high, middle)
    return np.asarray(np.sqrt(high) / (2.0 * np.pi))


@dataclass(slots=True)
class _Openings:
    """Columns of the openings, filled row by row; shape (ns, n)."""

    mass: Real
    resistance: Real
    stiffness: Real
    length: Real
    allowed: Real


def _openings_of(design: Design, boxes: Boxes) -> _Openings:
    shape = (len(design.openings), boxes.count)
    found = _Openings(*(np.zeros(shape) for _ in range(5)))
    for s, (opening, own) in enumerate(zip(design.openings, boxes.openings, strict=True)):
        if isinstance(opening, PassiveOpening):
            p = opening.passive
            mass = own["mmp"] + own["added_mass"]
            scale = 1.0 / (opening.count * own["sp"] ** 2)
            found.mass[s] = mass * scale
            found.resistance[s] = own["rmp"] * scale
            found.stiffness[s] = scale / own["cmp"]
            left = _left((p.xmax, p.xmech), own["xmax"], mass, own["cmp"], opening.facing)
            found.allowed[s] = left * own["sp"] * opening.count
        else:
            area = ends.vent_area(opening)
            # every millimetre of tube is one of acoustic length
            found.length[s] = ends.vent_effective_length(opening) + own["length"] - opening.length
            found.mass[s] = design.air.density * found.length[s] / (area * opening.count)
            found.allowed[s] = air_speed_limit(opening) * area * opening.count
    return found


def columns_of(design: Design, boxes: Boxes) -> tuple[Columns, Real]:
    """What differs from box to box, and each box's tuning (or closed-box resonance). [Hz]."""
    one = equivalent_driver(design.driver, design.arrangement)
    part = design.driver
    drawn = boxes.driver
    scaled = {
        name: getattr(one, name) / getattr(part, name) * drawn[name] if getattr(part, name) else drawn[name]
        for name in ("re", "bl", "mms", "cms", "rms", "sd")
    }
    openings = _openings_of(design, boxes)
    n = boxes.count
    sides: dict[str, tuple[Real, Real, Real]] = {}
    tuning = 1.0 / (2.0 * np.pi * np.sqrt(scaled["mms"] * scaled["cms"]))
    known = False
    for side, chamber in zip(_SIDES, (design.rear, design.front), strict=True):
        if chamber is None:
            sides[side] = (np.ones(n), np.zeros(n), np.zeros(n))
            continue
        own = boxes.chambers[side]
        cab = own["volume"] * (1.0 + FILL_GAIN * chamber.fill) / design.air.bulk_modulus
        here = [s for s, o in enumerate(design.openings) if o.chamber == side]
        if here:
            resonance = tunings(cab, [openings.mass[s] for s in here], [openings.stiffness[s] for s in here])
        else:
            stiffness = 1.0 / scaled["cms"] + scaled["sd"] ** 2 / cab
            resonance = np.sqrt(stiffness / scaled["mms"]) / (2.0 * np.pi)
        wc = 2.0 * np.pi * resonance * cab
        sides[side] = (cab, wc / own["q_leak"], 1.0 / (own["q_absorption"] * wc))
        if here and not known:  # of all chambers the first with openings names the tuning
            tuning, known = resonance, True
        elif not known and side == _first_chamber(design):
            tuning = resonance
    hang_mass, hang_cms = scaled["mms"], scaled["cms"]
    travel = _left((one.xmax, one.xmech), drawn["xmax"], hang_mass, hang_cms, design.arrangement.facing)
    power2 = np.full(n, np.inf) if one.pmax is None else one.pmax / scaled["re"]
    columns = Columns(
        **scaled, coil=drawn["le"], travel=travel, power2=power2,
        rear_cab=sides["rear"][0], rear_leak=sides["rear"][1], rear_absorption=sides["rear"][2],
        front_cab=sides["front"][0], front_leak=sides["front"][1], front_absorption=sides["front"][2],
        mass=openings.mass, resistance=openings.resistance, stiffness=openings.stiffness, length=openings.length,
        allowed=openings.allowed,
    )  # fmt: skip
    return columns, tuning


def _first_chamber(design: Design) -> str:
    return "rear" if design.rear is not None else "front"


def empty_curves(frequencies: int, sets: int, count: int) -> Curves:
    """Room for the curves of so many boxes."""
    shape = (frequencies, count)
    return Curves(
        flow2=np.empty(shape),
        velocity2=np.empty(shape),
        current2=np.empty(shape),
        impedance2=np.empty(shape),
        opening2=np.empty((sets, *shape)),
        clean2=np.empty(shape),
    )


def run_batch(
    design: Design,
    boxes: Boxes,
    frequency: Real,
    wanted: Wanted,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Batch:
    """Compute every box at every frequency.

    Parameters
    ----------
    frequency : ndarray, shape (nf,)
        Rising; must hold the notes of ``wanted``. [Hz]
    workers : int, optional
        Threads; by default one a core. The answer does not depend on it.
    progress : callable, optional
        Called with words and the share done; what it raises ends the run.
    """
    count = workers if workers is not None else os.cpu_count() or 1
    if count < 1:
        raise InputError(f"workers must be at least 1, got {count}")
    fixed = fixed_of(design, frequency)
    columns, tuning = columns_of(design, boxes)
    n = boxes.count
    curves = empty_curves(frequency.size, len(design.openings), n)
    reach, clean2, broken = np.empty(n), np.empty(n), np.empty(n, np.int64)
    span = span_of(frequency, wanted)

    def block(first: int) -> int:
        last = min(first + BLOCK, n)
        fill_block(first, last, fixed, columns, curves)
        judge_block(
            first, last, fixed, columns, curves, wanted.voltage**2, wanted.pressure**2, span, wanted.reach, reach,
            clean2, broken,
        )  # fmt: skip
        return last - first

    done = 0
    with ThreadPoolExecutor(count, thread_name_prefix="boxwright") as pool:
        for size in in_turn(pool, block, range(0, n, BLOCK)):
            done += size
            if progress is not None:
                progress(f"{done} of {n} boxes", done / n)
    return Batch(
        curves=curves,
        transfer2=fixed.transfer2,
        judged=Judged(reach=reach, tuning=tuning, clean2=clean2, broken=broken),
    )


def span_of(frequency: Real, wanted: Wanted) -> tuple[int, int, int]:
    """First frequency of the content, first of the band, and one past its last."""
    content, low = (int(np.searchsorted(frequency, at * (1.0 - 1e-9))) for at in (wanted.content, wanted.low))
    return content, low, int(np.searchsorted(frequency, wanted.high * (1.0 + 1e-9)))


def in_turn(pool: ThreadPoolExecutor, work: Callable[[int], int], items: range) -> Iterator[int]:
    """Results in order; what is not begun is dropped when the caller stops listening."""
    futures = [pool.submit(work, item) for item in items]
    try:
        for future in futures:
            yield future.result()
    finally:
        for future in futures:
            future.cancel()
