"""Several drivers as one: the rule's scalings, the wiring in words, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boxwright.compound import equivalent_driver, wiring
from boxwright.design import Arrangement
from boxwright.errors import InputError
from boxwright.parts import Coil, Driver

DRIVER = Driver(
    name="invented", re=3.6, bl=7.0, mms=0.05, cms=0.6e-3, rms=1.8, sd=0.0215,
    coil=Coil(le=0.4e-3, k=0.02, n=0.65, l2=0.9e-3, r2=4.0), xmax=0.01, xmech=0.016, pmax=150.0, price=90.0,
)  # fmt: skip


@pytest.mark.parametrize("mounting", ["side-by-side", "push-push", "face-to-face"])
@pytest.mark.parametrize(("series", "parallel"), [(1, 2), (2, 1), (2, 2), (3, 2), (1, 4)])
def test_many_have_the_resonance_and_damping_of_one(series: int, parallel: int, mounting: Any) -> None:
    # equal drivers that move alike are each as if alone: fs and every Q stay, whatever the wiring
    one = equivalent_driver(DRIVER, Arrangement(series=series, parallel=parallel, mounting=mounting))
    for name in ("fs", "qms", "qes", "qts"):
        assert getattr(one, name) == pytest.approx(getattr(DRIVER, name), rel=1e-14)
    assert (one.xmax, one.xmech, one.price, one.name) == (
        DRIVER.xmax,
        DRIVER.xmech,
        DRIVER.price,
        DRIVER.name,
    )
    n = series * parallel
    assert one.pmax == pytest.approx(n * 150.0)
    assert one.re == pytest.approx(DRIVER.re * series / parallel)
    assert one.sd == pytest.approx(DRIVER.sd * (n / 2 if mounting == "face-to-face" else n))


def test_one_driver_stays_what_it_is() -> None:
    assert equivalent_driver(DRIVER, Arrangement()) == DRIVER


# A driver of two coils: joining in series doubles turns, so resistance and force factor double and the
# inductance goes with the square of the turns; side by side it is one coil of twice the copper.
@pytest.mark.parametrize(
    ("stated", "wanted", "re", "bl", "coil", "pmax"),
    [
        ("single", "series", 2.0, 2.0, 4.0, 1.0),
        ("single", "parallel", 0.5, 1.0, 1.0, 1.0),
        ("series", "parallel", 0.25, 0.5, 0.25, 1.0),
        ("parallel", "series", 4.0, 2.0, 4.0, 1.0),
        ("series", "single", 0.5, 0.5, 0.25, 0.5),
        ("parallel", "single", 2.0, 1.0, 1.0, 0.5),
        ("series", "series", 1.0, 1.0, 1.0, 1.0),
        ("series", None, 1.0, 1.0, 1.0, 1.0),
    ],
)
def test_two_coils_are_joined(
    stated: str, wanted: Any, re: float, bl: float, coil: float, pmax: float
) -> None:
    driver = replace(DRIVER, coils=2, coils_as=stated)
    joined = equivalent_driver(driver, Arrangement(coil_wiring=wanted))
    assert joined.re == pytest.approx(re * DRIVER.re)
    assert joined.bl == pytest.approx(bl * DRIVER.bl)
    assert joined.pmax == pytest.approx(pmax * 150.0)
    for name in ("le", "k", "l2", "r2"):
        assert getattr(joined.coil, name) == pytest.approx(coil * getattr(DRIVER.coil, name))
    assert joined.coil.n == DRIVER.coil.n
    # the mechanics do not know how the coils are joined
    for name in ("mms", "cms", "rms", "sd"):
        assert getattr(joined, name) == getattr(DRIVER, name)


@given(coils=st.integers(1, 6), ways=st.permutations(["series", "parallel", "single"]))
def test_joining_there_and_back_changes_nothing(coils: int, ways: list[Any]) -> None:
    start = replace(DRIVER, coils=coils, coils_as=ways[0], pmax=None)
    found = start
    for way in (*ways[1:], ways[0]):
        found = equivalent_driver(found, Arrangement(coil_wiring=way))
    assert found.re == pytest.approx(start.re, rel=1e-13)
    assert found.bl == pytest.approx(start.bl, rel=1e-13)
    assert found.coil.le == pytest.approx(start.coil.le, rel=1e-13)
    # all coils driven have the same motor strength per resistance however they are joined
    series = equivalent_driver(start, Arrangement(coil_wiring="series"))
    parallel = equivalent_driver(start, Arrangement(coil_wiring="parallel"))
    assert series.qes == pytest.approx(parallel.qes, rel=1e-13)


@pytest.mark.parametrize(
    ("arrangement", "message"),
    [
        ({"series": 0}, "series must be a whole number of at least 1, got 0"),
        ({"parallel": -2}, "parallel must be a whole number of at least 1, got -2"),
        ({"series": 1.5}, "series must be a whole number of at least 1, got 1.5"),
        ({"series": True}, "series must be a whole number of at least 1, got True"),
        ({"series": 10, "parallel": 10}, "count must be at most 64, got 100"),
        ({"series": 3, "mounting": "face-to-face"}, "count must be even for face-to-face pairs, got 3"),
        ({"mounting": "face-to-face"}, "count must be even for face-to-face pairs, got 1"),
        ({"parallel": 3, "mounting": "push-push"}, "count must be even for push-push pairs, got 3"),
        ({"coil_wiring": "mixed"}, 'coil_wiring must be one of single, series, parallel, got "mixed"'),
    ],
)
def test_impossible_arrangements_are_refused(arrangement: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        equivalent_driver(replace(DRIVER, coils=2), Arrangement(**arrangement))


@pytest.mark.parametrize(
    ("text", "count", "split"),
    [
        ("single", 1, (1, 1)),
        ("series", 1, (1, 1)),
        ("series", 3, (3, 1)),
        ("parallel", 3, (1, 3)),
        ("series-parallel", 4, (2, 2)),
        ("series-parallel", 6, (2, 3)),
        ("series-parallel", 12, (3, 4)),
        ("series-parallel", 16, (4, 4)),
        ("2s2p", 4, (2, 2)),
        ("3s2p", 6, (3, 2)),
        ("12s1p", 12, (12, 1)),
        (" Series ", 2, (2, 1)),
    ],
)
def test_wiring_in_words(text: str, count: int, split: tuple[int, int]) -> None:
    assert wiring(text, count) == split


@pytest.mark.parametrize(
    ("text", "count", "message", "mend"),
    [
        ("series-parallel", 3, "possible with 3 drivers", "possible: 1s3p, 3s1p"),
        ("series-parallel", 2, "possible with 2 drivers", "possible: 1s2p, 2s1p"),
        ("single", 2, "possible with 2 drivers", "possible: 1s2p, 2s1p"),
        ("2s2p", 6, "come out at 6 drivers", "possible: 1s6p, 2s3p, 3s2p, 6s1p"),
        ("0s4p", 4, "come out at 4 drivers", "possible: 1s4p, 2s2p, 4s1p"),
        ("serial", 2, "one of series, parallel or a split like 2s2p", "the nearest known is series"),
        ("", 2, "one of series, parallel or a split", "possible"),
        ("٢s٢p", 4, "one of series, parallel, series-parallel", "possible"),
        ("series", 0, "count must be a whole number of at least 1", ""),
        ("series", 100, "count must be at most 64", ""),
    ],
)
def test_wiring_that_cannot_be_is_refused(text: str, count: int, message: str, mend: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        wiring(text, count)
    assert mend in caught.value.mend


@given(text=st.text(max_size=20), count=st.integers(1, 64))
def test_any_wiring_comes_out_at_the_count_or_is_refused(text: str, count: int) -> None:
    try:
        series, parallel = wiring(text, count)
    except InputError:
        return
    assert series * parallel == count
