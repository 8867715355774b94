"""Spread against statistics that need no loudspeaker: quantiles, linear propagation, shares of a variance."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.boxes import closed_box, driver, passive_box, vented_box
from tests.support.cases import load

from boxwright.acoustics.ends import vent_effective_length
from boxwright.design import Design
from boxwright.spread.boxes import draw, variables_of
from boxwright.spread.montecarlo import spread_of
from boxwright.spread.sensitivity import sensitivity, shares_of_variance
from boxwright.spread.tolerances import Even, Relative, Tolerances, standard_draws

CASES = {case.name: case for case in load("spread.toml")}
NONE = {key: Relative(0.0) for key in (
    "driver.re", "driver.bl", "driver.mms", "driver.cms", "driver.rms", "driver.sd", "driver.le", "driver.xmax",
    "passive.mmp", "passive.cmp", "passive.rmp", "passive.sp", "passive.xmax", "passive.added_mass", "vent.length",
    "box.volume", "box.wall", "box.q_leak", "box.q_absorption",
)}  # fmt: skip


def only(**strays: float) -> Tolerances:
    """Nothing strays but what is named, `driver_cms` for driver.cms, by a relative standard deviation."""
    return Tolerances(
        strays={**NONE, **{key.replace("_", ".", 1): Relative(sd) for key, sd in strays.items()}}
    )


def test_ishigami() -> None:
    case = CASES["ishigami"]
    even = Even(0.5)

    def function(z: np.ndarray) -> np.ndarray:
        x = 2.0 * math.pi * (even.value(1.0, z) - 1.0)
        sines = np.sin(x[0])
        return (sines + case.inputs["a"] * np.sin(x[1]) ** 2 + case.inputs["b"] * x[2] ** 4 * sines)[None]

    first, total = shares_of_variance(function, 3, 8192, seed=5)
    case.check(**{f"{n}_{k + 1}": v[0, k] for n, v in (("first", first), ("total", total)) for k in range(3)})


def test_normal_quantiles() -> None:
    case = CASES["normal quantiles"]
    design = closed_box()
    variables = variables_of(design)
    boxes = draw(
        design, only(driver_bl=case.inputs["sd"]), variables, standard_draws(40_000, len(variables), 3)
    )
    z = np.log(boxes.driver["bl"] / design.driver.bl) / case.inputs["sd"]
    low, middle, high = np.quantile(z, (0.05, 0.5, 0.95))
    case.check(low=low, middle=middle, high=high)
    assert np.all(boxes.driver["mms"] == design.driver.mms)


def relative(values: np.ndarray) -> float:
    return float(np.std(np.log(values)))


def test_resonance_in_free_air_by_linear_propagation() -> None:
    """fs goes with mms and cms to the power −½."""
    design = Design(driver=driver())
    found = spread_of(design, tolerances=only(driver_mms=0.02, driver_cms=0.03), boxes=20_000)
    wanted = 0.5 * math.hypot(0.02, 0.03)
    assert relative(found.tuning) == pytest.approx(wanted, rel=0.02)  # standard error 0.5 %
    assert np.median(found.tuning) == pytest.approx(design.driver.fs, rel=1e-3)


def passive_powers(design: Design) -> dict[str, float]:
    """Powers with which fb of a passive box goes with each quantity, from ω² = (1/C + n·S²·K/V)/m."""
    (opening,) = design.openings
    part, volume = opening.passive, design.rear.volume
    air_spring = opening.count * part.sp**2 * design.air.bulk_modulus / volume
    share = air_spring / (air_spring + 1.0 / part.cmp)
    own = part.mmp / (part.mmp + opening.added_mass)
    return {
        "passive_sp": share, "passive_cmp": -0.5 * (1.0 - share), "box_volume": -0.5 * share, "passive_mmp": -0.5 * own,
    }  # fmt: skip


SMALL = {"passive_sp": 0.004, "passive_cmp": 0.02, "box_volume": 0.006, "passive_mmp": 0.01}


def test_tuning_of_a_passive_box_by_linear_propagation() -> None:
    design = replace(passive_box(), box=None)
    found = spread_of(design, tolerances=only(**SMALL), boxes=20_000)
    parts = {key: power * SMALL[key] for key, power in passive_powers(design).items()}
    assert relative(found.tuning) == pytest.approx(math.sqrt(sum(p * p for p in parts.values())), rel=0.02)


def test_shares_of_its_variance() -> None:
    design = replace(passive_box(), box=None)
    found = sensitivity(design, at=40.0, tolerances=only(**SMALL), points=2048)
    row = found.figures.index("tuning")
    parts = {key: (power * SMALL[key]) ** 2 for key, power in passive_powers(design).items()}
    keys = [variable.key.replace(".", "_") for variable in variables_of(design)]
    for k, key in enumerate(keys):
        wanted = parts.get(key, 0.0) / sum(parts.values())
        assert found.total[row, k] == pytest.approx(wanted, abs=0.02), key
        assert found.first[row, k] == pytest.approx(wanted, abs=0.03), key
    assert "cone area of the passive" in found.words[row].split("depends most on")[1].split("(")[0]


def test_tuning_of_a_vent_by_linear_propagation() -> None:
    """fb goes with the volume to the power −½, and with a vent's length by its share of the acoustic length."""
    design = replace(vented_box(), box=None, openings=vented_box().openings[:1])
    found = spread_of(design, tolerances=only(box_volume=0.01, vent_length=0.02), boxes=20_000)
    (vent,) = design.openings
    power = 0.5 * vent.length / vent_effective_length(vent)
    assert relative(found.tuning) == pytest.approx(math.hypot(0.005, power * 0.02), rel=0.02)


def test_level_in_the_passband_by_linear_propagation() -> None:
    """Far above resonance the pressure goes with bl·sd/(re·mms)."""
    design = replace(closed_box(), source=replace(closed_box().source, filters=()), box=None)
    design = replace(design, driver=replace(design.driver, coil=replace(design.driver.coil, le=0.0)))
    tolerances = only(driver_bl=0.02, driver_sd=0.01, driver_re=0.015, driver_mms=0.01)
    found = spread_of(design, tolerances=tolerances, frequency=[2900.0, 3000.0], boxes=20_000)
    decibels = 20.0 / math.log(10.0) * math.sqrt(0.02**2 + 0.01**2 + 0.015**2 + 0.01**2)
    width = found.level.high[1] - found.level.low[1]
    assert width == pytest.approx(2.0 * 1.6449 * decibels, rel=0.03)
