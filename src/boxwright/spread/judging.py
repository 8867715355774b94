"""Compiled judgement of many boxes: how low each reaches, how loud it plays cleanly, which limits it breaks."""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import math

from numba import njit

__all__ = ["judge_block"]

_fast = njit(cache=True, nogil=True, error_model="numpy")


@_fast
def judge_block(
    first, last, fixed, columns, curves, drive2, wanted2, span, reach_wanted, reach, clean2, broken
):
    """Reach, lowest clean level in the band and broken limits of boxes first to last.

    Parameters
    ----------
    drive2 : float
        Squared source voltage that is judged where no level is wanted. [V²]
    wanted2 : float
        Squared pressure wanted in the band; 0: the boxes are judged at ``drive2``. [Pa²]
    span : tuple of int
        First frequency of the content, first of the band, last + 1 of the band.
    reach_wanted : float
        Highest reach that counts as kept; inf: any. [Hz]
    reach, clean2 : ndarray, shape (n,)
        Written; NaN where a box has no reach within the frequencies. [Hz], [Pa²]
    broken : ndarray of int, shape (n,)
        Written: bits 0 driver travel, 1 voltage, 2 current, 3 rated power, 4 reach, 5 + s opening s.
    """
    content, band, stop = span
    w = fixed.w
    for j in range(first, last):
        highest = 0.0
        start = 0
        for i in range(w.size):
            plain2 = curves.flow2[i, j] * fixed.plain2[i]
            if plain2 > highest:
                highest = plain2
                start = i
        if fixed.far2 > 0.0:
            push = columns.bl[j] * columns.sd[j] / ((columns.re[j] + fixed.series) * columns.mms[j])
            highest = min(highest, fixed.far2 * push * push)
        target2 = 0.5 * highest
        found = math.nan
        for i in range(start - 1, -1, -1):
            lower = curves.flow2[i, j] * fixed.plain2[i]
            if lower < target2:
                upper = curves.flow2[i + 1, j] * fixed.plain2[i + 1]
                part = math.log(target2 / lower) / math.log(upper / lower)
                found = w[i] * (w[i + 1] / w[i]) ** part / (2.0 * math.pi)
                break
        reach[j] = found

        lowest = math.inf
        bits = 0
        if reach_wanted < math.inf and not found <= reach_wanted:  # true for NaN as well
            bits |= 16
        for i in range(content, stop):
            in_band = i >= band
            if in_band:
                lowest = min(lowest, curves.clean2[i, j])
            # in the band the level wanted at each note, below it the drive that the lowest note takes
            at = i if in_band else band
            needed = drive2
            if wanted2 > 0.0:
                needed = wanted2 / (curves.flow2[at, j] * fixed.transfer2[at])
            needed = needed * (1.0 - 1e-9)
            if needed * curves.flow2[i, j] * fixed.transfer2[i] <= curves.clean2[i, j]:
                continue
            travel = columns.travel[j]
            if needed * curves.velocity2[i, j] > 0.5 * travel * travel * w[i] * w[i]:
                bits |= 1
            if needed * fixed.gain2[i] > fixed.voltage2:
                bits |= 2
            if needed * curves.current2[i, j] > fixed.current2:
                bits |= 4
            if needed * curves.current2[i, j] > columns.power2[j]:
                bits |= 8
            for s in range(fixed.behind.size):
                allowed = columns.allowed[s, j] * (w[i] if fixed.vent[s] == 0 else 1.0)
                if needed * curves.opening2[s, i, j] > 0.5 * allowed * allowed:
                    bits |= 32 << s
        clean2[j] = lowest
        broken[j] = bits
