"""The compiled path against the response of each box predicted by itself, for every family."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.boxes import passive_box, vented_box
from tests.support.random_designs import designs

from boxwright.acoustics.response import predict
from boxwright.acoustics.tuning import resonance_of
from boxwright.design import Design
from boxwright.spread.batch import Wanted, out_of_reach, run_batch, tunings
from boxwright.spread.boxes import draw, variables_of, variant
from boxwright.spread.ranks import order_statistics
from boxwright.spread.slow import run_slow
from boxwright.spread.tolerances import Absolute, Tolerances, standard_draws

FREQUENCY = np.geomspace(8.0, 400.0, 61)
JUDGED = Wanted(
    pressure=0.0, voltage=14.0, content=FREQUENCY[0], low=FREQUENCY[10], high=FREQUENCY[40], reach=math.inf
)
ALL = {name: d for name, d in designs(seed=11, each=6).items() if not out_of_reach(d)}
UP = replace(passive_box(), arrangement=replace(passive_box().arrangement, facing="up"))
ALL |= {"with a box": passive_box(), "two vents": vented_box(), "a cone that hangs": UP}


def rms_level(squares: np.ndarray) -> np.ndarray:
    return 10.0 * np.log10(squares / 4e-10)


def check_box(design: Design, tolerances: Tolerances) -> None:
    variables = variables_of(design)
    boxes = draw(design, tolerances, variables, standard_draws(40, len(variables), 2))
    batch = run_batch(design, boxes, FREQUENCY, JUDGED)
    w = 2.0 * np.pi * FREQUENCY
    for k in (0, 23):
        found = predict(variant(design, boxes, k), frequency=FREQUENCY, voltage=1.0)
        c = batch.curves
        np.testing.assert_allclose(rms_level(c.flow2[:, k] * batch.transfer2), found.level, atol=1e-8)
        np.testing.assert_allclose(np.sqrt(2.0 * c.velocity2[:, k]) / w, found.driver_travel, rtol=1e-9)
        np.testing.assert_allclose(np.sqrt(c.impedance2[:, k]), np.abs(found.impedance), rtol=1e-9)
        for s, opening in enumerate(found.openings):
            np.testing.assert_allclose(np.sqrt(2.0 * c.opening2[s, :, k]) / w, opening.volume, rtol=1e-9)
        if np.all(np.isfinite(found.clean_level)):
            np.testing.assert_allclose(rms_level(c.clean2[:, k]), found.clean_level, atol=1e-8)
        assert batch.judged.tuning[k] == pytest.approx(found.tuning, rel=1e-12)


@pytest.mark.parametrize("name", ALL)
def test_every_box_is_what_it_would_be_alone(name: str) -> None:
    check_box(ALL[name], Tolerances())


def test_vents_that_stray_far_take_the_other_road() -> None:
    """A vent cut by hand to 20 cm: too far for the short piece's power series."""
    check_box(vented_box(), Tolerances(strays={"vent.length": Absolute(0.1)}))


@pytest.mark.parametrize("design", [passive_box(), vented_box()], ids=["passive", "vented"])
@pytest.mark.parametrize("pressure", [0.0, 2.0], ids=["voltage", "level"])
def test_both_paths_judge_alike(design: Design, pressure: float) -> None:
    wanted = Wanted(
        pressure=pressure,
        voltage=20.0,
        content=FREQUENCY[12],
        low=FREQUENCY[24],
        high=FREQUENCY[45],
        reach=36.0,
    )
    variables = variables_of(design)
    boxes = draw(design, Tolerances(), variables, standard_draws(60, len(variables), 4))
    quick = run_batch(design, boxes, FREQUENCY, wanted)
    slow = run_slow(design, boxes, FREQUENCY, wanted, workers=2)
    np.testing.assert_allclose(quick.judged.reach, slow.judged.reach, rtol=2e-3)
    clear = np.abs(slow.judged.reach / 36.0 - 1.0) > 2e-3  # elsewhere they may read the reach to either side
    assert clear.sum() > 40
    np.testing.assert_array_equal(quick.judged.broken[clear], slow.judged.broken[clear])
    assert len(set(quick.judged.broken)) > 1
    np.testing.assert_allclose(quick.judged.clean2, slow.judged.clean2, rtol=1e-9)
    for ours, theirs in zip(quick.curves, slow.curves, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-8)


def test_tunings_are_the_single_ones() -> None:
    rng = np.random.default_rng(3)
    cab = rng.uniform(1e-7, 5e-7, 20)
    masses, stiffnesses = rng.uniform(20.0, 200.0, (3, 20)), rng.uniform(1e4, 1e6, (3, 20))
    for sets in (1, 2, 3):
        found = tunings(cab, list(masses[:sets]), list(stiffnesses[:sets]))
        for k in range(20):
            alone = resonance_of(cab[k], masses[:sets, k].tolist(), stiffnesses[:sets, k].tolist())
            assert found[k] == pytest.approx(alone, rel=1e-12)


@pytest.mark.parametrize("kind", ["lognormal", "equal", "some infinite", "all infinite", "far outlier"])
def test_order_statistics_are_those_of_a_full_sort(kind: str) -> None:
    rows = np.exp(np.random.default_rng(8).standard_normal((7, 999)))
    if kind == "equal":
        rows[:] = 3.5
    elif kind == "some infinite":
        rows[:, ::3] = np.inf
    elif kind == "all infinite":
        rows[:] = np.inf
    elif kind == "far outlier":
        rows[:, 5] = 1e300
    ranks = np.array([0, 49, 499, 948, 998])
    out = np.empty((5, 7))
    order_statistics(rows, ranks, out)
    np.testing.assert_array_equal(out, np.sort(rows, axis=1)[:, ranks].T)
