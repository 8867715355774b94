"""Large-signal curves: a parameter over travel, as the ratio to its value at rest."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Curve", "Curves"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Ratio to the value at rest over travel (positive outward), by one of two ways.

    Attributes
    ----------
    polynomial : tuple of float
        Coefficients a0, a1, …: ``ratio = Σ aₖ·xᵏ``; empty when a table is given. [m⁻ᵏ]
    table : tuple of (float, float)
        Travel and ratio, travel strictly rising; empty when a polynomial is given. [m], [-]
    """

    polynomial: tuple[float, ...] = ()
    table: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """The curves that a driver (bl, kms, le) or a passive (kmp) may carry; None: not stated."""

    bl: Curve | None = None
    kms: Curve | None = None
    le: Curve | None = None
    kmp: Curve | None = None
