"""Verdicts say what the response says, no more."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.boxes import closed_box, passive_box, vented_box

from boxwright.acoustics.response import predict
from boxwright.brief import Target
from boxwright.report.overview import key_figures
from boxwright.report.text import family_of, verdicts


def test_a_broken_limit_is_named_with_its_band_and_its_mend() -> None:
    design = passive_box()
    response = predict(design)
    broken = [v for v in verdicts(design, response) if v.tone == "broken"]
    assert len(broken) == 1
    over = response.driver_travel > 0.014
    low, high = response.frequency[over][[0, -1]]
    assert broken[0].headline == f"Cone leaves its travel, {low:.0f} to {high:.0f} Hz"
    # travel is proportional to voltage, so the excess in dB is what must be taken off
    excess = 20.0 * math.log10(float(response.driver_travel.max()) / 0.014)
    assert f"{excess:.1f} dB less keeps it in" in broken[0].detail
    assert "steeper high-pass" in broken[0].detail


def test_the_mend_mends() -> None:
    design = passive_box()
    response = predict(design)
    excess = 20.0 * math.log10(float(response.driver_travel.max()) / 0.014)
    quieter = predict(design, voltage=20.0 * 10.0 ** (-(excess + 0.05) / 20.0))
    assert [v.headline for v in verdicts(design, quieter) if v.tone == "broken"] == []


def test_a_design_within_its_limits_says_what_is_nearest() -> None:
    design = closed_box()
    response = predict(design)
    said = next(v for v in verdicts(design, response) if v.headline.startswith("Keeps every limit"))
    spare = -20.0 * math.log10(float(response.driver_travel.max()) / 0.014)
    assert f"{spare:.1f} dB away" in said.detail
    assert "cone travel" in said.detail


def test_a_target_that_is_missed_is_broken_and_one_that_is_met_is_good() -> None:
    design = passive_box()
    response = predict(design)
    assert response.reach is not None
    low = Target(reach=response.reach * 0.8, level=60.0)
    high = Target(reach=response.reach * 1.2, level=60.0)
    assert verdicts(design, response, target=low)[0].tone == "broken"
    assert verdicts(design, response, target=high)[0].tone == "good"


def test_the_clean_level_is_the_lowest_within_the_band_asked_for() -> None:
    design = passive_box()
    response = predict(design)
    target = Target(reach=40.0, level=100.0, band_top=80.0)
    band = (response.frequency >= 40.0) & (response.frequency <= 80.0)
    lowest = float(response.clean_level[band].min())
    said = next(v for v in verdicts(design, response, target=target) if v.headline.startswith("Clean to"))
    assert said.headline == f"Clean to {lowest:.1f} dB, 40 to 80 Hz"
    too_loud = replace(target, level=lowest + 1.0)
    said = next(v for v in verdicts(design, response, target=too_loud) if v.headline.startswith("Clean to"))
    assert said.tone == "broken"


def test_passives_that_could_not_follow_are_a_care() -> None:
    """At least twice the cone's volume: common practice, no source."""
    design = passive_box()
    one = replace(design, openings=(replace(design.openings[0], count=1),))
    tone = {
        count: next(v.tone for v in verdicts(d, predict(d)) if v.headline.startswith("Passives move"))
        for count, d in ((2, design), (1, one))
    }
    able = 0.0346 * 0.016 / (0.0219 * 0.014)  # of one passive, beside the cone
    assert able < 2.0 <= 2.0 * able
    assert tone == {1: "care", 2: "good"}


def test_vents_get_their_own_speeds() -> None:
    design = vented_box()
    response = predict(design, voltage=10.0)
    said = [v for v in verdicts(design, response) if v.headline.startswith("Air in the vent stays")]
    assert len(said) == 2
    for verdict, opening in zip(said, response.openings, strict=True):
        assert opening.air_speed is not None
        assert f"{float(opening.air_speed.max()):.3g}" in verdict.headline


def test_a_vent_that_is_too_fast_is_broken_and_not_praised() -> None:
    design = vented_box()
    response = predict(design, voltage=40.0)
    headlines = [v.headline for v in verdicts(design, response)]
    assert any(h.startswith("Air in the vent is too fast") for h in headlines)
    assert not any(h.startswith("Air in the vent stays") for h in headlines)


def test_nothing_stated_means_nothing_claimed() -> None:
    design = closed_box()
    bare = replace(design, driver=replace(design.driver, xmax=None, xmech=None, pmax=None))
    response = predict(bare)
    assert not np.isfinite(response.clean_level).any()
    assert any(v.headline == "Nothing stated limits the level" for v in verdicts(bare, response))


@pytest.mark.parametrize(
    ("design", "family"), [(passive_box(), "passive"), (vented_box(), "vented"), (closed_box(), "closed")]
)
def test_families_are_recognised(design, family) -> None:
    assert family_of(design) == family


def test_key_figures_repeat_the_response() -> None:
    design = passive_box()
    response = predict(design)
    shown = {figure.name: figure.value for figure in key_figures(design, response)}
    assert shown["Tuning"] == f"{response.tuning:.1f} Hz"
    assert shown["Reach"] == f"{response.reach:.1f} Hz"
    assert shown["Outer size"] == "602 × 190 × 388 mm"
    assert shown["Parts"] == "226"  # 118 + 2 × 54
