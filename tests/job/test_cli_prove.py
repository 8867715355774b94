from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.support.boxes import BRIEF, passive_box, vented_box
from tests.support.command import answer, inside, outside, refused

from boxwright.acoustics.response import predict
from boxwright.design import Filter, PassiveOpening, Source
from boxwright.files import load_design, save_design


@pytest.fixture
def design(tmp_path: Path) -> Path:
    path = tmp_path / "box.toml"
    save_design(passive_box(), path)
    return path


def test_one_sine_has_eight_harmonics_of_everything(design: Path) -> None:
    said = answer(inside("prove", design, "--at", "30 Hz", "--voltage", "20 V", "--json"))
    assert said["frequency_hz"] == 30.0
    assert said["voltage_v"] == 20.0
    for harmonics in (
        said["driver_travel_m"]["harmonics"],
        said["openings"][0]["travel_m"]["harmonics"],
        said["pressure_pa"]["harmonics"],
    ):
        assert len(harmonics) == 8
    assert said["openings"][0]["kind"] == "passive"
    assert said["pressure_pa"]["harmonics"][0] == 0.0
    assert said["status"] == "converged"
    assert any("IEC 62458" in warning for warning in said["warnings"])


def test_one_sine_at_small_level_is_the_prediction_without_filters(tmp_path: Path) -> None:
    box = passive_box()
    # sideways: where a passive hangs, its suspension is a little stiffer than at rest
    (hanging,) = box.openings
    assert isinstance(hanging, PassiveOpening)
    box = replace(box, openings=(replace(hanging, facing="sideways"),))
    plain = replace(box, source=replace(box.source, filters=()))
    path = tmp_path / "filtered.toml"
    high_pass = Filter(kind="high-pass", order=4, frequency=40.0)
    save_design(replace(box, source=replace(box.source, filters=(high_pass,))), path)
    said = answer(inside("prove", path, "--at", "30", "--voltage", "0.01", "--json"))
    expected = predict(plain, frequency=[30.0], voltage=0.01)
    assert said["driver_travel_m"]["harmonics"][1] == pytest.approx(expected.driver_travel[0], rel=1e-4)
    travel = expected.openings[0].travel
    assert travel is not None
    assert said["openings"][0]["travel_m"]["harmonics"][1] == pytest.approx(travel[0], rel=1e-4)
    level = 20.0 * np.log10(said["pressure_pa"]["harmonics"][1] / np.sqrt(2.0) / 20e-6)
    assert level == pytest.approx(expected.level[0], abs=1e-3)


def test_a_vent_answers_with_its_air_speed(tmp_path: Path) -> None:
    path = tmp_path / "vented.toml"
    save_design(vented_box(), path)
    said = answer(inside("prove", path, "--at", "30", "--voltage", "5", "--json"))
    assert said["openings"][0]["kind"] == "vent"
    assert len(said["openings"][0]["air_speed_m_s"]["harmonics"]) == 8
    assert "travel_m" not in said["openings"][0]


def test_a_warm_coil_takes_less_current(design: Path) -> None:
    cold, warm = (
        answer(inside("prove", design, "--at", "80", "--voltage", "2", "--json", *extra))
        for extra in ((), ("--coil", "120 degC"))
    )
    assert warm["current_a"]["harmonics"][1] < 0.9 * cold["current_a"]["harmonics"][1]
    file = load_design(design)
    hot = replace(file, driver=replace(file.driver, re=file.driver.re * (1.0 + 0.00393 * 100.0)))
    expected = predict(replace(hot, source=Source(voltage=2.0)), frequency=[80.0])
    level = 20.0 * np.log10(warm["pressure_pa"]["harmonics"][1] / np.sqrt(2.0) / 20e-6)
    assert level == pytest.approx(expected.level[0], abs=0.05)


def test_one_sine_in_words(design: Path) -> None:
    result = inside("prove", design, "--at", "30 Hz", "--voltage", "20 V")
    assert result.exit_code == 0
    for word in ("20.0 V at 30.0 Hz", "cone", "passive", "pressure", "offset"):
        assert word in result.stdout


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--at", "30"), ("--voltage",)),
        (("--voltage", "30"), ("--at",)),
        (("--at", "30", "--voltage", "0"), ("voltage", "> 0")),
        (("--at", "0", "--voltage", "1"), ("frequency",)),
        (("--at", "soon", "--voltage", "1"), ("--at",)),
        (("--at", "30", "--voltage", "1", "--coil", "2000 K"), ("coil",)),
        (("--coil", "300 K"), ("--at",)),
        (("--reach", "30"), ("--target-level",)),
        (("--target-level", "loud"), ("--target-level",)),
        (("--target-level", "100", "--reach", "200"), ("band_top",)),
        (("--distortion", "0"), ("distortion", "> 0")),
        (("--boxes", "3"), ("boxes", "20")),
        (("--report", "proof.txt"), (".pdf",)),
    ],
)
def test_what_cannot_be_asked(design: Path, options: tuple[str, ...], words: tuple[str, ...]) -> None:
    refused(inside("prove", design, *options, "--json"), *words)


def test_a_cone_that_hits_its_stop_says_so(design: Path) -> None:
    said = answer(inside("prove", design, "--at", "20", "--voltage", "80", "--json"))
    assert any("its stop is at 24 mm" in warning for warning in said["warnings"])


def test_a_line_has_no_large_signal_model() -> None:
    line = Path(__file__).parents[2] / "examples" / "transmission-line.toml"
    for options in ((), ("--at", "30", "--voltage", "5")):
        result = inside("prove", line, *options, "--json")
        assert result.exit_code == 1
        assert "lines" in result.stderr
        assert result.stdout == ""


def test_proof_is_complete_and_the_same_every_time(design: Path) -> None:
    asked = ("prove", design, "--target-level", "96 dB", "--reach", "36 Hz", "--boxes", "200", "--json")
    said = answer(inside(*asked))
    promised = {
        "frequency_hz", "clean_level_db", "linear_clean_level_db", "binding", "limits", "distortion", "sweep",
        "bursts", "heat", "hangs", "recoil", "panels", "spread", "matters", "verdicts", "warnings", "keeps",
    }  # fmt: skip
    assert promised <= set(said)
    sweep = said["sweep"]
    count = len(said["frequency_hz"])
    for harmonics in (
        sweep["driver_travel_m"]["harmonics"],
        sweep["openings"][0]["travel_m"]["harmonics"],
        sweep["pressure_pa"]["harmonics"],
    ):
        assert np.array(harmonics).shape == (count, len(sweep["voltage_v"]), 8)
    assert said["spread"]["boxes"] == 200
    assert said["panels"] is not None  # the sheet is one of the bundled parts
    assert said["recoil"]["mass_kg"] > 3.4
    assert said == answer(inside(*asked, "--workers", "1"))


def test_proof_takes_level_and_reach_from_a_brief(design: Path, tmp_path: Path) -> None:
    brief = tmp_path / "brief.toml"
    brief.write_text(BRIEF, encoding="utf-8")
    said = answer(inside("prove", design, "--brief", brief, "--boxes", "0", "--json"))
    assert said["band_hz"] == [36.0, 100.0]
    assert said["target_level_db"] == 98.0
    assert said["spread"] is None
    louder = answer(
        inside("prove", design, "--brief", brief, "--target-level", "120", "--boxes", "0", "--json")
    )
    assert louder["target_level_db"] == 120.0
    assert louder["keeps"] is False


def test_proof_in_words(design: Path) -> None:
    result = inside("prove", design, "--target-level", "96", "--reach", "36", "--boxes", "100")
    assert result.exit_code == 0
    for word in (
        "Clean at level",
        "linear dB",
        "Bursts of 6.5 cycles",
        "of 100 boxes",
        "Half an hour",
        "recoil",
    ):
        assert word in result.stdout


def test_proof_as_pages(design: Path, tmp_path: Path) -> None:
    for ending, start in ((".pdf", b"%PDF"), (".html", b"<!doctype html>")):
        path = tmp_path / f"proof{ending}"
        result = inside("prove", design, "--target-level", "96", "--boxes", "100", "--report", path)
        assert result.exit_code == 0, result.stderr
        assert path.read_bytes().startswith(start)
        again = inside("prove", design, "--boxes", "100", "--report", path)
        refused(again, "--force")
    page = (tmp_path / "proof.html").read_text(encoding="utf-8")
    for heading in ("Highest clean level", "Distortion", "Heat", "Spread", "What matters most"):
        assert heading in page


def test_json_alone_stands_on_stdout_of_a_process(design: Path) -> None:
    done = outside("prove", design, "--at", "30", "--voltage", "2", "--json", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stdout.isascii()
    assert done.stdout.startswith(b"{")
