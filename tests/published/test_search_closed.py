"""The search's closed boxes against Small's closed-box formulas."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.small_store import AIR, BOARD, OFFER, brief, driver

from boxwright.acoustics.response import predict
from boxwright.design import Filter, Source
from boxwright.errors import InputError
from boxwright.parts import Coil
from boxwright.search.candidate import COLUMNS
from boxwright.search.families import PartsOffer
from boxwright.search.points import judge_points
from boxwright.search.prepare import prepare
from boxwright.search.run import shortlist

AT = {name: i for i, name in enumerate(COLUMNS)}
HIGH = Filter(kind="high-pass", family="butterworth", order=2, frequency=30.0)


def _unlimited(**changes: object):  # type: ignore[no-untyped-def]
    """No coil inductance, no travel or power limit, no leak: the driver of the formulas."""
    return driver(coil=Coil(), xmax=None, xmech=None, pmax=None, **changes)


@pytest.mark.parametrize("qes", [0.3, 0.45, 0.7, 1.1])
def test_reach_is_that_of_the_formula(qes: float) -> None:
    """``f3 = fc·√((x + √(x² + 4))/2)``, ``x = 1/Qtc² − 2``; above Qtc = 1/√2 the level goes over its asymptote.

    The passband level is the asymptote in both (small1972closed). A leak is left out: Q_L 1e9. The search reads
    frequencies a fifth apart here and interpolates: 0.8 %.
    """
    part = _unlimited(qes=qes, fs=24.0)
    asked = brief(
        families=("closed",), level=70.0, reach=90.0, band_top=200.0, content_from=15.0, weight=None
    )
    asked = replace(
        asked, source=Source(), protection="given", limits=replace(asked.limits, q_leak=1e9, budget=None)
    )
    task = prepare(asked, PartsOffer(drivers=(part,), sheets=(BOARD,))).tasks[0]
    inside = np.geomspace(*task.grid.inside[[0, -1]], 25)
    points = np.column_stack((inside, np.ones(25), np.ones(25)))
    rows, _ = judge_points(task, np.zeros(25, np.int64), points, full=True)
    checked = 0
    for row in rows:
        alpha = part.vas(AIR) / row[AT["net"]]
        fc, qtc = part.fs * math.sqrt(1.0 + alpha), part.qts * math.sqrt(1.0 + alpha)
        x = 1.0 / qtc**2 - 2.0
        f3 = fc * math.sqrt((x + math.sqrt(x * x + 4.0)) / 2.0)
        assert row[AT["tuning"]] == pytest.approx(fc, rel=1e-9)
        kept = row[AT["reach_short"]] == 0.0
        assert kept == (f3 <= 90.0) or f3 == pytest.approx(90.0, rel=0.008)
        if 16.0 < f3 < 180.0:
            checked += 1
            assert row[AT["reach"]] == pytest.approx(f3, rel=0.008)
    assert checked > 10


def test_a_high_pass_in_the_source_contradicts_no_protection() -> None:
    asked = replace(brief(), source=Source(filters=(HIGH,)), protection="none")
    with pytest.raises(
        InputError, match='protection must be "given" or "chosen" where the source has a high-pass'
    ):
        shortlist(asked, OFFER)


@pytest.mark.parametrize("protection", ["none", "given", "chosen"])
def test_which_high_pass_is_used(protection: str) -> None:
    filters = () if protection == "none" else (HIGH,)
    asked = brief(families=("vented", "passive"), level=94.0)
    asked = replace(asked, protection=protection, source=replace(asked.source, filters=filters))  # type: ignore[arg-type]
    found = shortlist(asked, OFFER, workers=2)
    assert found.candidates
    for candidate in found.candidates:
        used = candidate.design.source.filters
        if protection == "chosen":
            assert used == (HIGH, *((candidate.high_pass,) if candidate.high_pass else ()))
        else:
            assert used == filters
            assert candidate.high_pass is None
        low = np.geomspace(0.5 * asked.target.reach, asked.target.reach, 50)
        trial = predict(candidate.design, frequency=low, voltage=1.0)
        voltage = 10.0 ** ((94.0 - trial.level[-1]) / 20.0)
        kinds = ("driver travel", "passive travel", "air speed")
        assert max(np.max(voltage / limit.voltage) for limit in trial.limits if limit.name in kinds) < 1.01
