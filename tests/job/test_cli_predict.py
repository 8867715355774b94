from __future__ import annotations

import csv
import io
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from tests.support.boxes import passive_box, vented_box
from tests.support.command import answer, inside, outside, refused

from boxwright.acoustics.response import predict
from boxwright.files import load_design, save_design


@pytest.fixture
def design(tmp_path: Path) -> Path:
    path = tmp_path / "box.toml"
    save_design(passive_box(), path)
    return path


def test_json_is_the_prediction(design: Path) -> None:
    said = answer(inside("predict", design, "--json", "--frequencies", "20, 31.5 Hz,80", "--voltage", "12 V"))
    expected = predict(load_design(design), frequency=[20.0, 31.5, 80.0], voltage=12.0)
    assert said["frequency_hz"] == [20.0, 31.5, 80.0]
    assert said["voltage_v"] == 12.0
    assert said["level_db"] == expected.level.tolist()
    assert said["driver_travel_m"] == expected.driver_travel.tolist()
    assert said["openings"][0]["kind"] == "passive"
    promised = {
        "frequency_hz", "level_db", "phase_deg", "group_delay_s", "impedance_ohm", "impedance_phase_deg",
        "driver_travel_m", "openings", "clean_level_db", "binding", "tuning_hz", "reach_hz", "ripple_db", "warnings",
    }  # fmt: skip
    assert promised <= set(said)


def test_json_alone_stands_on_stdout_of_a_process(design: Path) -> None:
    done = outside("predict", design, "--json", "--points", "5", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stdout.isascii()
    assert done.stdout.startswith(b"{")
    assert done.stdout.rstrip().endswith(b"}")


def test_a_range_is_even_on_a_logarithmic_scale(design: Path) -> None:
    said = answer(inside("predict", design, "--json", "--from", "20", "--to", "80 Hz", "--points", "3"))
    assert np.allclose(said["frequency_hz"], [20.0, 40.0, 80.0])


def test_csv_has_a_row_a_frequency(design: Path) -> None:
    result = inside("predict", design, "--csv", "--frequencies", "20,40")
    assert result.exit_code == 0
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [row["frequency_hz"] for row in rows] == ["20.0", "40.0"]
    assert "note:" in result.stderr  # remarks do not get between the rows


def test_a_person_gets_verdicts_and_a_table(tmp_path: Path) -> None:
    path = tmp_path / "vented.toml"
    save_design(vented_box(), path)
    result = inside("predict", path)
    assert result.exit_code == 0
    for words in ("A vented box, at 20.0 V", "Reaches ", "Cone leaves its travel", "vent m/s", "31.5"):
        assert words in result.stdout


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--voltage", "3 kg"), "unit of a mass"),
        (("--voltage", "0"), "voltage must be > 0 V"),
        (("--voltage", "nan"), "--voltage"),
        (("--frequencies", "20,,30"), "--frequencies"),
        (("--frequencies", "-5"), "--frequencies must lie between"),
        (("--frequencies", "20", "--from", "10"), "a list or a range"),
        (("--from", "80", "--to", "20"), "--from must be"),
        (("--points", "0"), "--points must be"),
        (("--points", "999999999"), "--points must be"),
        (("--json", "--csv"), "JSON or CSV"),
    ],
)
def test_options_that_cannot_be(design: Path, words: tuple[str, ...], expected: str) -> None:
    refused(inside("predict", design, *words), expected)


def test_paths_that_cannot_be(tmp_path: Path) -> None:
    refused(inside("predict", tmp_path / "none.toml"), "found none")
    refused(inside("predict", tmp_path), "got a folder")
    refused(inside("predict", ""), "must have a name")
    refused(inside("predict", "/dev/zero"), "ordinary file")
    binary = tmp_path / "binary.toml"
    binary.write_bytes(bytes(range(256)) * 40)
    refused(inside("predict", binary), "UTF-8")
    broken = tmp_path / "broken.toml"
    broken.write_text('format = "boxwright-design/1"\nname = [[[\n')
    refused(inside("predict", broken), "line 2")
    unknown = tmp_path / "unknown.toml"
    unknown.write_text('format = "boxwright-design/1"\nnmae = "x"\n')
    refused(inside("predict", unknown), "line 2", "name")


def test_a_file_without_permission_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "locked.toml"
    path.write_text("x")
    path.chmod(0)
    if os.access(path, os.R_OK):  # as root nothing is locked: then the content is what is wrong
        refused(inside("predict", path), "TOML")
    else:
        refused(inside("predict", path), "no permission")


def test_a_name_cannot_disturb_the_terminal(tmp_path: Path) -> None:
    result = inside("predict", tmp_path / "a\x1b[2J\nb.toml")
    refused(result)
    assert "\x1b" not in result.stderr


def test_a_full_disk_behind_stdout_is_said(design: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "boxwright.cli", "predict", str(design)],
            stdout=full, stderr=subprocess.PIPE, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert b"No space left" in done.stderr
    assert b"Traceback" not in done.stderr
