"""Closed boxes: reach, peaks of response and of travel against the second-order relations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.support.cases import Case, load
from tests.support.normalised import FS, closed, highest, last_crossing, passband_level

from boxwright.acoustics.response import predict

ALPHA = 3.0
FC = FS * math.sqrt(1.0 + ALPHA)


@pytest.mark.parametrize("case", load("alignments_closed.toml"), ids=lambda c: c.name)
def test_reach_and_peaks(case: Case) -> None:
    design = closed(qtc=case.inputs["qtc"], alpha=ALPHA)
    reference = passband_level(design)
    part = design.driver
    still = math.sqrt(2.0) * part.bl / part.re * part.cms / (1.0 + ALPHA)

    def gain(frequency: np.ndarray) -> np.ndarray:
        return predict(design, frequency=frequency).level - reference

    def travel(frequency: np.ndarray) -> np.ndarray:
        return predict(design, frequency=frequency).driver_travel / still

    def at(decibel: float) -> float:
        return last_crossing(gain, decibel, 0.1 * FC, 10.0 * FC) / FC

    found = {"f3": at(-10.0 * math.log10(2.0)), "f6": at(-6.0), "f10": at(-10.0)}
    if "f_peak" in case.expected:
        frequency, found["peak_db"] = highest(gain, 0.5 * FC, 10.0 * FC)
        found["f_peak"] = frequency / FC
        frequency, found["travel"] = highest(travel, 0.05 * FC, 10.0 * FC)
        found["f_travel"] = frequency / FC
    case.check(**found)
