"""Filters against scipy.signal, closed forms and the rules that every one of them keeps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal
from tests.support.cases import Case, load

from boxwright.acoustics import filters
from boxwright.design import Filter
from boxwright.errors import InputError

FREQUENCY = np.geomspace(1.0, 10_000.0, 301)
S = 2j * np.pi * FREQUENCY
BANDS = {"high-pass": "highpass", "low-pass": "lowpass"}

corners = st.floats(1.0, 5000.0)
qs = st.floats(0.05, 50.0)
gains = st.floats(-40.0, 40.0)


def response(**values: object) -> np.ndarray:
    return filters.cascade((Filter(**values),), FREQUENCY)


@pytest.mark.parametrize("case", load("filters.toml"), ids=lambda c: c.name)
def test_levels(case: Case) -> None:
    values = dict(case.inputs)
    at = values.pop("at")
    h = filters.cascade((Filter(**values),), np.array([at]))[0]
    case.check(level=20.0 * math.log10(abs(h)))


@pytest.mark.parametrize("kind", BANDS)
@pytest.mark.parametrize("order", range(1, 9))
def test_passes_are_scipys(kind: str, order: int) -> None:
    for family, (b, a) in {
        "butterworth": signal.butter(order, 2 * np.pi * 37.0, BANDS[kind], analog=True),
        "bessel": signal.bessel(order, 2 * np.pi * 37.0, BANDS[kind], analog=True, norm="mag"),
        "chebyshev": signal.cheby1(order, 0.5, 2 * np.pi * 37.0, BANDS[kind], analog=True),
    }.items():
        expected = signal.freqs(b, a, 2 * np.pi * FREQUENCY)[1]
        found = response(kind=kind, family=family, order=order, frequency=37.0)
        np.testing.assert_allclose(found, expected, rtol=1e-8)


@pytest.mark.parametrize("order", [2, 4, 6, 8])
def test_linkwitz_riley_pair_sums_to_an_all_pass(order: int) -> None:
    low = response(kind="low-pass", family="linkwitz-riley", order=order, frequency=80.0)
    high = response(kind="high-pass", family="linkwitz-riley", order=order, frequency=80.0)
    # a pair of odd Butterworth halves sums with one of the two turned over
    total = low + (-1.0) ** (order // 2) * high
    np.testing.assert_allclose(np.abs(total), 1.0, rtol=1e-10)
    half = signal.butter(order // 2, 2 * np.pi * 80.0, "lowpass", analog=True)
    np.testing.assert_allclose(low, signal.freqs(*half, 2 * np.pi * FREQUENCY)[1] ** 2, rtol=1e-9)


def polynomial(numerator: list[float], denominator: list[float], corner: float) -> np.ndarray:
    return np.polyval(numerator, S / (2 * np.pi * corner)) / np.polyval(denominator, S / (2 * np.pi * corner))


@given(corner=corners, q=qs, gain=gains)
def test_peak_and_shelves_are_their_polynomials(corner: float, q: float, gain: float) -> None:
    a = 10.0 ** (gain / 40.0)
    slope = math.sqrt(a) / q
    for kind, expected in {
        "peak": polynomial([1, a / q, 1], [1, 1 / (a * q), 1], corner),
        "low-shelf": a * polynomial([1, slope, a], [a, slope, 1], corner),
        "high-shelf": a * polynomial([a, slope, 1], [1, slope, a], corner),
    }.items():
        found = response(kind=kind, frequency=corner, q=q, gain=gain)
        np.testing.assert_allclose(found, expected, rtol=1e-7)


@given(corner=corners, q=qs, gain=gains)
def test_cut_undoes_boost(corner: float, q: float, gain: float) -> None:
    for kind in ("peak", "low-shelf", "high-shelf"):
        pair = tuple(Filter(kind=kind, frequency=corner, q=q, gain=g) for g in (gain, -gain))
        np.testing.assert_allclose(filters.cascade(pair, FREQUENCY), 1.0, rtol=1e-7)


@pytest.mark.parametrize("family", ["butterworth", "linkwitz-riley", "bessel", "chebyshev"])
@pytest.mark.parametrize("kind", [*BANDS, "peak", "low-shelf", "high-shelf"])
def test_minimum_phase(family: str, kind: str) -> None:
    zeros, poles, _ = filters._analogue(Filter(kind=kind, family=family, order=4, frequency=50.0, gain=9.0))
    assert all(p.real < 0.0 for p in poles)
    assert all(z.real <= 0.0 for z in zeros)


def test_group_delay_is_flat_for_bessel_and_right_at_dc() -> None:
    f = np.linspace(0.01, 40.0, 4001)
    h = filters.cascade((Filter(kind="low-pass", family="bessel", order=4, frequency=80.0),), f)
    delay = -np.gradient(np.unwrap(np.angle(h)), 2.0 * np.pi * f)
    np.testing.assert_allclose(delay, delay[0], rtol=0.01)
    # Of a Butterworth low-pass at 0 Hz: Σ 1/|p| over its poles' real parts = 2.6131/ωc for the fourth order.
    h = filters.cascade((Filter(kind="low-pass", order=4, frequency=80.0),), f)
    delay = -np.gradient(np.unwrap(np.angle(h)), 2.0 * np.pi * f)
    assert delay[0] == pytest.approx(2.613126 / (2.0 * math.pi * 80.0), rel=1e-4)


def test_cascade_multiplies() -> None:
    one = Filter(kind="high-pass", order=3, frequency=25.0)
    two = Filter(kind="peak", frequency=40.0, q=2.0, gain=-6.0)
    both = filters.cascade((one, two), FREQUENCY)
    np.testing.assert_allclose(both, filters.cascade((one,), FREQUENCY) * filters.cascade((two,), FREQUENCY))
    np.testing.assert_array_equal(filters.cascade((), FREQUENCY), np.ones(FREQUENCY.size))


@pytest.mark.parametrize(
    "one",
    [
        Filter(kind="high-pass", order=5, frequency=30.0),
        Filter(kind="low-pass", family="linkwitz-riley", order=4, frequency=90.0),
        Filter(kind="high-pass", family="chebyshev", order=3, frequency=30.0, ripple=1.0),
        Filter(kind="peak", frequency=45.0, q=3.0, gain=8.0),
        Filter(kind="low-shelf", frequency=60.0, gain=-7.0),
        Filter(kind="high-shelf", frequency=60.0, gain=11.0),
    ],
)
def test_sections_follow_the_analogue_filter(one: Filter) -> None:
    rate = 48_000.0
    f = np.array([10.0, one.frequency, 200.0])
    sos = filters.sections((one, one), rate)
    digital = signal.freqz_sos(sos, f, fs=rate)[1]
    np.testing.assert_allclose(digital, filters.cascade((one, one), f), rtol=2e-3)
    np.testing.assert_allclose(digital[1], filters.cascade((one, one), f[1:2])[0], rtol=1e-7)
    assert filters.sections((), rate).shape == (0, 6)


def test_butterworth_sections_are_scipys() -> None:
    ours = filters.sections((Filter(kind="high-pass", order=4, frequency=2000.0),), 8000.0)
    theirs = signal.butter(4, 2000.0, "highpass", fs=8000.0, output="sos")
    f = np.array([300.0, 1000.0, 3000.0])
    np.testing.assert_allclose(
        signal.freqz_sos(ours, f, fs=8000.0)[1], signal.freqz_sos(theirs, f, fs=8000.0)[1], rtol=1e-9
    )


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"order": 0}, "order .* 1 to 8, got 0"),
        ({"order": 9}, "order .* 1 to 8, got 9"),
        ({"order": 2.5}, "order"),
        ({"family": "linkwitz-riley", "order": 3}, "even, got 3"),
        ({"family": "elliptic"}, "family"),
        ({"family": "chebyshev", "ripple": 0.0}, "ripple"),
        ({"frequency": 0.0}, "frequency"),
        ({"frequency": math.inf}, "frequency"),
        ({"kind": "notch"}, "kind"),
        ({"kind": "peak", "q": 0.0}, "q of"),
        ({"kind": "peak", "gain": 41.0}, "gain"),
        ({"kind": "low-shelf", "gain": math.nan}, "gain"),
    ],
)
def test_impossible_filters_are_refused(values: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        response(**{"kind": "high-pass", "frequency": 30.0, **values})


def test_corner_above_half_the_sample_rate_is_refused() -> None:
    with pytest.raises(InputError, match="half the sample rate"):
        filters.sections((Filter(kind="low-pass", frequency=500.0),), 1000.0)
