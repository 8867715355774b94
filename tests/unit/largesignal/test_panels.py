"""Panels of whole boxes: bays, braces, warnings, shapes that are no boxes."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from tests.support.boxes import passive_box

from boxwright.design import BoxPlan
from boxwright.errors import InputError
from boxwright.largesignal.heat import heat_up, sine
from boxwright.largesignal.mechanics import reaction
from boxwright.largesignal.panels import braces_for, design_panels, examine_panels
from boxwright.parts import Sheet

SHEET = Sheet(length=2.44, width=1.22, thickness=0.018, density=700.0, youngs_modulus=4.0e9)
TALL = BoxPlan(width=0.40, height=0.90, depth=0.45, wall=0.018)


def test_braces_divide_the_longest_edge() -> None:
    whole, braced = (examine_panels(replace(TALL, braces=n), SHEET) for n in (0, 2))
    side = {p.face: p for p in braced.panels}["left"]
    assert side.bays == 3
    assert side.short == pytest.approx((0.90 - 0.036 - 2 * 0.018) / 3)
    assert {p.face: p for p in braced.panels}["top"] == {p.face: p for p in whole.panels}["top"]
    alone = examine_panels(replace(TALL, height=side.short + 0.036), SHEET)
    one = {p.face: p for p in alone.panels}["left"]
    assert side.supported == pytest.approx(one.supported)
    assert side.give_supported == pytest.approx(3.0 * one.give_supported)
    assert side.give_clamped == pytest.approx(3.0 * one.give_clamped)
    assert braced.lowest > 1.5 * whole.lowest
    assert braced.share_supported < 0.5 * whole.share_supported


def test_a_warning_names_the_braces_that_help() -> None:
    found = examine_panels(TALL, SHEET, band_top=200.0)
    assert any("ring" in words for words in found.warnings)
    enough = braces_for(TALL, SHEET, 200.0)
    assert enough is not None
    assert enough > 0
    assert any(words.startswith(f"{enough} brace") for words in found.warnings)
    assert not any(
        "ring" in w for w in examine_panels(replace(TALL, braces=enough), SHEET, band_top=200.0).warnings
    )
    assert any(
        "ring" in w for w in examine_panels(replace(TALL, braces=enough - 1), SHEET, band_top=200.0).warnings
    )


def test_no_number_of_braces_lifts_the_ends() -> None:
    assert braces_for(TALL, SHEET, 5000.0) is None
    assert any("thicker sheet" in words for words in examine_panels(TALL, SHEET, band_top=2000.0).warnings)


def test_stiffness_and_thickness_do_what_they_should() -> None:
    soft, stiff = (examine_panels(TALL, replace(SHEET, youngs_modulus=e)) for e in (2e9, 8e9))
    assert stiff.lowest == pytest.approx(2.0 * soft.lowest)
    assert stiff.share_clamped == pytest.approx(0.25 * soft.share_clamped)
    assert stiff.tuning_shift > soft.tuning_shift
    small = examine_panels(TALL, SHEET, volume=0.05)
    large = examine_panels(TALL, SHEET, volume=0.10)
    assert small.share_supported == pytest.approx(2.0 * large.share_supported)


def test_a_sheet_without_stiffness_is_assumed_and_said() -> None:
    found = examine_panels(TALL, replace(SHEET, youngs_modulus=None))
    assert any("assumed" in note for note in found.notes)


def test_wedges_count_as_the_rectangle_around_them() -> None:
    wedge = BoxPlan(shape="wedge", width=0.9, height=0.5, depth=0.4, depth_top=0.25, wall=0.018, braces=1)
    found = {p.face: p for p in examine_panels(wedge, SHEET).panels}
    assert found["left"].bays == 1
    assert found["left"].long == pytest.approx(0.464)
    assert found["front"].bays == 2


def test_refusals() -> None:
    with pytest.raises(InputError, match="braces"):
        examine_panels(replace(TALL, braces=200), SHEET)
    with pytest.raises(InputError, match="density"):
        examine_panels(TALL, replace(SHEET, density=0.0))
    with pytest.raises(InputError, match="youngs_modulus"):
        examine_panels(TALL, replace(SHEET, youngs_modulus=-1.0))
    with pytest.raises(InputError, match="poisson"):
        examine_panels(TALL, SHEET, poisson=0.5)
    with pytest.raises(InputError, match="box"):
        design_panels(replace(passive_box(), box=None), SHEET)


def test_answers_are_plain() -> None:
    design = passive_box()
    for answer in (
        design_panels(design, SHEET),
        reaction(design, mass=12.0),
        heat_up(design, sine(40.0, 10.0), duration=60.0),
    ):
        assert json.loads(json.dumps(answer.to_dict(), allow_nan=False))
