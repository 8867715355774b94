"""What matters most: how much of the spread of a figure comes from each thing that strays."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.response import predict
from boxwright.errors import CannotSolve, InputError
from boxwright.spread.batch import Wanted, out_of_reach, run_batch
from boxwright.spread.boxes import draw, variables_of
from boxwright.spread.montecarlo import HIGHEST_GUIDE
from boxwright.spread.tolerances import Tolerances

if TYPE_CHECKING:
    from collections.abc import Callable

    from boxwright.brief import Target
    from boxwright.design import Design
    from boxwright.spread.batch import Progress

__all__ = ["Sensitivity", "sensitivity", "shares_of_variance"]

Real = NDArray[np.float64]

_POINTS = 64
_WORTH_NAMING = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """Shares of the variance of each figure.

    Attributes
    ----------
    figures : tuple of str
        reach, tuning, and the clean level at a frequency.
    variables : tuple of str
        What strays, in words.
    first : ndarray, shape (figures, variables)
        Share of the variance that would go if this alone were exact. [-]
    total : ndarray, shape (figures, variables)
        Share that would stay if this alone strayed, and everything it does together with others. [-]
    deviation : ndarray, shape (figures,)
        Standard deviation of each figure. [Hz or dB]
    words : tuple of str
        One sentence a figure.
    """

    figures: tuple[str, ...]
    variables: tuple[str, ...]
    first: Real
    total: Real
    deviation: Real
    words: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers for JSON."""
        return {
            "figures": list(self.figures),
            "variables": list(self.variables),
            "first": self.first.tolist(),
            "total": self.total.tolist(),
            "deviation": self.deviation.tolist(),
            "words": list(self.words),
        }


class _Normal:
    """The standard normal distribution, as far as the indices ask."""

    def ppf(self, q: Real) -> Any:
        from scipy.special import ndtri

        return np.asarray(ndtri(q), np.float64)


def shares_of_variance(
    figures: Callable[[Real], Real], variables: int, points: int, seed: int
) -> tuple[Real, Real]:
    """First-order and total Sobol indices of functions of independent standard normal numbers.

    Parameters
    ----------
    figures : callable
        Shape (variables, n) to (figures, n).
    variables : int
        How many numbers go in.
    points : int
        A power of two. [-]
    seed : int
        Of the quasi-random points.

    Returns
    -------
    first, total : ndarray, shape (figures, variables)

    References
    ----------
    saltelli2010
    """
    from scipy.stats import sobol_indices

    found = sobol_indices(
        func=figures, n=points, dists=[_Normal()] * variables, rng=np.random.default_rng(seed)
    )
    return np.atleast_2d(found.first_order), np.atleast_2d(found.total_order)


def sensitivity(
    design: Design,
    *,
    at: float,
    target: Target | None = None,
    tolerances: Tolerances | None = None,
    points: int = 1024,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Sensitivity:
    """Sobol indices of reach, tuning and the clean level at a frequency.

    Parameters
    ----------
    design : Design
        Without coupled chambers or lines.
    at : float
        Where the clean level counts, > 0. [Hz]
    target : Target, optional
        Its placement replaces the design's.
    tolerances : Tolerances, optional
        Without further correlations: shares of a variance need independent causes.
    points : int
        A power of two; ``points·(variables + 2)`` boxes are computed. [-]
    seed : int
        The same seed gives the same answer.

    Returns
    -------
    Sensitivity

    Raises
    ------
    InputError
        If ``points`` is no power of two, there are correlations, or ``at`` is out of range.
    CannotSolve
        If the compiled path does not take the design, or nothing strays.

    Notes
    -----
    `shares_of_variance` over `run_batch`. With 1024 points an index is good to about 0.03.

    References
    ----------
    saltelli2010
    """
    tolerances = tolerances if tolerances is not None else Tolerances()
    if points < 2 or points & (points - 1):
        raise InputError(f"points must be a power of two, got {points}")
    if not (math.isfinite(at) and 0.01 <= at <= 1e4):
        raise InputError(f"at must be 0.01 to 10 000 Hz, got {at:g}")
    if tolerances.correlations:
        raise InputError(
            "tolerances must have no correlations here, got some",
            mend="shares of a variance need independent causes",
        )
    why = out_of_reach(design)
    if why:
        raise CannotSolve(f"{why}: too many boxes would have to be predicted in full")
    placed = design if target is None else replace(design, placement=target.placement)
    variables = variables_of(placed)
    nominal = predict(placed, frequency=[at])
    fs = placed.driver.fs
    low = 0.3 * min(nominal.tuning, fs, at)
    high = max(min(6.0 * max(nominal.tuning, fs), HIGHEST_GUIDE), at)
    frequency = np.unique(np.append(np.geomspace(low, high, _POINTS), at))
    wanted = Wanted(pressure=0.0, voltage=1.0, content=at, low=at, high=at, reach=math.inf)
    names = ("reach", "tuning", f"clean level at {at:.3g} Hz")

    def figures(z: Real) -> Real:
        """Shape (variables, n) to (figures, n)."""
        drawn = draw(placed, tolerances, variables, np.ascontiguousarray(z))
        judged = run_batch(placed, drawn, frequency, wanted, workers=workers, progress=progress).judged
        with np.errstate(divide="ignore"):
            return np.stack([judged.reach, judged.tuning, 10.0 * np.log10(judged.clean2)])

    trial = figures(np.random.default_rng(seed).standard_normal((len(variables), 256)))
    deviation = trial.std(axis=1)
    kept = [k for k in range(len(names)) if np.all(np.isfinite(trial[k])) and deviation[k] > 1e-9]
    if not kept:
        raise CannotSolve("nothing strays: every tolerance is zero, or the box has no reach and no limit")

    def finite(z: Real) -> Real:
        found = figures(z)[kept]
        # a box in ten thousand may have no reach at all; it counts as an ordinary one
        middle = np.nanmedian(np.where(np.isfinite(found), found, np.nan), axis=1)[:, None]
        return np.where(np.isfinite(found), found, middle)

    first, total = shares_of_variance(finite, len(variables), points, seed)
    labels = tuple(v.label for v in variables)
    figures_kept = tuple(names[k] for k in kept)
    return Sensitivity(
        figures=figures_kept,
        variables=labels,
        first=first,
        total=total,
        deviation=deviation[kept],
        words=tuple(_words(name, labels, row) for name, row in zip(figures_kept, total, strict=True)),
    )


def _words(figure: str, labels: tuple[str, ...], total: Real) -> str:
    order = [int(i) for i in np.argsort(-total)]
    named = [i for i in order[:3] if total[i] >= _WORTH_NAMING] or order[:1]
    parts = [f"the {labels[i]} ({total[i] * 100.0:.0f} %)" for i in named]
    rest = f", then {' and '.join(parts[1:])}" if len(parts) > 1 else ""
    return f"the {figure} depends most on {parts[0]}{rest}"
