"""Data sheets: every sufficient part gives the same driver back, and the sheet is held against itself."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from boxwright.air import Air
from boxwright.errors import InputError
from boxwright.parts import Body, Coil, Driver, Passive
from boxwright.parts.completing import (
    DRIVER_SYMBOLS,
    PASSIVE_SYMBOLS,
    complete_driver,
    complete_passive,
)
from boxwright.parts.relations import driver_model, passive_model

AIR = Air(density=1.20, speed_of_sound=343.0)
DRIVER = Driver(re=5.6, bl=8.5, mms=0.032, cms=0.75e-3, rms=1.6, sd=0.0215)
PASSIVE = Passive(mmp=0.11, cmp=0.8e-3, rmp=1.6, sp=0.033)


def sheet(driver: Driver) -> dict[str, float]:
    """Every value of a driver, from the definitions as the papers state them (small1972direct)."""
    fs = 1.0 / (2.0 * math.pi * math.sqrt(driver.mms * driver.cms))
    qms = 2.0 * math.pi * fs * driver.mms / driver.rms
    qes = 2.0 * math.pi * fs * driver.mms * driver.re / driver.bl**2
    vas = AIR.density * AIR.speed_of_sound**2 * driver.sd**2 * driver.cms
    return {
        "re": driver.re, "bl": driver.bl, "mms": driver.mms, "cms": driver.cms, "rms": driver.rms, "sd": driver.sd,
        "diameter": 2.0 * math.sqrt(driver.sd / math.pi), "fs": fs, "qms": qms, "qes": qes,
        "qts": qms * qes / (qms + qes), "vas": vas,
        "eta0": 4.0 * math.pi**2 / AIR.speed_of_sound**3 * fs**3 * vas / qes,
    }  # fmt: skip


def passive_sheet(passive: Passive) -> dict[str, float]:
    """Every value of a passive (small1974)."""
    fp = 1.0 / (2.0 * math.pi * math.sqrt(passive.mmp * passive.cmp))
    return {
        "mmp": passive.mmp, "cmp": passive.cmp, "rmp": passive.rmp, "sp": passive.sp,
        "diameter": 2.0 * math.sqrt(passive.sp / math.pi), "fp": fp,
        "qmp": 2.0 * math.pi * fp * passive.mmp / passive.rmp,
        "vap": AIR.density * AIR.speed_of_sound**2 * passive.sp**2 * passive.cmp,
    }  # fmt: skip


def spread(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers spread evenly over the decades."""
    return st.floats(math.log(low), math.log(high)).map(math.exp)


drivers = st.builds(
    Driver,
    re=spread(1.0, 20.0),
    bl=spread(1.0, 50.0),
    mms=spread(0.002, 1.0),
    cms=spread(5e-5, 5e-3),
    rms=spread(0.2, 20.0),
    sd=spread(0.002, 0.2),
)
passives = st.builds(
    Passive, mmp=spread(0.005, 3.0), cmp=spread(5e-5, 5e-3), rmp=spread(0.1, 20.0), sp=spread(0.002, 0.2)
)
STORED = ("re", "bl", "mms", "cms", "rms", "sd")


@given(driver=drivers, data=st.data())
def test_any_sufficient_part_of_the_sheet_gives_the_driver_back(driver: Driver, data: st.DataObject) -> None:
    full = sheet(driver)
    assume(full["eta0"] < 1.0)
    order = data.draw(st.permutations(sorted(full)))
    # the shortest beginning of a random order that is sufficient, and a random number of values more
    model = driver_model(AIR)
    least = next(n for n in range(1, len(order) + 1) if model.sufficient(order[:n]))
    names = order[: data.draw(st.integers(least, len(order)))]
    completed = complete_driver({name: full[name] for name in names}, air=AIR)
    for name in STORED:
        # where qts is close to one branch, the other is a difference of nearly equal numbers
        loss = max(full["qms"] / full["qts"], full["qes"] / full["qts"])
        assert getattr(completed.driver, name) == pytest.approx(
            getattr(driver, name), rel=1e-9 + 1e-14 * loss
        )
    assert completed.implied == pytest.approx(full, rel=1e-8)
    assert completed.warnings == ()
    assert tuple(each.symbol for each in completed.disagreements) == tuple(names)
    assert all(abs(each.percent) < 1e-4 for each in completed.disagreements if each.percent is not None)


@given(passive=passives, data=st.data())
def test_any_sufficient_part_gives_the_passive_back(passive: Passive, data: st.DataObject) -> None:
    full = passive_sheet(passive)
    order = data.draw(st.permutations(sorted(full)))
    model = passive_model(AIR)
    least = next(n for n in range(1, len(order) + 1) if model.sufficient(order[:n]))
    names = order[: data.draw(st.integers(least, len(order)))]
    completed = complete_passive({name: full[name] for name in names}, air=AIR)
    for name in ("mmp", "cmp", "rmp", "sp"):
        assert getattr(completed.passive, name) == pytest.approx(getattr(passive, name), rel=1e-9)
    assert completed.implied == pytest.approx(full, rel=1e-9)
    assert completed.warnings == ()


@pytest.mark.parametrize("count", range(4))
def test_what_would_be_enough_is_enough_and_not_less(count: int) -> None:
    full = sheet(DRIVER)
    for names in combinations(full, count):
        with pytest.raises(InputError, match="driver must be determined by its values") as caught:
            complete_driver({name: full[name] for name in names}, air=AIR)
        named = [word.strip(",") for word in caught.value.mend.split(" would be enough")[0].split()]
        added = [word for word in named if word in full]
        assert added
        whole = complete_driver({name: full[name] for name in (*names, *added)}, air=AIR)
        assert whole.driver.sd == pytest.approx(DRIVER.sd)
        for left_out in added:
            fewer = {name: full[name] for name in (*names, *added) if name != left_out}
            with pytest.raises(InputError, match="would be enough"):
                complete_driver(fewer, air=AIR)


def test_one_missing_value_is_named() -> None:
    full = sheet(DRIVER)
    with pytest.raises(InputError) as caught:
        complete_driver(
            {name: full[name] for name in ("fs", "qms", "qes", "vas", "re")}, air=AIR, place="sheet.toml"
        )
    assert caught.value.message == (
        "driver must be determined by its values, got fs, qms, qes, vas, re, which leave bl, mms, cms, rms and sd open"
    )
    assert caught.value.mend == "sd would be enough"
    assert caught.value.place == "sheet.toml"


def test_values_shared_by_two_drivers_are_not_enough() -> None:
    # with eta0, fs, sd, re and rms given, qms rises and qes falls with mms, so two masses have the same qts
    full = sheet(DRIVER)
    names = ("eta0", "fs", "sd", "re", "rms", "qts")
    with pytest.raises(InputError, match="which two different drivers have in common; vas would be enough"):
        complete_driver({name: full[name] for name in names}, air=AIR)
    assert complete_driver(
        {name: full[name] for name in (*names, "vas")}, air=AIR
    ).driver.mms == pytest.approx(DRIVER.mms)


def test_stated_parameters_are_kept_to_the_last_bit() -> None:
    full = sheet(DRIVER)
    full["fs"] *= 1.01
    full["vas"] *= 0.98
    completed = complete_driver(full, air=AIR)
    assert completed.driver == DRIVER
    assert completed.taken == ("re", "sd", "bl", "mms", "cms", "rms")


def test_each_value_is_held_against_the_others() -> None:
    # stated fs is a fifth too high; the papers' definitions give what the others imply for each
    full = sheet(DRIVER)
    completed = complete_driver({**full, "fs": 1.2 * full["fs"]}, air=AIR)
    percent = {each.symbol: each.percent for each in completed.disagreements}
    implied = {each.symbol: each.implied for each in completed.disagreements}
    assert percent["fs"] == pytest.approx(20.0)
    assert implied["fs"] == pytest.approx(full["fs"])
    assert percent["mms"] == pytest.approx(100.0 * (1.2**2 - 1.0))  # the others imply mms ∝ 1/fs²
    assert percent["cms"] == pytest.approx(100.0 * (1.2**2 - 1.0))
    for name in ("re", "bl", "rms", "sd", "qms", "qes", "qts", "vas", "diameter", "eta0"):
        assert percent[name] == pytest.approx(0.0, abs=1e-9)
    assert len(completed.warnings) == 3
    (about_fs,) = [text for text in completed.warnings if text.startswith("fs ")]
    assert "39.0 Hz" in about_fs
    assert "32.5 Hz" in about_fs
    assert "+20.0 %" in about_fs
    assert "without fs the rest agree" in about_fs
    assert completed.driver == DRIVER


@pytest.mark.parametrize(("factor", "count"), [(1.049, 0), (1.051, 1), (0.949, 1), (0.951, 0)])
def test_five_percent_is_the_border_of_a_warning(factor: float, count: int) -> None:
    full = sheet(DRIVER)
    values = {name: full[name] for name in STORED} | {"qts": factor * full["qts"]}
    warnings = complete_driver(values, air=AIR).warnings
    assert sum(text.startswith("qts") for text in warnings) == count


def test_a_value_without_a_check_says_so() -> None:
    completed = complete_driver({name: sheet(DRIVER)[name] for name in STORED}, air=AIR)
    assert all(each.implied is None and each.percent is None for each in completed.disagreements)


IMPOSSIBLE: list[tuple[dict[str, Any], str]] = [
    ({"mms": -0.03}, "mms must be a number > 0, got -0.03"),
    ({"mms": 0.0}, "mms must be a number > 0, got 0.0"),
    ({"rms": 0}, "rms must be a number > 0, got 0"),
    ({"mms": math.nan}, "mms must be a number > 0, got nan"),
    ({"mms": math.inf}, "mms must be a number > 0, got inf"),
    ({"mms": True}, "mms must be a number > 0, got True"),
    ({"mms": "28 g"}, "mms must be a number > 0, got 28 g"),
    ({"mms": 1e30}, "mms must be from 1e-12 to 1e\\+12 in SI units"),
    ({"qts": 0.7}, "qts must be below qes, of which it is a part, got 0.7 with a qes of 0.5"),
    ({"qes": 9.0, "qts": 5.0}, "qts must be below qms, of which it is a part, got 5 with a qms of 4"),
    ({"eta0": 1.2}, 'eta0 must be below 1, got 1.2; a percentage is written as "0.5 %"'),
    ({"qs": 0.4}, "qs is not a value of this data sheet; the nearest known is q"),
    ({"zzz": 0.4}, "zzz is not a value of this data sheet; known are re, bl"),
]


@pytest.mark.parametrize(("values", "message"), IMPOSSIBLE)
def test_impossible_values_are_named(values: dict[str, Any], message: str) -> None:
    usual = {"re": 5.6, "sd": 0.0215, "fs": 32.0, "qms": 4.0, "qes": 0.5, "vas": 0.05}
    with pytest.raises(InputError, match=message):
        complete_driver({**usual, **values}, air=AIR)


def test_a_total_above_an_implied_branch_is_named() -> None:
    full = sheet(DRIVER)
    values = {name: full[name] for name in ("re", "bl", "mms", "cms", "sd")} | {"qts": 0.6}
    with pytest.raises(
        InputError, match=r"qts must be below the qes of 0\.5063 that the other values imply, got 0\.6"
    ):
        complete_driver(values, air=AIR)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"xmax": 0.0}, "xmax must be > 0 m"),
        ({"xmax": -0.01}, "xmax must be > 0 m"),
        ({"xmax": math.nan}, "xmax must be > 0 m"),
        ({"xmax": 0.01, "xmech": 0.005}, "xmech must not be below the xmax of 0.01 m"),
        ({"pmax": 0.0}, "pmax must be > 0 W"),
        ({"price": -1.0}, "price must be ≥ 0"),
        ({"creep": 1.0}, "creep must be from 0 to below 1"),
        ({"coils": 0}, "coils must be a whole number from 1 to 8"),
        ({"coils": 1.5}, "coils must be a whole number from 1 to 8"),
        ({"coils_as": "both"}, 'coils_as must be "series", "parallel" or "single"'),
        ({"coil": Coil(le=-1e-3)}, "le must be ≥ 0"),
        ({"coil": Coil(n=1.5)}, "coil_n must be from 0 to 1"),
        ({"body": Body(depth=-0.1)}, "depth must be > 0 m"),
        ({"body": Body(weight=-0.1)}, "weight must be ≥ 0"),
    ],
)
def test_impossible_other_fields_are_named(fields: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        complete_driver({name: sheet(DRIVER)[name] for name in STORED}, air=AIR, **fields)


def test_other_fields_are_passed_through() -> None:
    fields: dict[str, Any] = {
        "name": "invented", "coil": Coil(le=0.5e-3, k=0.02, n=0.65), "creep": 0.1, "xmax": 0.009, "xmech": 0.015,
        "pmax": 150.0, "coils": 2, "coils_as": "parallel", "body": Body(depth=0.1), "price": 80.0, "notes": "x",
    }  # fmt: skip
    completed = complete_driver({name: sheet(DRIVER)[name] for name in STORED}, air=AIR, **fields)
    for key, value in fields.items():
        assert getattr(completed.driver, key) == value
    other: dict[str, Any] = {"name": "invented", "xmax": 0.02, "added_mass_max": 0.2, "price": 30.0}
    passive = complete_passive(passive_sheet(PASSIVE), air=AIR, **other).passive
    for key, value in other.items():
        assert getattr(passive, key) == value
    with pytest.raises(InputError, match="added_mass_max must be ≥ 0"):
        complete_passive(passive_sheet(PASSIVE), air=AIR, added_mass_max=-1.0)


def test_a_passive_says_what_is_missing_and_what_disagrees() -> None:
    full = passive_sheet(PASSIVE)
    with pytest.raises(InputError, match="which leave rmp open; qmp would be enough"):
        complete_passive({name: full[name] for name in ("mmp", "cmp", "sp")}, air=AIR)
    completed = complete_passive({**full, "vap": 0.8 * full["vap"]}, air=AIR)
    assert any("vap is stated as 98.4 L" in text and "123 L (-20.0 %)" in text for text in completed.warnings)


anything = st.one_of(st.floats(), st.floats(1e-12, 1e12), st.floats(1e-3, 1e2), st.integers(), st.booleans())


@given(values=st.dictionaries(st.sampled_from(sorted(DRIVER_SYMBOLS)), anything, max_size=13))
def test_any_numbers_make_a_driver_or_an_input_error(values: dict[str, Any]) -> None:
    try:
        completed = complete_driver(values, air=AIR)
    except InputError:
        return
    assert all(0.0 < value < math.inf for value in completed.implied.values())


@given(values=st.dictionaries(st.sampled_from(sorted(PASSIVE_SYMBOLS)), anything, max_size=8))
def test_any_numbers_make_a_passive_or_an_input_error(values: dict[str, Any]) -> None:
    try:
        completed = complete_passive(values, air=AIR)
    except InputError:
        return
    assert all(0.0 < value < math.inf for value in completed.implied.values())
