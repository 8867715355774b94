from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boxwright.report.figures import decibel, listed, price, span, spans
from boxwright.report.layout import plain


def test_bands_are_found_with_their_ends() -> None:
    frequency = np.array([10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
    inside = np.array([True, False, True, True, False, True])
    assert spans(frequency, inside) == [(10.0, 10.0), (30.0, 40.0), (60.0, 60.0)]
    assert spans(frequency, np.zeros(6, dtype=bool)) == []


@given(st.lists(st.booleans(), min_size=1, max_size=40))
def test_bands_cover_just_what_is_inside(flags: list[bool]) -> None:
    frequency = np.arange(1.0, len(flags) + 1.0)
    covered = {f for low, high in spans(frequency, np.array(flags)) for f in np.arange(low, high + 0.5)}
    assert covered == {f for f, flag in zip(frequency, flags, strict=True) if flag}


def test_a_band_of_one_frequency_is_said_as_one() -> None:
    assert span(22.2, 22.4) == "at 22 Hz"
    assert span(22.0, 26.0) == "22 to 26 Hz"
    assert span(8.26, 12.0) == "8.3 to 12.0 Hz"


@pytest.mark.parametrize(("value", "shown"), [(118.0, "118"), (19.9, "19.90"), (1234.4, "1,234"), (0.0, "0")])
def test_prices_have_no_currency_and_no_idle_decimals(value: float, shown: str) -> None:
    assert price(value) == shown


def test_levels_have_one_decimal_and_a_true_minus() -> None:
    assert decibel(-3.01) == "−3.0 dB"
    assert decibel(float("inf")) == "unlimited"


def test_words_are_joined_as_in_a_sentence() -> None:
    assert [listed([]), listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


@given(st.text())
def test_text_from_files_cannot_disturb_a_terminal(text: str) -> None:
    shown = plain(text)
    assert "\x1b" not in shown
    assert "\n" not in shown
    assert all(ord(c) >= 32 and not 0x7F <= ord(c) < 0xA0 for c in shown)
    assert "\u202e" not in shown  # a right-to-left override turns a line around
