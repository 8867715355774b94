"""The palette: enough contrast to read, and never colour alone.

Contrast after W3C, Web Content Accessibility Guidelines 2.1, "relative luminance" and "contrast ratio"; success
criterion 1.4.3 (AA) asks 4.5 for text, 1.4.11 asks 3 for graphics.
"""

from __future__ import annotations

import pytest

from boxwright.report import style


def _luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_standards_extremes() -> None:
    assert _contrast("#000000", "#FFFFFF") == pytest.approx(21.0, abs=1e-9)


# the ochre is used for bold labels and lines; as running text it would fall short
@pytest.mark.parametrize("colour", [style.INK, style.MUTE, style.SEA_GREEN, style.SLATE_BLUE, style.LIMIT])
def test_text_reads_on_paper(colour: str) -> None:
    assert _contrast(colour, style.PAPER) >= 4.5


@pytest.mark.parametrize("colour", [style.OCHRE, style.LIMIT, style.SEA_GREEN, style.SLATE_BLUE])
def test_lines_show_on_paper(colour: str) -> None:
    assert _contrast(colour, style.PAPER) >= 3.0


def test_shape_doubles_colour() -> None:
    shapes = [mark.shape for mark in style.FAMILY_MARKS.values()]
    assert len(set(shapes)) == len(shapes)
    dashes = [stroke.dashes for stroke in (style.CONE, style.PASSIVE, style.VENT)]
    assert len(set(dashes)) == 3
