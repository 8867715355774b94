"""Highest clean level at level: the linear model where nothing bends, margins that hold, order where there is order."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.support.boxes import closed_box, passive_box, vented_box

from boxwright.acoustics.limits import air_speed_limit
from boxwright.acoustics.response import predict
from boxwright.design import Design, Facing, Filter, PassiveOpening, Source, VentOpening
from boxwright.errors import InputError
from boxwright.largesignal.clean import CleanLevels, clean_levels, twelfths
from boxwright.largesignal.model import model_of
from boxwright.largesignal.steady import steady
from boxwright.parts.curve import Curve, Curves

Real = NDArray[np.float64]
FLAT = Curve(polynomial=(1.0,))
STRAIGHT = Curves(bl=FLAT, kms=FLAT, le=FLAT)
BAND = np.geomspace(22.0, 110.0, 9)


def linear(design: Design) -> Design:
    """The same parts with constant curves; distortion and quadratic loss left out by what is tested."""
    openings = tuple(
        replace(o, passive=replace(o.passive, curves=Curves(kmp=FLAT)))
        if isinstance(o, PassiveOpening)
        else o
        for o in design.openings
    )
    return replace(design, driver=replace(design.driver, curves=STRAIGHT), openings=openings)


@pytest.fixture(scope="module")
def bent() -> tuple[Design, CleanLevels]:
    box = replace(passive_box(), source=Source(voltage=20.0, max_power=500.0, load=4.0))
    return box, clean_levels(box, BAND)


@pytest.mark.parametrize("facing", ["sideways", "down"])
def test_a_linear_passive_box_is_the_linear_model(facing: Facing) -> None:
    box = linear(passive_box())
    openings = tuple(replace(o, facing=facing) for o in box.openings if isinstance(o, PassiveOpening))
    box = replace(box, openings=openings, arrangement=replace(box.arrangement, facing=facing))
    for source in (box.source, Source(voltage=20.0), Source(voltage=5.0, max_current=6.0)):
        asked = replace(box, source=source)
        found = clean_levels(asked, BAND)
        expected = predict(asked, frequency=BAND)
        np.testing.assert_allclose(found.level, expected.clean_level, atol=1e-3)
        assert found.binding == expected.binding


def test_a_linear_closed_box_is_the_linear_model() -> None:
    box = linear(closed_box())
    found = clean_levels(box, BAND)
    expected = predict(box, frequency=BAND)
    np.testing.assert_allclose(found.level, expected.clean_level, atol=1e-3)
    assert found.binding == expected.binding
    # and the margin of each limit is how far the linear model has it away
    by_name = {limit.name: limit.voltage for limit in expected.limits}
    for limit in found.limits:
        if limit.name in by_name:
            seen = np.isfinite(limit.voltage)
            gain = np.ones(BAND.size)
            np.testing.assert_allclose(limit.voltage[seen], (by_name[limit.name] * gain)[seen], rtol=1e-4)


def used(design: Design, name: str, frequency: float, voltage: float) -> float:
    """How much of a limit one steady sine uses, from its waves alone."""
    model = model_of(design)
    found = steady(model, frequency, voltage, steps=512)
    rest = float(model.rest[model.travel_at[0]])
    if name == "driver travel":
        allowed, wave = design.driver.xmax, found.driver_travel
    elif name == "passive travel":
        (opening,) = design.openings
        assert isinstance(opening, PassiveOpening)
        allowed, wave = opening.passive.xmax, found.openings[0]
        rest = float(model.rest[model.travel_at[1]])
    elif name == "air speed":
        (vent,) = design.openings
        assert isinstance(vent, VentOpening)
        allowed, wave, rest = air_speed_limit(vent), found.openings[0], 0.0
    elif name == "distortion":
        return float(found.pressure.distortion) / 0.1
    else:
        rms = math.sqrt(0.5 * float(np.sum(found.current.harmonics[1:] ** 2)))
        limit = design.source.current_limit
        if name == "rated power":
            assert design.driver.pmax is not None
            limit = math.sqrt(design.driver.pmax / design.driver.re)
        assert limit is not None
        return rms / limit
    assert allowed is not None
    out, back = float(wave.highest) - rest, rest - float(wave.lowest)
    return max(out / (allowed - rest), back / (allowed + rest))


def check_margins(design: Design, found: CleanLevels) -> int:
    checked = 0
    for limit, margin in zip(found.limits, found.margins(), strict=True):
        if limit.name == "amplifier voltage":
            continue
        for k, f in enumerate(found.frequency):
            if not np.isfinite(margin[k]):
                continue
            assert margin[k] >= -1e-9
            voltage = float(found.voltage[k]) * 10.0 ** (float(margin[k]) / 20.0)
            # a cubic over steps of 3 dB: 0.05 dB where the limit binds, 0.2 dB farther up, where motion bends more;
            # where the motion leaps within a step, no more is known than the step
            allowed = 0.006 if limit.name == found.binding[k] else 0.02
            share = used(design, limit.name, float(f), voltage)
            if abs(share - 1.0) > allowed:
                grid = found.sweep.voltage
                step = int(np.searchsorted(grid, voltage))
                below, above = (
                    used(design, limit.name, float(f), float(v)) for v in grid[step - 1 : step + 1]
                )
                assert below < 1.0 < above, (limit.name, f)
                assert above > 3.0 * below, (limit.name, f, share)
            checked += 1
    return checked


def test_raising_the_drive_by_a_margin_reaches_that_limit(bent: tuple[Design, CleanLevels]) -> None:
    assert check_margins(*bent) > 20


def test_the_same_in_a_vented_box() -> None:
    box = vented_box()
    box = replace(box, openings=box.openings[:1], source=Source(voltage=20.0, max_power=300.0, load=4.0))
    assert check_margins(box, clean_levels(box, BAND[::2])) > 8


def test_level_is_that_of_a_steady_sine(bent: tuple[Design, CleanLevels]) -> None:
    design, found = bent
    for k, f in enumerate(BAND):
        there = steady(model_of(design), float(f), float(found.voltage[k]))
        level = 20.0 * math.log10(float(there.pressure.harmonics[1]) / math.sqrt(2.0) / 20e-6)
        assert found.level[k] == pytest.approx(level, abs=0.02)
        assert found.distortion[k] == pytest.approx(float(there.pressure.distortion), rel=0.03)


def test_filters_change_the_drive_and_not_what_is_clean(bent: tuple[Design, CleanLevels]) -> None:
    design, found = bent
    high_pass = Filter(kind="high-pass", order=2, frequency=30.0)
    filtered = replace(design, source=replace(design.source, filters=(high_pass,)))
    np.testing.assert_allclose(clean_levels(filtered, BAND).level, found.level, atol=0.02)


def test_a_stricter_threshold_is_never_louder() -> None:
    box = replace(passive_box(), source=Source(voltage=20.0, max_power=1500.0, load=4.0))
    strict, usual, loose = (clean_levels(box, BAND, threshold=share) for share in (0.01, 0.05, 0.3))
    assert np.all(strict.level <= usual.level + 1e-6)
    assert np.all(usual.level <= loose.level + 1e-6)
    assert np.any(strict.level < usual.level - 1.0)
    assert np.all(strict.distortion <= 0.01 * 1.001)


def test_a_stiffening_passive_costs_clean_level() -> None:
    """Near the tuning the passive makes the sound: stiffened it needs a cone that moves more, and bends the sound."""
    box = linear(passive_box())
    (opening,) = box.openings
    assert isinstance(opening, PassiveOpening)
    near = np.array([predict(box).tuning * 0.85, predict(box).tuning])
    levels = []
    for share in (0.0, 1.0, 3.0):
        stiff = Curve(polynomial=(1.0, 0.0, share / 0.016**2))
        part = replace(opening.passive, curves=Curves(kmp=stiff))
        sideways = replace(opening, passive=part, facing="sideways")
        asked = replace(box, openings=(sideways,), source=Source(voltage=20.0, max_power=2000.0, load=4.0))
        found = clean_levels(asked, near)
        assert found.linear.clean_level == pytest.approx(predict(asked, frequency=near).clean_level)
        levels.append(found.level)
    assert np.all(levels[1] < levels[0] - 0.1)
    assert np.all(levels[2] < levels[1] - 0.1)


def test_voltage_for_a_level_gives_that_level(bent: tuple[Design, CleanLevels]) -> None:
    design, found = bent
    voltage, distortion = found.at_level(95.0)
    reached = np.flatnonzero(np.isfinite(voltage))
    assert reached.size >= 6
    for k in reached:
        there = steady(model_of(design), float(BAND[k]), float(voltage[k]))
        level = 20.0 * math.log10(float(there.pressure.harmonics[1]) / math.sqrt(2.0) / 20e-6)
        assert level == pytest.approx(95.0, abs=0.05)
        assert distortion[k] == pytest.approx(float(there.pressure.distortion), rel=0.05)


def test_a_part_that_hangs_beyond_its_travel_plays_nothing() -> None:
    box = passive_box()
    (opening,) = box.openings
    assert isinstance(opening, PassiveOpening)
    soft = replace(opening.passive, cmp=0.012, xmax=0.004)
    found = clean_levels(replace(box, openings=(replace(opening, passive=soft, facing="down"),)), BAND[:2])
    assert np.all(np.isneginf(found.level))
    assert found.binding == ("passive travel", "passive travel")


def test_twelfths_hold_the_third_octaves() -> None:
    found = twelfths(20.0, 100.0)
    np.testing.assert_allclose(found[1:] / found[:-1], 2.0 ** (1 / 12))
    assert np.min(np.abs(found - 1000.0 / 2.0**5)) < 1e-9
    with pytest.raises(InputError, match="band"):
        twelfths(50.0, 20.0)


def test_threshold_must_be_positive() -> None:
    with pytest.raises(InputError, match="threshold of distortion must be > 0"):
        clean_levels(closed_box(), BAND, threshold=0.0)
