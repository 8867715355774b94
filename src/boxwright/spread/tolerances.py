"""How far parts and wood stray from what they are said to be, and ten thousand draws of that."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from boxwright.errors import InputError

__all__ = ["DEFAULTS", "LABELS", "Absolute", "Even", "Relative", "Stray", "Tolerances", "standard_draws"]

Real = NDArray[np.float64]


class Stray(Protocol):
    """How one quantity strays: from a standard normal number to its value."""

    def value(self, nominal: float, z: Real) -> Real:
        """Value for a nominal value and standard normal numbers of any shape."""

    def narrowed(self, factor: float) -> Stray:
        """The same with its width times a factor."""


def _width(name: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(f"{name} must be ≥ 0, got {value:g}")


@dataclass(frozen=True, slots=True)
class Relative:
    """A share of the value: ``nominal·exp(sd·z)``. The median is nominal and nothing turns negative.

    Attributes
    ----------
    sd : float
        Standard deviation of the logarithm, for small ones the relative standard deviation. [-]
    """

    sd: float

    def __post_init__(self) -> None:
        """Refuse a width that is none."""
        _width("a relative standard deviation", self.sd)

    def value(self, nominal: float, z: Real) -> Real:
        """Value for standard normal numbers of any shape."""
        return np.asarray(nominal * np.exp(self.sd * z))

    def narrowed(self, factor: float) -> Relative:
        """The same with its width times a factor."""
        return Relative(self.sd * factor)


@dataclass(frozen=True, slots=True)
class Absolute:
    """An amount, whatever the value: ``nominal + sd·z``, kept at or above ``least``.

    Attributes
    ----------
    sd : float
        Standard deviation, in the quantity's SI unit.
    least : float
        In the same unit.
    """

    sd: float
    least: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a width that is none."""
        _width("a standard deviation", self.sd)

    def value(self, nominal: float, z: Real) -> Real:
        """Value for standard normal numbers of any shape."""
        return np.maximum(nominal + self.sd * z, self.least)

    def narrowed(self, factor: float) -> Absolute:
        """The same with its width times a factor."""
        return Absolute(self.sd * factor, self.least)


@dataclass(frozen=True, slots=True)
class Even:
    """Anything within a range is equally likely: ``nominal·(1 ± half_width)``.

    Attributes
    ----------
    half_width : float
        Share of the value, below 1. [-]
    """

    half_width: float

    def __post_init__(self) -> None:
        """Refuse a width that is none or reaches zero."""
        _width("a half width", self.half_width)
        if self.half_width >= 1.0:
            raise InputError(f"a half width must be below 1, got {self.half_width:g}")

    def value(self, nominal: float, z: Real) -> Real:
        """Value for standard normal numbers of any shape."""
        from scipy.special import ndtr

        return np.asarray(nominal * (1.0 + self.half_width * (2.0 * ndtr(z) - 1.0)))

    def narrowed(self, factor: float) -> Even:
        """The same with its width times a factor."""
        return Even(self.half_width * factor)


# Standard deviations (common practice, no source, unless the line says otherwise). Data sheets tend to promise ± 10 to
# ± 20 % without saying for how many of the units; a third to a half of that is taken as the standard deviation.
DEFAULTS: Mapping[str, Stray] = MappingProxyType({
    "driver.re": Relative(0.025),
    "driver.bl": Relative(0.04),
    "driver.mms": Relative(0.03),
    "driver.cms": Relative(0.10),
    "driver.rms": Relative(0.12),  # at a given compliance, see `boxwright.spread.boxes`
    "driver.sd": Relative(0.015),
    "driver.le": Relative(0.06),
    "driver.xmax": Relative(0.05),
    "passive.mmp": Relative(0.02),
    "passive.cmp": Relative(0.10),
    "passive.rmp": Relative(0.12),
    "passive.sp": Relative(0.015),
    "passive.xmax": Relative(0.05),
    "passive.added_mass": Absolute(0.0005),  # a kitchen scale
    "vent.length": Absolute(0.001),
    "box.volume": Relative(0.01),  # what stands in the box is known to a tenth or so
    "box.wall": Absolute(0.0003, 0.0005),  # EN 315 (from memory): about ± 0.9 mm for 18 mm, taken as three of these
    # a tight box has 5 to 10, 7 in the middle [small1973vented]: two of these either way
    "box.q_leak": Relative(0.175),
    "box.q_absorption": Relative(0.175),
})  # fmt: skip
"""What strays by how much, by key."""

LABELS: Mapping[str, str] = MappingProxyType({
    "driver.re": "resistance of the voice coil",
    "driver.bl": "force factor of the driver",
    "driver.mms": "moving mass of the driver",
    "driver.cms": "suspension of the driver",
    "driver.rms": "mechanical loss of the driver",
    "driver.sd": "cone area of the driver",
    "driver.le": "inductance of the voice coil",
    "driver.xmax": "linear travel of the driver",
    "passive.mmp": "moving mass of the passive",
    "passive.cmp": "suspension of the passive",
    "passive.rmp": "mechanical loss of the passive",
    "passive.sp": "cone area of the passive",
    "passive.xmax": "linear travel of the passive",
    "passive.added_mass": "weighing of the added mass",
    "vent.length": "length of the vent",
    "box.volume": "net volume",
    "box.wall": "thickness of the sheet",
    "box.q_leak": "leaks",
    "box.q_absorption": "absorption",
})  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """All tolerances of a run.

    Attributes
    ----------
    strays : mapping of str to Stray
        In place of the defaults of the same key; keys are those of ``DEFAULTS``.
    alike : float
        Correlation between equal units of one box, 0 to 1: 1 for parts of one batch that all stray the same way, the
        cautious side. N units that stray by themselves act as their mean, with 1/√N of the width. [-]
    correlations : tuple of (str, str, float)
        Further correlations between keys, each −1 to 1. Those that physics gives are built in: fs follows cms and mms,
        rms follows the suspension.
    scale : float
        Times every width; 0: all boxes are equal. [-]
    """

    strays: Mapping[str, Stray] = field(default_factory=dict)
    alike: float = 1.0
    correlations: tuple[tuple[str, str, float], ...] = ()
    scale: float = 1.0

    def __post_init__(self) -> None:
        """Refuse unknown keys and impossible shares."""
        import difflib

        for key in (*self.strays, *(k for a, b, _ in self.correlations for k in (a, b))):
            if key not in DEFAULTS:
                close = difflib.get_close_matches(key, DEFAULTS, n=1)
                near = f"the nearest known is {close[0]}" if close else f"known are {', '.join(DEFAULTS)}"
                raise InputError(f"a tolerance must be of a known quantity, got {key!r}", mend=near)
        if not 0.0 <= self.alike <= 1.0:
            raise InputError(f"alike must be 0 to 1, got {self.alike:g}")
        _width("scale", self.scale)
        for a, b, r in self.correlations:
            if not -1.0 <= r <= 1.0:
                raise InputError(f"correlation of {a} and {b} must be −1 to 1, got {r:g}")

    def of(self, key: str, units: int = 1) -> Stray:
        """How a quantity strays, as the mean of so many units."""
        stray = self.strays.get(key, DEFAULTS[key])
        narrow = math.sqrt(self.alike + (1.0 - self.alike) / units)
        return stray.narrowed(self.scale * narrow)

    def mixing(self, keys: tuple[str, ...]) -> Real | None:
        """Lower triangle that turns independent numbers into correlated ones, shape (d, d); None: there are none.

        Raises
        ------
        InputError
            If the correlations contradict each other.
        """
        if not self.correlations:
            return None
        matrix = np.eye(len(keys))
        for a, b, r in self.correlations:
            for i, j in ((i, j) for i, k in enumerate(keys) for j, m in enumerate(keys) if (k, m) == (a, b)):
                matrix[i, j] = matrix[j, i] = r
        try:
            return np.asarray(np.linalg.cholesky(matrix + 1e-12 * np.eye(len(keys))))
        except np.linalg.LinAlgError as error:
            raise InputError(
                "correlations must be possible together, got some that contradict each other"
            ) from error


def standard_draws(count: int, variables: int, seed: int) -> Real:
    """Independent standard normal numbers, shape (variables, count); the same for a seed whoever computes them."""
    return np.random.default_rng(seed).standard_normal((variables, count))
