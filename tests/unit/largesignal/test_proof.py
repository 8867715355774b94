"""A whole proof: what it says hangs together, is the same every time, can be stopped."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.boxes import closed_box, passive_box, vented_box

from boxwright.brief import Target
from boxwright.design import Design, Filter, Source
from boxwright.errors import InputError
from boxwright.largesignal.model import model_of
from boxwright.largesignal.proof import Proof, prove
from boxwright.largesignal.steady import steady
from boxwright.parts import Sheet
from boxwright.parts.curve import Curve, Curves
from boxwright.report.proof_text import proof_text
from boxwright.report.proof_words import proof_verdicts

SHEET = Sheet(name="ply", thickness=0.0147, length=2.44, width=1.22, density=680.0, youngs_modulus=9e9)
TARGET = Target(reach=36.0, level=96.0)


@pytest.fixture(scope="module")
def proof() -> Proof:
    return prove(passive_box(), target=TARGET, sheet=SHEET, boxes=200)


def test_everything_is_there(proof: Proof) -> None:
    assert proof.band == (36.0, 100.0)
    assert proof.clean.frequency[0] <= 18.0 * 1.06
    assert {36.0, 100.0} <= set(proof.clean.frequency)
    assert [round(b.frequency) for b in proof.bursts] == [40, 50, 63]
    assert proof.warming is not None
    assert proof.recoil is not None
    assert proof.panels is not None
    assert proof.spread is not None
    assert proof.shares is not None
    assert [h.kind for h in proof.hangs] == ["driver", "passive"]
    json.dumps(proof.to_dict(), allow_nan=False)


def test_lowest_clean_level_is_that_of_the_band(proof: Proof) -> None:
    levels = {float(f): float(v) for f, v in zip(proof.clean.frequency, proof.clean.level, strict=True)}
    inside = {f: v for f, v in levels.items() if 36.0 <= f <= 100.0}
    assert proof.lowest_clean == min(inside.values())
    assert inside[float(proof.clean.frequency[proof.worst])] == proof.lowest_clean


def test_drive_makes_the_level_at_the_note_that_takes_most(proof: Proof) -> None:
    """Through the source's filter, by single sines."""
    design = replace(proof.design, source=replace(proof.design.source, filters=()))
    f = proof.clean.frequency
    high_pass = 1.0 / np.sqrt(1.0 + (22.0 / f) ** 8)  # Butterworth of order 4
    levels = []
    for k in np.flatnonzero(proof.in_band):
        found = steady(model_of(design), float(f[k]), float(proof.drive * high_pass[k]))
        levels.append(20.0 * math.log10(float(found.pressure.harmonics[1]) / math.sqrt(2.0) / 20e-6))
    assert min(levels) == pytest.approx(96.0, abs=0.05)


def test_louder_wishes_end_at_what_the_amplifier_gives() -> None:
    quiet, loud = (prove(passive_box(), target=replace(TARGET, level=v), boxes=0) for v in (80.0, 130.0))
    assert quiet.drive < 5.0
    assert loud.drive == pytest.approx(math.sqrt(150.0 * 4.0))
    assert not loud.keeps
    assert loud.warming is not None
    assert quiet.warming is not None
    assert loud.warming.coil[-1] > quiet.warming.coil[-1] + 0.5
    assert loud.below.keys() >= quiet.below.keys()


def test_a_high_pass_keeps_what_breaks_below_the_band() -> None:
    box = passive_box()
    wish = Target(reach=36.0, level=101.0, content_from=12.0)
    bare = prove(replace(box, source=replace(box.source, filters=())), target=wish, boxes=0)
    steep = (Filter(kind="high-pass", order=8, frequency=33.0),)
    kept = prove(replace(box, source=replace(box.source, filters=steep)), target=wish, boxes=0)
    assert "driver travel" in bare.below
    highest, over = bare.below["driver travel"]
    assert highest < 36.0
    # turned down by just that much the cone keeps its travel at every note below the band, and at one just
    lowest = int(np.flatnonzero(bare.in_band)[0])
    voltage = float(bare.needed_voltage[lowest]) * 10.0 ** (-over / 20.0)
    model = model_of(bare.design)
    moved = [steady(model, float(f), voltage).driver_travel for f in bare.clean.frequency[:lowest]]
    assert max(float(wave.highest) for wave in moved) == pytest.approx(0.014, rel=0.01)
    assert "driver travel" not in kept.below
    assert any("below the band" in v.headline for v in proof_verdicts(bare))
    assert not any("below the band" in v.headline for v in proof_verdicts(kept))


def test_same_numbers_every_time_whatever_the_threads(proof: Proof) -> None:
    again = prove(passive_box(), target=TARGET, sheet=SHEET, boxes=200, workers=1)
    assert json.dumps(again.to_dict()) == json.dumps(proof.to_dict())


def test_a_proof_can_be_stopped_at_every_step() -> None:
    seen: list[str] = []

    def note(what: str, share: float) -> None:
        assert 0.0 <= share <= 1.0
        seen.append(what)

    prove(closed_box(), target=replace(TARGET, reach=60.0), boxes=50, progress=note)
    assert {"level map", "bursts", "heat and recoil", "spread", "what matters most", "done"} <= set(seen)

    for stop in ("level map", "bursts", "spread"):

        def halt(what: str, _: float, stop: str = stop) -> None:
            if what == stop:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            prove(closed_box(), boxes=50, progress=halt)


def test_what_is_missing_is_said() -> None:
    bare = replace(closed_box(), box=None, driver=replace(closed_box().driver, pmax=None))
    found = prove(bare, boxes=0)
    assert found.warming is None
    assert found.recoil is None
    assert found.panels is None
    assert found.spread is None
    for words in ("no rated power", "no box", "IEC 62458"):
        assert any(words in note for note in found.warnings), words
    unknown = prove(passive_box(), boxes=0)
    assert any('"Birch ply 15"' in note for note in unknown.notes)


def test_uneven_curves_drift_and_it_is_said() -> None:
    box = passive_box()
    uneven = Curves(bl=Curve(polynomial=(1.0, 25.0, -900.0)), kms=Curve(polynomial=(1.0, -25.0, 2500.0)))
    loud = Source(voltage=20.0, max_power=400.0, load=4.0)
    found = prove(
        replace(box, driver=replace(box.driver, curves=uneven), source=loud), target=TARGET, boxes=0
    )
    assert float(np.max(np.abs(found.clean.offset[found.in_band]))) > 1.4e-3
    assert any("drifts" in v.headline for v in proof_verdicts(found))
    even = prove(replace(box, source=loud), target=TARGET, boxes=0)
    assert not any("drifts" in v.headline for v in proof_verdicts(even))


@pytest.mark.parametrize("box", [passive_box(), vented_box(), closed_box()], ids=lambda b: b.name)
def test_words_tell_what_the_numbers_say(box: Design) -> None:
    found = prove(box, target=Target(reach=40.0, level=90.0), boxes=100)
    text = proof_text(found)
    assert f"Clean at level to {found.lowest_clean:.1f} dB" in text
    assert found.spread is not None
    assert f"{100.0 * found.spread.keeping:.0f} of 100 boxes" in text
    assert len({v.headline for v in proof_verdicts(found)}) == len(proof_verdicts(found))


def test_what_cannot_be_proved() -> None:
    with pytest.raises(InputError, match="reach < band_top"):
        prove(closed_box(), target=Target(reach=120.0, level=90.0))
    with pytest.raises(InputError, match="level of the target"):
        prove(closed_box(), target=Target(reach=40.0, level=math.nan))
    with pytest.raises(InputError, match="boxes must be 0 or at least 20"):
        prove(closed_box(), boxes=5)
