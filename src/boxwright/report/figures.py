"""Numbers as a reader wants them: three significant digits, their unit, one decimal for levels."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boxwright.quantity import Kind, show

__all__ = ["decibel", "hertz", "listed", "price", "span", "spans"]


def decibel(level: float) -> str:
    """A level or a difference of levels, to a tenth. [dB]."""
    if not math.isfinite(level):
        return "unlimited" if level > 0 else "none"
    return f"{level:.1f} dB".replace("-", "−")


def hertz(frequency: float) -> str:
    """A frequency with three digits."""
    return show(frequency, Kind.FREQUENCY)


def price(value: float) -> str:
    """A price without a currency, which the files do not state."""
    return f"{value:,.0f}" if value >= 1000 or value == round(value) else f"{value:,.2f}"


def span(low: float, high: float) -> str:
    """A band of frequencies, rounded to what the eye reads off a curve."""

    def rounded(f: float) -> str:
        return f"{f:.0f}" if f >= 20 else f"{f:.1f}"

    low_text, high_text = rounded(low), rounded(high)
    return f"at {low_text} Hz" if low_text == high_text else f"{low_text} to {high_text} Hz"


def spans(frequency: NDArray[np.float64], inside: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Bands of neighbouring frequencies at which something holds.

    Parameters
    ----------
    frequency : ndarray, shape (nf,)
        Rising. [Hz]
    inside : ndarray of bool, shape (nf,)
        Whether it holds there.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], inside.astype(np.int8), [0]))))
    return [
        (float(frequency[a]), float(frequency[b - 1])) for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def listed(words: list[str]) -> str:
    """Join words as a sentence would: "a, b and c"."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else ""
