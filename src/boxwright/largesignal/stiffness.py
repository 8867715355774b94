"""The home stiffness test: known weights on a cone, travel by caliper, and what they say of its suspension."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.limits import GRAVITY
from boxwright.design import Facing
from boxwright.errors import CannotSolve, InputError
from boxwright.parts.curve import Curve

__all__ = ["Reading", "StiffnessTest", "stiffness_test"]

Real = NDArray[np.float64]

_LEAST_LOADS = 5
# Readings of one load may differ by this share of the largest travel, and the fit may miss by it (rms).
_ALIKE = 0.05
# A compliance less certain than this (standard deviation) is none.
_CERTAIN = 0.15
# Powers of travel in the ratio that are tried; odd ones need readings on both sides.
_SHAPES: tuple[tuple[int, ...], ...] = ((), (2,), (1, 2), (2, 4), (1, 2, 4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One line of the table.

    Attributes
    ----------
    mass : float
        Hung on, or laid onto, the cone. [kg]
    travel : float
        How far the cone went in the direction of the load, from where it was without. [m]
    facing : str
        "down": the load pulls the cone out; "up": it presses it in; "sideways": over a pulley, pulling it out.
    """

    mass: float
    travel: float
    facing: Facing = "down"


@dataclass(frozen=True, slots=True, kw_only=True)
class StiffnessTest:
    """What the readings say.

    Attributes
    ----------
    curve : Curve
        Ratio of stiffness over travel from the unloaded position, outward positive.
    compliance : float
        At small travel. [m/N]
    compliance_sd : float
        Its standard deviation. [m/N]
    lowest, highest : float
        Travel between which the curve rests on readings. [m]
    travel : ndarray, shape (n,)
        Position at each reading, own weight counted. [m]
    force : ndarray, shape (n,)
        On the suspension at each reading. [N]
    residuals : ndarray, shape (n,)
        Travel read less travel of the fit. [m]
    remarks : tuple of str
    """

    curve: Curve
    compliance: float
    compliance_sd: float
    lowest: float
    highest: float
    travel: Real
    force: Real
    residuals: Real
    remarks: tuple[str, ...]

    def stiffened(self, share: float) -> tuple[float | None, float | None]:
        """Travel inward and outward at which the stiffness has risen by a share; None: not within the readings. [m].

        Parameters
        ----------
        share : float
            Of the stiffness at rest, > 0. [-]
        """
        if not share > 0.0:
            raise InputError(f"share must be > 0, got {share:g}")
        found: list[float | None] = []
        for end in (self.lowest, self.highest):
            x = np.linspace(0.0, end, 2001)
            beyond = np.flatnonzero(_ratio(x, self.curve.polynomial) >= 1.0 + share)
            found.append(float(x[beyond[0]]) if beyond.size else None)
        return found[0], found[1]


def stiffness_test(readings: Sequence[Reading], *, moving_mass: float = 0.0) -> StiffnessTest:
    """Fit a suspension's stiffness to weights and travels.

    Parameters
    ----------
    readings : sequence of Reading
        In the order they were taken.
    moving_mass : float
        Of the cone without the loads, which hangs on the suspension too unless it faces sideways. [kg]

    Returns
    -------
    StiffnessTest

    Raises
    ------
    InputError
        If the readings cannot carry a fit: too few loads, travel that does not grow with the load, one load with
        two travels (creep).
    CannotSolve
        If no smooth curve passes near the readings, or they leave the compliance uncertain.

    Notes
    -----
    ``force = x·(1 + Σ aₖ·xᵏ)/c``, solved for x; travels are fitted by least squares, for they are what is read with an
    error. Of the shapes with k among 2 (1, 2), (2, 4) and (1, 2, 4) the one with the lowest corrected Akaike
    information is taken. Valid with the box open, so that no air is pressed.

    References
    ----------
    hurvich1989
    """
    remarks = _check(readings, moving_mass)
    sign = np.array([-1.0 if r.facing == "up" else 1.0 for r in readings])
    own = np.array([0.0 if r.facing == "sideways" else moving_mass * GRAVITY for r in readings])
    load = np.array([r.mass * GRAVITY for r in readings])
    read = np.array([r.travel for r in readings])
    force, before = sign * (load + own), sign * own
    both = bool(np.any(sign > 0.0) and np.any(sign < 0.0))

    span = 1.6 * float(read.max()) + 2.0 * float(own.max()) * float(read.max() / load[np.argmax(read)])
    trials = []
    for powers in _SHAPES:
        if (1 in powers and not both) or read.size < len(powers) + 3:
            continue
        trial = _fitted(powers, force, before, sign, read, span)
        if trial is not None:
            trials.append(trial)
    if not trials:
        raise CannotSolve("no rising force over travel passes through the readings")
    best = min(trials, key=lambda t: t.information)
    missed = math.sqrt(float(np.mean(best.residuals**2)))
    if missed > _ALIKE * float(read.max()):
        raise CannotSolve(
            f"no smooth curve passes near the readings: the best misses them by {missed * 1e3:.2g} mm rms; "
            "read again, with more time for each load to settle"
        )
    if not best.sd < _CERTAIN * best.compliance:
        raise CannotSolve(
            f"the readings leave the compliance uncertain by {100.0 * best.sd / best.compliance:.0f} %; "
            "add readings with small loads"
        )
    position = _positions(force, best.compliance, best.polynomial, span)
    if position is None:
        raise CannotSolve("no rising force over travel passes through the readings")
    return StiffnessTest(
        curve=Curve(polynomial=best.polynomial),
        compliance=best.compliance,
        compliance_sd=best.sd,
        lowest=float(min(position.min(), 0.0)) if both or sign[0] < 0.0 else -float(position.max()),
        highest=float(max(position.max(), 0.0)) if both or sign[0] > 0.0 else -float(position.min()),
        travel=position,
        force=force,
        residuals=best.residuals,
        remarks=(*remarks, *(() if both else ("read on one side only: the other is taken as its mirror",))),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trial:
    polynomial: tuple[float, ...]
    compliance: float
    sd: float
    residuals: Real
    information: float


def _check(readings: Sequence[Reading], moving_mass: float) -> tuple[str, ...]:
    for r in readings:
        if not (math.isfinite(r.mass) and r.mass > 0.0):
            raise InputError(f"mass of a reading must be > 0 kg, got {r.mass:g}")
        if not (math.isfinite(r.travel) and r.travel > 0.0):
            raise InputError(
                f"travel of a reading must be > 0 m, got {r.travel:g}",
                mend="give it in the direction of the load, from the place without load",
            )
    if not (math.isfinite(moving_mass) and moving_mass >= 0.0):
        raise InputError(f"moving mass must be ≥ 0 kg, got {moving_mass:g}")
    loads = sorted({(r.facing, r.mass) for r in readings})
    if len(loads) < _LEAST_LOADS:
        raise InputError(
            f"a stiffness test must have at least {_LEAST_LOADS} different loads, got {len(loads)}",
            mend="hang on more, in steps from small to the largest travel",
        )
    largest = max(r.travel for r in readings)
    means: dict[tuple[str, float], float] = {}
    repeated = False
    for facing, mass in loads:
        travels = [r.travel for r in readings if (r.facing, r.mass) == (facing, mass)]
        repeated = repeated or len(travels) > 1
        if max(travels) - min(travels) > _ALIKE * largest:
            raise InputError(
                f"travel under {mass * 1e3:.4g} g must be the same each time, got {min(travels) * 1e3:.3g} and "
                f"{max(travels) * 1e3:.3g} mm: the suspension was still creeping",
                mend="wait until the travel stands still before reading it",
            )
        means[facing, mass] = sum(travels) / len(travels)
    for one, two in pairwise(loads):
        if one[0] == two[0] and means[two] <= means[one]:
            raise InputError(
                f"travel must grow with the load, got {means[one] * 1e3:.3g} mm under {one[1] * 1e3:.4g} g and "
                f"{means[two] * 1e3:.3g} mm under {two[1] * 1e3:.4g} g (cone facing {one[0]})"
            )
    return () if repeated else ("no load was read twice: creep could not be told apart",)


def _ratio(x: Real, polynomial: tuple[float, ...]) -> Real:
    return np.asarray(np.polynomial.polynomial.polyval(x, np.array(polynomial)), np.float64)


def _positions(force: Real, compliance: float, polynomial: tuple[float, ...], span: float) -> Real | None:
    """Travel at which the suspension answers with each force; None where force does not rise with travel. [m]."""
    x = np.linspace(-span, span, 801)
    answer = x * _ratio(x, polynomial) / compliance
    # beyond what the readings reach a fitted polynomial may do as it likes
    low, high = (
        int(np.searchsorted(-answer[400::-1], -force.min())),
        int(np.searchsorted(answer[400:], force.max())),
    )
    part = slice(max(400 - low - 1, 0), min(400 + high + 2, x.size))
    if (
        not np.all(np.diff(answer[part]) > 0.0)
        or force.min() < answer[part][0]
        or force.max() > answer[part][-1]
    ):
        return None
    found = np.interp(force, answer[part], x[part])
    steeper = np.polynomial.polynomial.polyder(np.concatenate([[0.0], np.array(polynomial)]))
    for _ in range(4):
        off = found * _ratio(found, polynomial) - compliance * force
        found = found - off / np.polynomial.polynomial.polyval(found, steeper)
    return np.asarray(found, np.float64)


def _fitted(
    powers: tuple[int, ...], force: Real, before: Real, sign: Real, read: Real, span: float
) -> _Trial | None:
    from scipy.optimize import least_squares

    unit = float(read.max())
    soft = unit / float(np.max(np.abs(force - before)))

    def polynomial(shape: Real) -> tuple[float, ...]:
        coefficients = np.zeros(1 + max(powers, default=0))
        coefficients[0] = 1.0
        for power, a in zip(powers, shape, strict=True):
            coefficients[power] = a / unit**power
        return tuple(float(a) for a in coefficients)

    def missed(free: Real) -> Real:
        compliance, ratio = soft * math.exp(float(free[0])), polynomial(free[1:])
        under = _positions(force, compliance, ratio, span)
        without = _positions(before, compliance, ratio, span)
        if under is None or without is None:
            return np.full(read.size, 10.0)
        return (read - sign * (under - without)) / unit

    start = np.concatenate([[0.2], [0.3 if power == 2 else 0.0 for power in powers]])
    found = least_squares(missed, start, jac="3-point", xtol=1e-12, ftol=1e-12)
    off = missed(found.x)
    if np.any(off == 10.0):
        return None
    n, p = read.size, found.x.size
    spread = float(off @ off) / (n - p)
    # least-squares information with a floor of a thousandth of the travel, so that perfect data do not divide by zero
    mean_square = float(off @ off) / n + 1e-6
    jacobian = np.asarray(found.jac, np.float64)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * spread
    compliance = soft * math.exp(float(found.x[0]))
    return _Trial(
        polynomial=polynomial(found.x[1:]),
        compliance=compliance,
        sd=compliance * math.sqrt(max(float(covariance[0, 0]), 0.0)),
        residuals=np.asarray(off * unit, np.float64),
        information=n * math.log(mean_square)
        + 2.0 * p
        + (2.0 * p * (p + 1) / (n - p - 1) if n > p + 1 else math.inf),
    )
