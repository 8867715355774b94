"""The proof of a design: what it does at level, in heat, under gravity and across units, in one call."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import filters
from boxwright.acoustics.checking import check_design
from boxwright.acoustics.response import predict
from boxwright.brief import Target
from boxwright.design import Design
from boxwright.errors import CannotSolve, InputError
from boxwright.largesignal.bursts import FREQUENCIES, Burst, burst_levels
from boxwright.largesignal.clean import DISTORTION, CleanLevels, clean_levels, twelfths
from boxwright.largesignal.heat import Warming, heat_up, music
from boxwright.largesignal.mechanics import Hang, Reaction, box_mass, hang_of, reaction
from boxwright.largesignal.model import model_of
from boxwright.spread.batch import out_of_reach
from boxwright.spread.montecarlo import LEAST_BOXES, Spread, spread_of
from boxwright.spread.sensitivity import Sensitivity, sensitivity

if TYPE_CHECKING:
    from boxwright.largesignal.panels import PanelReport
    from boxwright.parts import Sheet

__all__ = ["BAND_TOP", "REACH_SLACK", "Proof", "own_band", "prove"]

Real = NDArray[np.float64]
Progress = Callable[[str, float], None]

BAND_TOP = 100.0
"""Highest note that is looked at when no target states one. [Hz]"""
PROGRAMME = 1800.0
"""How long the programme plays. [s]"""
REACH_SLACK = 1.005
"""How far above the reach wanted the design's own may lie: less than anybody measures. [-]"""
_SOBOL_POINTS = 256
# Half of the last digit that is shown. [dB]
_TENTH = 0.05
_PROPER = ("driver travel", "passive travel", "air speed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """Everything that was proved about a design.

    Attributes
    ----------
    design : Design
        With the placement that counts.
    target : Target or None
        What was asked of it.
    band : tuple of float
        Lowest and highest note that count. [Hz]
    clean : CleanLevels
        From half the lowest note on.
    needed_voltage : ndarray, shape (nf,)
        At the amplifier's terminals, rms, for the level wanted; nan: not reached, or no level is wanted. [V]
    needed_distortion : ndarray, shape (nf,)
        There. [-]
    drive : float
        Source voltage before the filters, rms, at which heat and recoil are told: what the level wanted takes, at most
        what the amplifier gives. [V]
    below : dict of str to (float, float)
        Limits broken below the band at the drive of its lowest note: up to which frequency, and by how much drive at
        most. [Hz], [dB]
    bursts : tuple of Burst
    warming : Warming or None
        Half an hour of a programme whose peaks take ``drive``; None: no rated power is known.
    hangs : tuple of Hang
    recoil : Reaction or None
        None: the box or its sheet is not known.
    panels : PanelReport or None
        None: the same.
    spread : Spread or None
        None: not asked for.
    shares : Sensitivity or None
        What matters most; None: the same, or nothing strays.
    notes : tuple of str
        What the proof rests on and what is missing from it.
    """

    design: Design
    target: Target | None
    band: tuple[float, float]
    clean: CleanLevels
    needed_voltage: Real
    needed_distortion: Real
    drive: float
    below: dict[str, tuple[float, float]]
    bursts: tuple[Burst, ...]
    warming: Warming | None
    hangs: tuple[Hang, ...]
    recoil: Reaction | None
    panels: PanelReport | None
    spread: Spread | None
    shares: Sensitivity | None
    notes: tuple[str, ...]

    @property
    def in_band(self) -> NDArray[np.bool_]:
        """Which of the frequencies count, shape (nf,)."""
        low, high = self.band
        f = self.clean.frequency
        return np.asarray((f >= low * (1.0 - 1e-9)) & (f <= high * (1.0 + 1e-9)))

    @property
    def worst(self) -> int:
        """Which frequency of the band has the lowest clean level."""
        inside = np.flatnonzero(self.in_band)
        return int(inside[np.argmin(self.clean.level[inside])])

    @property
    def lowest_clean(self) -> float:
        """Clean level at the worst note of the band. [dB re 20 µPa rms]."""
        return float(self.clean.level[self.worst])

    @property
    def keeps(self) -> bool:
        """Whether reach and level wanted are met and no limit is broken; without a target, if any level is clean."""
        if self.target is None:
            return self.lowest_clean > -math.inf
        reach = self.clean.linear.reach
        low_enough = reach is not None and reach <= REACH_SLACK * self.target.reach
        return low_enough and self.lowest_clean >= self.target.level - _TENTH and not self.below

    @property
    def warnings(self) -> tuple[str, ...]:
        """Everything that it rests on and that is missing, in words."""
        return tuple(dict.fromkeys((*self.clean.remarks, *self.clean.linear.warnings, *self.notes)))

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON; what is infinite or not a number becomes None."""
        from boxwright.largesignal.answers import proof_dict

        return proof_dict(self)


def prove(
    design: Design,
    *,
    target: Target | None = None,
    sheet: Sheet | None = None,
    threshold: float = DISTORTION,
    boxes: int | None = None,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Proof:
    """Drive a design as hard as it goes, warm it, hang it, shake it, and build it many times.

    Parameters
    ----------
    design : Design
        Without lines.
    target : Target, optional
        What is asked of it; without one the band is the design's own reach to 100 Hz, and heat, recoil and spread are
        told at the highest voltage that is clean there or the source's.
    sheet : Sheet, optional
        What the box is made of; without it weight, recoil and panels are left out.
    threshold : float
        Distortion of the pressure that still counts as clean. [-]
    boxes : int, optional
        Of the spread: by default 10 000; 0: no spread.
    seed : int
        Of the spread: the same seed gives the same proof.
    workers : int, optional
        Threads; by default one a core.
    progress : callable, optional
        Called with words and the share done; what it raises ends the proof.

    Returns
    -------
    Proof

    Raises
    ------
    InputError
        If the design, the target, the threshold or the number of boxes is out of range.
    CannotSolve
        If a chamber is a line.

    Notes
    -----
    Each part has its own sources: `clean.clean_levels`, `bursts.burst_levels`, `heat.heat_up`, `mechanics`, `panels`,
    `boxwright.spread`. Below the band its limits count at the drive that the lowest note takes.
    """
    check_design(design)
    if boxes is not None and boxes != 0 and boxes < LEAST_BOXES:
        raise InputError(f"boxes must be 0 or at least {LEAST_BOXES}, got {boxes}")

    def tell(what: str, share: float) -> None:
        if progress is not None:
            progress(what, share)

    notes: list[str] = []
    if target is not None:
        design = replace(design, placement=target.placement)
    band = _band(design, target)
    content = target.content_from if target is not None and target.content_from is not None else 0.5 * band[0]
    tell("level map", 0.0)
    model = model_of(design)
    frequency = np.unique(np.append(twelfths(min(content, band[0]), band[1]), band))
    clean = clean_levels(design, frequency, model=model, threshold=threshold, workers=workers)
    nothing = np.full(frequency.shape, np.nan)
    needed = clean.at_level(target.level) if target is not None else (nothing, nothing)
    drive, below = _drive(design, target, band, clean, needed[0])
    tell("bursts", 0.3)
    within = tuple(f for f in FREQUENCIES if band[0] * 0.995 <= f <= band[1] * 1.005)
    bursts = burst_levels(model, within, workers=workers) if within else ()
    tell("heat and recoil", 0.5)
    warming = None
    if design.driver.pmax is not None:
        programme = music(math.sqrt(2.0) * drive, low=band[0], high=band[1])
        warming = heat_up(design, programme, duration=PROGRAMME)
    else:
        notes.append("the driver states no rated power: its heat is not told")
    recoil, panels = _wood(design, sheet, drive, band, notes)
    spread, shares = None, None
    if boxes != 0:
        tell("spread", 0.6)
        driven = replace(design, source=replace(design.source, voltage=drive))
        spread = spread_of(
            driven, target=target, boxes=boxes, seed=seed, workers=workers, progress=_part(tell, 0.6, 0.8)
        )
        tell("what matters most", 0.8)
        inside = (frequency >= band[0]) & (frequency <= band[1])
        worst = float(frequency[inside][np.argmin(clean.level[inside])])
        shares = _shares(driven, worst, target, seed, workers, notes)
    tell("done", 1.0)
    return Proof(
        design=design, target=target, band=band, clean=clean, needed_voltage=needed[0], needed_distortion=needed[1],
        drive=drive, below=below, bursts=bursts, warming=warming, hangs=hang_of(design), recoil=recoil, panels=panels,
        spread=spread, shares=shares, notes=tuple(notes),
    )  # fmt: skip


def _part(tell: Progress, low: float, high: float) -> Progress:
    return lambda what, share: tell(what, low + (high - low) * share)


def _band(design: Design, target: Target | None) -> tuple[float, float]:
    if target is not None:
        low, high, content = target.reach, target.band_top, target.content_from
        if not 0.0 < (content if content is not None else low) <= low < high or not math.isfinite(high):
            raise InputError(
                f"target must have content_from ≤ reach < band_top, got {content}, {low:g} and {high:g} Hz"
            )
        if not math.isfinite(target.level):
            raise InputError(f"level of the target must be a number of dB, got {target.level:g}")
        return low, high
    return own_band(design)


def own_band(design: Design) -> tuple[float, float]:
    """From a design's reach (its tuning, where it has none) to 100 Hz, or an octave up if that is higher. [Hz]."""
    nominal = predict(design)
    low = nominal.reach if nominal.reach is not None else nominal.tuning
    return low, max(BAND_TOP, 2.0 * low)


def _drive(
    design: Design, target: Target | None, band: tuple[float, float], clean: CleanLevels, needed: Real
) -> tuple[float, dict[str, tuple[float, float]]]:
    """Source voltage that the level wanted takes, and what it breaks below the band."""
    f = clean.frequency
    inside = (f >= band[0]) & (f <= band[1])
    gain = np.abs(filters.cascade(design.source.filters, f))
    most = design.source.voltage_limit
    if target is None:
        if most is not None:
            return most, {}
        usable = clean.voltage[inside & np.isfinite(clean.voltage)]
        return (float(usable.max()) if usable.size else design.source.voltage), {}
    with np.errstate(divide="ignore", invalid="ignore"):
        asked = np.where(np.isfinite(needed), needed, clean.sweep.voltage[-1]) / gain
    drive = float(np.max(asked[inside]))
    first = float(asked[inside][0])
    if most is not None:
        drive, first = min(drive, most), min(first, most)
    below: dict[str, tuple[float, float]] = {}
    for limit in clean.limits:
        with np.errstate(divide="ignore"):
            over = 20.0 * np.log10(first * gain / limit.voltage)
        broken = (f < band[0]) & (over > _TENTH)
        if limit.name in _PROPER and broken.any():
            below[limit.name] = (float(f[broken].max()), float(over[broken].max()))
    return drive, below


def _shares(
    design: Design, at: float, target: Target | None, seed: int, workers: int | None, notes: list[str]
) -> Sensitivity | None:
    if out_of_reach(design):
        notes.append(f"{out_of_reach(design)}: what matters most is not told")
        return None
    try:
        # where nothing limits some boxes their clean level is infinite, and its spread no number
        with np.errstate(invalid="ignore"):
            return sensitivity(design, at=at, target=target, points=_SOBOL_POINTS, seed=seed, workers=workers)
    except CannotSolve as why:
        notes.append(f"what matters most is not told: {why}")
        return None


def _wood(
    design: Design, sheet: Sheet | None, drive: float, band: tuple[float, float], notes: list[str]
) -> tuple[Reaction | None, PanelReport | None]:
    if design.box is None:
        notes.append("the design has no box: its weight, recoil and panels are not told")
        return None, None
    if sheet is None:
        named = f'"{design.box.sheet}"' if design.box.sheet else "no sheet"
        notes.append(
            f"the box names {named} of which nothing is known: weight, recoil and panels are not told"
        )
        return None, None
    from boxwright.largesignal.panels import design_panels

    driven = replace(design, source=replace(design.source, voltage=drive))
    recoil = reaction(
        driven, mass=box_mass(design, sheet), frequency=np.geomspace(0.5 * band[0], band[1], 96)
    )
    return recoil, design_panels(design, sheet, band_top=band[1])
