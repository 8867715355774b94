"""Ten thousand boxes of one design: bands on every curve, and how many of them keep every limit."""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boxwright.acoustics import ends
from boxwright.acoustics.response import REFERENCE_PRESSURE, Response, predict
from boxwright.brief import Target
from boxwright.design import Design, PassiveOpening
from boxwright.errors import InputError
from boxwright.spread.batch import Batch, Progress, Wanted, out_of_reach, run_batch
from boxwright.spread.boxes import draw, variables_of
from boxwright.spread.ranks import order_statistics
from boxwright.spread.slow import run_slow
from boxwright.spread.tolerances import Tolerances, standard_draws

__all__ = ["BOXES", "QUANTILES", "Bands", "Spread", "grid_for", "spread_of", "wanted_of"]

Real = NDArray[np.float64]

BOXES = 10_000
SLOW_BOXES = 300
"""Boxes where the compiled path cannot take the design."""
LEAST_BOXES = 20
MOST_VALUES = 200_000_000
"""Numbers that a run may hold: 1.6 GB."""
QUANTILES = (0.05, 0.50, 0.95)
_POINTS = 128
_GUIDES = 48
HIGHEST_GUIDE = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """Of every hundred boxes five lie below ``low``, five above ``high``, half below ``middle``; shape (nf,) each."""

    low: Real
    middle: Real
    high: Real

    def to_dict(self) -> dict[str, list[float | None]]:
        """Plain lists; what is infinite becomes None."""
        named = {"low": self.low, "middle": self.middle, "high": self.high}
        return {n: [float(v) if math.isfinite(v) else None for v in values] for n, values in named.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """What becomes of a design once it is built many times.

    Attributes
    ----------
    frequency : ndarray, shape (nf,)
        [Hz]
    boxes, seed : int
        How many, and what they were drawn from.
    voltage : float
        At the source, for level, travel and air speed, rms. [V]
    level : Bands
        [dB re 20 µPa]
    driver_travel : Bands
        Peak. [m]
    openings : tuple of Bands
        Travel of each passive, peak [m], or air speed in each vent, peak [m/s], for each set.
    impedance : Bands
        Magnitude. [Ω]
    clean_level : Bands
        Highest that breaks no limit. [dB re 20 µPa]
    reach, tuning : ndarray, shape (boxes,)
        Of each box, in the order drawn; NaN where there is none. [Hz]
    lowest_clean : ndarray, shape (boxes,)
        Clean level at the worst note of the band. [dB re 20 µPa]
    keeping : float
        Share of boxes that keep every limit. [-]
    breaking : dict of str to float
        Share that breaks each limit; a box may break several. [-]
    nominal : Response
        The design as it stands, at the same frequencies and voltage.
    words, notes : tuple of str
        What it comes to; what it rests on.
    """

    frequency: Real
    boxes: int
    seed: int
    voltage: float
    level: Bands
    driver_travel: Bands
    openings: tuple[Bands, ...]
    impedance: Bands
    clean_level: Bands
    reach: Real
    tuning: Real
    lowest_clean: Real
    keeping: float
    breaking: dict[str, float]
    nominal: Response
    words: tuple[str, ...]
    notes: tuple[str, ...]

    def quantiles(self, values: Real) -> tuple[float, float, float]:
        """The 5, 50 and 95 % quantile of one value a box, boxes without one left out."""
        known = values[np.isfinite(values)]
        if not known.size:
            return math.nan, math.nan, math.nan
        low, middle, high = np.quantile(known, QUANTILES)
        return float(low), float(middle), float(high)

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON; of the single boxes only their quantiles."""

        def three(values: Real) -> list[float | None]:
            return [v if math.isfinite(v) else None for v in self.quantiles(values)]

        return {
            "frequency_hz": self.frequency.tolist(),
            "boxes": self.boxes,
            "seed": self.seed,
            "voltage_v": self.voltage,
            "quantiles": list(QUANTILES),
            "level_db": self.level.to_dict(),
            "driver_travel_m": self.driver_travel.to_dict(),
            "openings": [bands.to_dict() for bands in self.openings],
            "impedance_ohm": self.impedance.to_dict(),
            "clean_level_db": self.clean_level.to_dict(),
            "reach_hz": three(self.reach),
            "tuning_hz": three(self.tuning),
            "lowest_clean_level_db": three(self.lowest_clean),
            "keeping": self.keeping,
            "breaking": self.breaking,
            "words": list(self.words),
            "notes": list(self.notes),
        }


def wanted_of(design: Design, target: Target | None, frequency: Real) -> Wanted:
    """What boxes are judged by: a brief's target, or without one the design's own voltage at every frequency."""
    if target is None:
        return Wanted(
            pressure=0.0, voltage=design.source.voltage, content=float(frequency[0]), low=float(frequency[0]),
            high=float(frequency[-1]), reach=math.inf,
        )  # fmt: skip
    content = target.content_from if target.content_from is not None else 0.5 * target.reach
    if not 0.0 < content <= target.reach < target.band_top:
        raise InputError(
            f"a target must have content_from ≤ reach < band_top, got {content:g}, {target.reach:g} and "
            f"{target.band_top:g} Hz"
        )
    return Wanted(
        pressure=REFERENCE_PRESSURE * 10.0 ** (target.level / 20.0), voltage=design.source.voltage, content=content,
        low=target.reach, high=target.band_top, reach=target.reach,
    )  # fmt: skip


def grid_for(frequency: Real, wanted: Wanted, tuning: float, fs: float) -> Real:
    """The frequencies asked for, with those that reach and limits are read at."""
    extra = [wanted.content, wanted.low, wanted.high]
    # rooms are summed up to a few kilohertz only, and no reach lies up there
    lowest, highest = 0.3 * min(tuning, fs), min(6.0 * max(tuning, fs), HIGHEST_GUIDE)
    coarse = frequency.size < 2 or float(np.max(np.diff(np.log(frequency)))) > 0.06
    if coarse or frequency[0] > lowest or frequency[-1] < highest:
        extra += np.geomspace(min(lowest, frequency[0]), max(highest, frequency[-1]), _GUIDES).tolist()
    return np.unique(np.concatenate((frequency, extra)))


def _quantiles(curves: list[Real], rows: NDArray[np.int64], threads: int) -> list[Real]:
    """Quantiles of the wanted rows of each array, shape (3, len(rows))."""
    n = curves[0].shape[1]
    # order statistics without interpolation: the same for squares and for decibels
    ranks = np.array([min(max(math.ceil(q * n) - 1, 0), n - 1) for q in QUANTILES])
    whole = rows.size == curves[0].shape[0]

    def part(curve: Real, first: int, last: int) -> Real:
        out = np.empty((len(QUANTILES), last - first))
        order_statistics(curve[first:last] if whole else curve[rows[first:last]], ranks, out)
        return out

    edges = [int(e) for e in np.linspace(0, rows.size, threads + 1)]
    with ThreadPoolExecutor(threads) as pool:
        waiting = [[pool.submit(part, curve, a, b) for a, b in pairwise(edges)] for curve in curves]
        return [np.concatenate([piece.result() for piece in pieces], axis=1) for pieces in waiting]


def _decibel(squares: Real) -> Real:
    with np.errstate(divide="ignore"):
        return np.asarray(10.0 * np.log10(squares / REFERENCE_PRESSURE**2), dtype=np.float64)


def _bands(three: Real) -> Bands:
    return Bands(low=three[0], middle=three[1], high=three[2])


def limit_names(design: Design) -> dict[int, str]:
    """What each bit of a judgement stands for."""
    names = {0: "driver travel", 1: "amplifier voltage", 2: "amplifier current", 3: "rated power", 4: "reach"}
    several = len(design.openings) > 1
    for s, opening in enumerate(design.openings):
        name = "passive travel" if isinstance(opening, PassiveOpening) else "air speed"
        names[5 + s] = f"{name} (opening {s + 1})" if several else name
    return names


def spread_of(
    design: Design,
    *,
    target: Target | None = None,
    tolerances: Tolerances | None = None,
    boxes: int | None = None,
    seed: int = 1,
    frequency: ArrayLike | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Spread:
    """Build a design many times with parts that stray, and see what comes out.

    Parameters
    ----------
    design : Design
    target : Target, optional
        What every box is held against: its level from reach to band top, its travels and air speeds from the lowest
        content on at the drive which that takes, and its reach. Without one, boxes are judged at the design's own
        voltage at every frequency.
    tolerances : Tolerances, optional
        By default `boxwright.spread.tolerances.DEFAULTS`.
    boxes : int, optional
        By default 10 000; 300 where the compiled path cannot take the design, and then the notes say so.
    seed : int
        The same seed gives the same boxes, whatever the number of workers.
    frequency : array_like, shape (nf,), optional
        Rising; by default 128 from 10 to 300 Hz. [Hz]
    workers : int, optional
        Threads; by default one a core.
    progress : callable, optional
        Called with words and the share done; what it raises ends the run.

    Returns
    -------
    Spread

    Raises
    ------
    InputError
        If the number of boxes, a frequency or the target is out of range.

    Notes
    -----
    Independent standard normal numbers, one a variable and box, turned into values by each tolerance; see
    `boxwright.spread.boxes.draw` for what moves with what. Air is the same for all: heat, height and age are cases of
    their own, `boxwright.spread.cases`.
    """
    tolerances = tolerances if tolerances is not None else Tolerances()
    f = _frequencies(frequency)
    why = out_of_reach(design)
    n = boxes if boxes is not None else (SLOW_BOXES if why else BOXES)
    if n < LEAST_BOXES:
        raise InputError(f"boxes must be at least {LEAST_BOXES}, got {n}")
    placed = design if target is None else replace(design, placement=target.placement)
    nominal = predict(placed, frequency=f)
    wanted = wanted_of(placed, target, f)
    grid = grid_for(f, wanted, nominal.tuning, placed.driver.fs)
    if n * grid.size * (5 + len(placed.openings)) > MOST_VALUES:
        most = MOST_VALUES // (grid.size * (5 + len(placed.openings)))
        raise InputError(
            f"boxes must be at most {most} at {f.size} frequencies, got {n}", mend="ask for fewer of either"
        )
    variables = variables_of(placed)
    drawn = draw(placed, tolerances, variables, standard_draws(n, len(variables), seed))
    threads = workers if workers is not None else os.cpu_count() or 1
    if threads < 1:
        raise InputError(f"workers must be at least 1, got {threads}")
    notes = [
        f"{n} boxes from seed {seed}; tolerances are common practice without a source where none is stated"
    ]
    if tolerances.alike == 1.0 and any(v.units > 1 for v in variables):
        notes.append("equal units of one box are taken from one batch: they all stray the same way")
    run = run_slow if why else run_batch
    if why:
        notes.append(
            f"{why}: the compiled path does not take it, so each of only {n} boxes is predicted in full"
        )
    batch = run(placed, drawn, grid, wanted, workers=threads, progress=progress)
    return _summed(placed, f, np.searchsorted(grid, f), batch, nominal, wanted, threads, seed, tuple(notes))


def _summed(
    design: Design,
    f: Real,
    asked: NDArray[np.int64],
    batch: Batch,
    nominal: Response,
    wanted: Wanted,
    threads: int,
    seed: int,
    notes: tuple[str, ...],
) -> Spread:
    """Bands and shares of a batch."""
    curves, judged, n = batch.curves, batch.judged, batch.judged.reach.size
    level2, velocity2, impedance2, clean2, *opening2 = _quantiles(
        [curves.flow2, curves.velocity2, curves.impedance2, curves.clean2, *curves.opening2], asked, threads
    )
    w = 2.0 * np.pi * f
    peak = math.sqrt(2.0) * design.source.voltage
    openings = []
    for opening, squares in zip(design.openings, opening2, strict=True):
        one = (
            1.0 / (w * opening.count * opening.passive.sp)
            if isinstance(opening, PassiveOpening)
            else np.full(f.shape, 1.0 / (opening.count * ends.vent_area(opening)))
        )
        openings.append(_bands(peak * np.sqrt(squares) * one))
    breaking = {name: float(np.mean((judged.broken >> bit) & 1)) for bit, name in limit_names(design).items()}
    found = Spread(
        frequency=f,
        boxes=n,
        seed=seed,
        voltage=design.source.voltage,
        level=_bands(_decibel(level2 * batch.transfer2[asked] * design.source.voltage**2)),
        driver_travel=_bands(peak * np.sqrt(velocity2) / w),
        openings=tuple(openings),
        impedance=_bands(np.sqrt(impedance2)),
        clean_level=_bands(_decibel(clean2)),
        reach=judged.reach,
        tuning=judged.tuning,
        lowest_clean=_decibel(judged.clean2),
        keeping=float(np.mean(judged.broken == 0)),
        breaking={name: share for name, share in breaking.items() if share > 0.0},
        nominal=nominal,
        words=(),
        notes=notes,
    )
    return replace(found, words=_words(found, wanted))


def _words(found: Spread, wanted: Wanted) -> tuple[str, ...]:
    if wanted.pressure > 0.0:
        asked = (
            f"{20.0 * math.log10(wanted.pressure / REFERENCE_PRESSURE):.3g} dB from {wanted.low:.3g} to "
            f"{wanted.high:.3g} Hz"
        )
    else:
        asked = f"{wanted.voltage:.3g} V"
    said = [f"at {asked} {found.keeping * 100.0:.0f} of 100 boxes keep every limit"]
    for name, share in sorted(found.breaking.items(), key=lambda pair: -pair[1]):
        said.append(
            f"{share * 100.0:.3g} of 100 break {name}"
            if name != "reach"
            else f"{share * 100.0:.3g} of 100 do not reach low enough"
        )
    for name, values, unit in (("tuning", found.tuning, "Hz"), ("reach", found.reach, "Hz")):
        low, _, high = found.quantiles(values)
        if math.isfinite(low):
            said.append(f"{name}: nine boxes of ten lie from {low:.1f} to {high:.1f} {unit}")
    return tuple(said)


def _frequencies(frequency: ArrayLike | None) -> Real:
    if frequency is None:
        return np.geomspace(10.0, 300.0, _POINTS)
    f = np.atleast_1d(np.asarray(frequency, np.float64))
    if f.ndim != 1 or not f.size or not np.all(np.isfinite(f)) or f[0] < 0.01 or np.any(np.diff(f) <= 0.0):
        raise InputError("frequency must be one list of rising numbers ≥ 0.01 Hz")
    return f
