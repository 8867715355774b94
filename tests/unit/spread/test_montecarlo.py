"""Ten thousand boxes: the same for a seed, nominal without tolerances, stoppable, honest about short cuts."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.boxes import closed_box, passive_box, vented_box
from tests.support.random_designs import designs

from boxwright.air import air, pressure_at_altitude
from boxwright.brief import Target
from boxwright.design import Arrangement, Placement, Room
from boxwright.errors import CannotSolve, InputError
from boxwright.spread.boxes import draw, variables_of, variant
from boxwright.spread.cases import aged, at_altitude, at_temperature, cases_of
from boxwright.spread.montecarlo import Spread, spread_of
from boxwright.spread.sensitivity import sensitivity
from boxwright.spread.tolerances import DEFAULTS, LABELS, Absolute, Even, Relative, Tolerances, standard_draws

TARGET = Target(reach=37.0, level=98.0)
COUPLED = designs(seed=3, each=1)["coupled 0"]
LINE = designs(seed=3, each=1)["line 0"]


def same(a: Spread, b: Spread) -> bool:
    curves = ("level", "driver_travel", "impedance", "clean_level")
    bands = [(getattr(a, c), getattr(b, c)) for c in curves] + list(zip(a.openings, b.openings, strict=True))
    return (
        all(np.array_equal(getattr(x, q), getattr(y, q)) for x, y in bands for q in ("low", "middle", "high"))
        and np.array_equal(a.reach, b.reach, equal_nan=True)
        and (a.keeping, a.breaking, a.words) == (b.keeping, b.breaking, b.words)
    )


@pytest.mark.parametrize(
    "design", [passive_box(), vented_box(), closed_box()], ids=["passive", "vented", "closed"]
)
def test_without_tolerances_every_box_is_nominal(design) -> None:  # type: ignore[no-untyped-def]
    found = spread_of(design, tolerances=Tolerances(scale=0.0), boxes=30)
    nominal = found.nominal
    for bands, curve in (
        (found.level, nominal.level),
        (found.driver_travel, nominal.driver_travel),
        (found.impedance, np.abs(nominal.impedance)),
        (found.clean_level, nominal.clean_level),
    ):
        for quantile in (bands.low, bands.middle, bands.high):
            np.testing.assert_allclose(quantile, curve, rtol=1e-10)
    for bands, opening in zip(found.openings, nominal.openings, strict=True):
        curve = opening.travel if opening.travel is not None else opening.air_speed
        np.testing.assert_allclose(bands.high, curve, rtol=1e-10)
    assert found.reach == pytest.approx(nominal.reach, rel=1e-3)
    assert found.tuning == pytest.approx(nominal.tuning, rel=1e-12)
    assert found.keeping in (0.0, 1.0)


def test_same_seed_same_boxes_whatever_the_workers() -> None:
    one, two, three = (spread_of(passive_box(), boxes=3000, seed=7, workers=n) for n in (1, 2, 3))
    assert same(one, two)
    assert same(one, three)
    assert not same(one, spread_of(passive_box(), boxes=3000, seed=8))


def test_wider_tolerances_give_wider_bands() -> None:
    narrow, wide = (spread_of(passive_box(), tolerances=Tolerances(scale=s), boxes=2000) for s in (0.5, 2.0))
    assert np.all(wide.level.high - wide.level.low > 2.0 * (narrow.level.high - narrow.level.low))
    assert np.all(narrow.level.low <= narrow.level.middle)
    assert np.all(narrow.level.middle <= narrow.level.high)


def test_shares_of_boxes_that_keep_their_limits() -> None:
    found = spread_of(passive_box(), target=TARGET, boxes=4000)
    assert 0.0 < found.keeping < 1.0
    # the shares are those of the single boxes
    assert found.breaking["reach"] == pytest.approx(np.mean(~(found.reach <= 37.0)))
    short = np.mean(found.lowest_clean < 98.0)
    most = (
        max(share for name, share in found.breaking.items() if name != "reach")
        if len(found.breaking) > 1
        else 0.0
    )
    assert short <= 1.0 - found.keeping
    assert most <= 1.0 - found.keeping
    assert found.words[0].startswith("at 98 dB from 37 to 100 Hz")
    easier = spread_of(passive_box(), target=replace(TARGET, reach=40.0, level=92.0), boxes=4000)
    assert easier.keeping > found.keeping


def test_what_breaks_is_what_single_predictions_break() -> None:
    found = spread_of(passive_box(), boxes=2000)
    limits = {limit.name: limit for limit in found.nominal.limits}
    assert set(found.breaking) <= set(limits)
    assert found.breaking["driver travel"] > 0.5
    assert limits["driver travel"].voltage.min() < found.voltage * 1.2


def test_frequencies_asked_for_are_those_answered() -> None:
    found = spread_of(passive_box(), frequency=[31.0, 40.0, 63.0], target=TARGET, boxes=500)
    every = spread_of(passive_box(), frequency=[20.0, 31.0, 40.0, 63.0, 80.0], target=TARGET, boxes=500)
    np.testing.assert_array_equal(found.frequency, [31.0, 40.0, 63.0])
    np.testing.assert_allclose(found.level.high, every.level.high[1:4], rtol=1e-12)
    np.testing.assert_allclose(found.nominal.level, every.nominal.level[1:4], rtol=1e-12)


@pytest.mark.parametrize("design", [COUPLED, LINE], ids=["coupled", "line"])
def test_what_the_compiled_path_cannot_take_is_predicted_and_said(design) -> None:  # type: ignore[no-untyped-def]
    found = spread_of(design, boxes=25)
    assert any("predicted in full" in note for note in found.notes)
    assert found.boxes == 25
    still = spread_of(design, boxes=20, tolerances=Tolerances(scale=0.0))
    np.testing.assert_allclose(still.level.high, still.nominal.level, rtol=1e-9)
    with pytest.raises(CannotSolve, match="predicted in full"):
        sensitivity(design, at=40.0)


def test_progress_and_cancel() -> None:
    seen: list[float] = []

    def stop(_: str, share: float) -> None:
        seen.append(share)
        if share > 0.3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        spread_of(passive_box(), boxes=5000, progress=stop)
    assert seen == sorted(seen)
    assert seen[-1] < 0.9
    seen.clear()
    spread_of(passive_box(), boxes=500, progress=lambda _, share: seen.append(share))
    assert seen[-1] == 1.0


def test_answers_are_plain() -> None:
    found = spread_of(vented_box(), target=TARGET, boxes=200).to_dict()
    text = json.dumps(found, allow_nan=False)
    assert json.loads(text)["boxes"] == 200
    json.dumps(sensitivity(vented_box(), at=40.0, points=64).to_dict(), allow_nan=False)


def test_refusals() -> None:
    with pytest.raises(InputError, match="boxes must be"):
        spread_of(passive_box(), boxes=3)
    with pytest.raises(InputError, match="rising"):
        spread_of(passive_box(), frequency=[50.0, 40.0])
    with pytest.raises(InputError, match="workers"):
        spread_of(passive_box(), workers=0)
    with pytest.raises(InputError, match="content_from"):
        spread_of(passive_box(), target=Target(reach=40.0, level=90.0, content_from=50.0))
    with pytest.raises(InputError, match="nearest known is driver"):
        Tolerances(strays={"driver.cns": Relative(0.1)})
    with pytest.raises(InputError, match="alike"):
        Tolerances(alike=1.5)
    with pytest.raises(InputError, match="power of two"):
        sensitivity(passive_box(), at=40.0, points=100)
    with pytest.raises(InputError, match="no correlations"):
        sensitivity(
            passive_box(), at=40.0, tolerances=Tolerances(correlations=(("driver.bl", "driver.re", 0.5),))
        )
    with pytest.raises(CannotSolve, match="nothing strays"):
        sensitivity(passive_box(), at=40.0, tolerances=Tolerances(scale=0.0), points=64)
    for wrong in (-0.1, math.nan):
        with pytest.raises(InputError, match="standard deviation"):
            Relative(wrong)
    with pytest.raises(InputError, match="below 1"):
        Even(1.0)


def test_correlations() -> None:
    design = passive_box()
    variables = variables_of(design)
    z = standard_draws(20_000, len(variables), 1)
    tolerances = Tolerances(correlations=(("driver.bl", "driver.re", 0.7),))
    drawn = draw(design, tolerances, variables, z)
    bl, re = np.log(drawn.driver["bl"]), np.log(drawn.driver["re"])
    assert np.corrcoef(bl, re)[0, 1] == pytest.approx(0.7, abs=0.02)
    assert np.std(bl) == pytest.approx(0.04, rel=0.03)
    contradictory = (
        ("driver.bl", "driver.re", 0.9), ("driver.bl", "driver.mms", 0.9), ("driver.re", "driver.mms", -0.9),
    )  # fmt: skip
    with pytest.raises(InputError, match="contradict"):
        draw(design, Tolerances(correlations=contradictory), variables, z)


def test_loss_follows_the_suspension_and_fs_follows_cms() -> None:
    design = passive_box()
    variables = variables_of(design)
    still = {key: Relative(0.0) for key in DEFAULTS}
    tolerances = Tolerances(strays={**still, "driver.cms": Relative(0.2), "passive.cmp": Relative(0.2)})
    boxes = draw(design, tolerances, variables, standard_draws(50, len(variables), 6))
    for k in (0, 31):
        other = variant(design, boxes, k)
        assert other.driver.qms == pytest.approx(design.driver.qms, rel=1e-12)
        assert other.driver.fs == pytest.approx(
            design.driver.fs * math.sqrt(design.driver.cms / other.driver.cms), rel=1e-12
        )
        assert other.openings[0].passive.qmp == pytest.approx(design.openings[0].passive.qmp, rel=1e-12)


def test_units_that_stray_by_themselves_average_out() -> None:
    four = replace(closed_box(), arrangement=Arrangement(series=2, parallel=2))
    tolerances = [Tolerances(strays={"driver.bl": Relative(0.1)}, alike=a) for a in (1.0, 0.0)]
    spreads = []
    for each in tolerances:
        variables = variables_of(four)
        boxes = draw(four, each, variables, standard_draws(5000, len(variables), 1))
        spreads.append(float(np.std(np.log(boxes.driver["bl"]))))
    assert spreads[0] == pytest.approx(2.0 * spreads[1], rel=1e-9)


def test_a_thicker_sheet_takes_air() -> None:
    design = replace(passive_box(), box=replace(passive_box().box, wall=0.018))
    variables = variables_of(design)
    still = {key: Relative(0.0) for key in DEFAULTS}
    tolerances = Tolerances(strays={**still, "box.wall": Absolute(0.001)})
    z = np.zeros((len(variables), 1))
    z[[v.key for v in variables].index("box.wall")] = 1.0
    lost = design.rear.volume - draw(design, tolerances, variables, z).chambers["rear"]["volume"][0]
    w, h, d = (getattr(design.box, side) - 0.036 for side in ("width", "height", "depth"))
    # a millimetre off each of six inner faces
    assert lost == pytest.approx(2e-3 * (w * h + h * d + d * w), rel=1e-6)


def test_every_tolerance_has_a_label() -> None:
    assert DEFAULTS.keys() == LABELS.keys()


def test_cases() -> None:
    design = passive_box()
    cold = at_temperature(design, 263.15)
    assert cold.design.air == air(263.15)
    assert cold.design.driver.re == pytest.approx(design.driver.re * (1.0 - 0.0393 * 3.0), rel=1e-12)
    assert any("extrapolated" in note for note in cold.notes)
    high = at_altitude(design, 3000.0)
    assert high.design.air.pressure == pressure_at_altitude(3000.0)
    old = aged(design, 0.25).design
    assert old.driver.fs == pytest.approx(design.driver.fs / math.sqrt(1.25))
    assert old.driver.qms == pytest.approx(design.driver.qms)
    names = [case.name for case in cases_of(design)]
    assert names == [
        "as designed",
        "at -5 °C",
        "at 40 °C",
        "at 2000 m above the sea",
        "suspensions 20 % softer",
    ]
    tunings = [spread_of(case.design, boxes=200).nominal.tuning for case in cases_of(design)]
    assert tunings[3] < tunings[0]
    with pytest.raises(InputError, match="softer"):
        aged(design, -1.0)


def test_a_small_room_does_not_ask_for_more_than_it_sums() -> None:
    """A stiff driver in a car: the frequencies that help to read its reach stay where the room's modes are known."""
    cabin = Room(size=(2.2, 1.4, 1.2), source=(0.1, 0.1, 0.1), listener=(1.0, 0.6, 1.0))
    stiff = replace(closed_box().driver, cms=4e-7)
    design = replace(closed_box(), driver=stiff, placement=Placement(room=cabin))
    assert np.all(np.isfinite(spread_of(design, boxes=20).level.middle))
    assert sensitivity(design, at=40.0, points=64).figures


def test_too_much_for_the_memory_is_refused() -> None:
    with pytest.raises(InputError, match="ask for fewer"):
        spread_of(passive_box(), boxes=10_000_000)
