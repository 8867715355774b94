"""The spread of designs that the compiled path does not take: each box predicted in full."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import filters, placement
from boxwright.acoustics.response import REFERENCE_PRESSURE, Response, predict
from boxwright.spread.batch import Batch, Judged, Progress, Wanted, empty_curves, in_turn, span_of
from boxwright.spread.boxes import Boxes, variant

if TYPE_CHECKING:
    from boxwright.design import Design

__all__ = ["run_slow"]

Real = NDArray[np.float64]

_BITS = {"driver travel": 0, "amplifier voltage": 1, "amplifier current": 2, "rated power": 3}


def _broken(found: Response, wanted: Wanted, span: tuple[int, int, int]) -> int:
    """Bits as of `boxwright.spread.judging.judge_block`."""
    content, band, stop = span
    if wanted.pressure > 0.0:
        needed = wanted.pressure / (REFERENCE_PRESSURE * 10.0 ** (found.level / 20.0))
        needed[:band] = needed[band]
    else:
        needed = np.full(found.frequency.size, wanted.voltage)
    bits = 0
    openings = 0
    for limit in found.limits:
        bit = _BITS.get(limit.name)
        if bit is None:
            bit = 5 + openings
            openings += 1
        if np.any(limit.voltage[content:stop] < needed[content:stop] * (1.0 - 5e-10)):
            bits |= 1 << bit
    if not (found.reach is not None and found.reach <= wanted.reach) and math.isfinite(wanted.reach):
        bits |= 16
    return bits


def run_slow(
    design: Design,
    boxes: Boxes,
    frequency: Real,
    wanted: Wanted,
    *,
    workers: int,
    progress: Progress | None = None,
) -> Batch:
    """As `boxwright.spread.batch.run_batch`, for any design.

    Parameters
    ----------
    frequency : ndarray, shape (nf,)
        Rising; must hold the notes of ``wanted``. [Hz]
    """
    n = boxes.count
    w = 2.0 * np.pi * frequency
    curves = empty_curves(frequency.size, len(design.openings), n)
    transfer2 = np.abs(placement.transfer(design.placement, design.air, frequency)) ** 2
    gain2 = np.abs(filters.cascade(design.source.filters, frequency)) ** 2
    reach, tuning, clean2 = np.empty(n), np.empty(n), np.empty(n)
    broken = np.zeros(n, np.int64)
    span = span_of(frequency, wanted)

    def one(index: int) -> int:
        found = predict(variant(design, boxes, index), frequency=frequency, voltage=1.0)
        pressure2 = (REFERENCE_PRESSURE * 10.0 ** (found.level / 20.0)) ** 2
        curves.flow2[:, index] = pressure2 / transfer2
        curves.velocity2[:, index] = 0.5 * (found.driver_travel * w) ** 2
        curves.impedance2[:, index] = np.abs(found.impedance) ** 2
        curves.current2[:, index] = gain2 / np.abs(found.impedance + design.source.series_resistance) ** 2
        for s, opening in enumerate(found.openings):
            curves.opening2[s, :, index] = 0.5 * (opening.volume * w) ** 2
        curves.clean2[:, index] = (REFERENCE_PRESSURE * 10.0 ** (found.clean_level / 20.0)) ** 2
        reach[index] = math.nan if found.reach is None else found.reach
        tuning[index] = found.tuning
        clean2[index] = curves.clean2[span[1] : span[2], index].min()
        broken[index] = _broken(found, wanted, span)
        return 1

    done = 0
    with ThreadPoolExecutor(workers, thread_name_prefix="boxwright") as pool:
        for size in in_turn(pool, one, range(n)):
            done += size
            if progress is not None and (done % 10 == 0 or done == n):
                progress(f"{done} of {n} boxes", done / n)
    return Batch(
        curves=curves,
        transfer2=transfer2,
        judged=Judged(reach=reach, tuning=tuning, clean2=clean2, broken=broken),
    )
