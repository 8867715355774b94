from __future__ import annotations

import os
import pty
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.support.boxes import BRIEF
from tests.support.command import answer, inside, outside, refused

from boxwright.acoustics.response import predict
from boxwright.files import load_design


@pytest.fixture(scope="module")
def brief(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("brief") / "brief.toml"
    path.write_text(BRIEF)
    return path


@pytest.fixture(scope="module")
def said(brief: Path) -> dict:
    return answer(inside("shortlist", brief, "--json"))


def test_json_has_candidates_reasons_and_routes(said: dict) -> None:
    assert said["brief"] == "Small"
    assert said["candidates"]
    assert said["balanced"] == 0
    assert said["rejections"]
    assert [routes["driver"] for routes in said["routes"]] == ["Heron 200"]
    for candidate in said["candidates"]:
        assert candidate["price"] <= 320.0
        assert candidate["weight_kg"] <= 16.0
        assert candidate["reach_hz"] <= 36.0 * 1.003
        assert candidate["clean_level_db"] >= 98.0 - 0.05


def test_a_saved_candidate_is_what_was_promised(brief: Path, said: dict, tmp_path: Path) -> None:
    path = tmp_path / "pick.toml"
    result = inside("shortlist", brief, "--save", "1", "--to", path)
    assert result.exit_code == 0
    assert f"candidate 1 written to {path}" in result.stderr
    response = predict(load_design(path))
    assert response.reach == pytest.approx(said["candidates"][0]["reach_hz"], rel=1e-6)
    path.write_text("mine")
    refused(inside("shortlist", brief, "--save", "1", "--to", path), "--force")
    assert path.read_text() == "mine"
    assert inside("shortlist", brief, "--save", "1", "--to", path, "--force").exit_code == 0
    assert path.read_text() != "mine"


def test_first_candidates_are_proved(brief: Path, said: dict) -> None:
    proved = answer(inside("shortlist", brief, "--prove", "2", "--json"))
    assert proved["candidates"] == said["candidates"]
    assert "proofs" not in said
    for proof, candidate in zip(proved["proofs"], said["candidates"][:2], strict=True):
        assert proof["target_level_db"] == 98.0
        assert proof["spread"]["boxes"] == 10_000
        # by the linear model at the same notes: what the search promised
        inside_band = [k for k, f in enumerate(proof["frequency_hz"]) if 36.0 <= f <= 100.0]
        promised = min(proof["linear_clean_level_db"][k] for k in inside_band)
        assert promised == pytest.approx(candidate["clean_level_db"], abs=0.1)
    told = inside("shortlist", brief, "--prove", "2")
    assert "Proved at level" in told.stdout
    assert "of 100 keep all" in told.stdout


def test_a_person_gets_the_whole_story(brief: Path) -> None:
    result = inside("shortlist", brief, "--driver", "heron 200", "--most", "2")
    assert result.exit_code == 0
    for words in (
        "Best in each",
        "Balanced weighs",
        "Ranked",
        "Why the others fell away",
        "Closed, port or passive here",
    ):
        assert words in result.stdout
    ranked = result.stdout.split("Ranked")[1].split("Why the others")[0]
    assert sum(line.lstrip()[:2] in {"1 ", "2 ", "3 "} for line in ranked.split("\n")) == 2


def test_stdout_of_a_process_is_json_and_stderr_is_silent(brief: Path) -> None:
    done = outside("shortlist", brief, "--json", "--workers", "1")
    assert done.returncode == 0
    assert done.stdout.startswith(b"{")
    assert done.stderr == b""


def test_a_brief_that_nothing_meets_is_an_answer_not_an_error(tmp_path: Path) -> None:
    path = tmp_path / "hopeless.toml"
    path.write_text(BRIEF.replace('"98 dB"', '"140 dB"'))
    result = inside("shortlist", path)
    assert result.exit_code == 0
    assert "none can be built and meets the brief" in result.stdout
    assert "Why the others fell away" in result.stdout
    refused(inside("shortlist", path, "--save", "1"), "no box meets this brief")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--to", "x.toml"), "--save"),
        (("--driver", "Nobody"), "Heron 200"),
        (("--save", "9999"), "choose 1 to"),
        (("--save", "0"), "whole number of 1 or more"),
        (("--no-examples",), "Heron 200"),
        (("--cluster", "tcp://127.0.0.1:9"), "scheduler"),
    ],
)
def test_options_that_cannot_be(brief: Path, words: tuple[str, ...], expected: str) -> None:
    refused(inside("shortlist", brief, *words), expected)


def test_paths_that_cannot_be(tmp_path: Path) -> None:
    refused(inside("shortlist", tmp_path / "none.toml"), "found none")
    refused(inside("shortlist", tmp_path), "folder")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(BRIEF.replace('"36 Hz"', '"36 mm"'))
    refused(inside("shortlist", wrong), "line", "reach")
    refused(inside("shortlist", wrong.with_name("w.toml"), "--workers", "2"), "found none")


def test_a_stop_in_the_middle_is_clean(tmp_path: Path) -> None:
    """On a terminal there is a bar; an interrupt then ends with 130 and leaves no file."""
    brief = tmp_path / "brief.toml"
    wide = BRIEF[: BRIEF.index("[parts]")]  # every example part: takes seconds
    brief.write_text(wide)
    terminal, other = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "boxwright.cli", "shortlist", str(brief), "--save", "1", "--to", "c.toml"],
        stdout=subprocess.PIPE, stderr=other, cwd=tmp_path, start_new_session=True,
        env={**os.environ, "TERM": "xterm", "BOXWRIGHT_STORE": str(tmp_path / "s")},
    )  # fmt: skip
    os.close(other)
    seen, stopped = b"", False
    until = time.monotonic() + 240.0
    while time.monotonic() < until:
        if select.select([terminal], [], [], 0.2)[0]:
            try:
                chunk = os.read(terminal, 65536)
            except OSError:  # the other end is closed: the process has ended
                break
            if not chunk:
                break
            seen += chunk
        if not stopped and b"boxes tried" in seen:
            process.send_signal(signal.SIGINT)
            stopped = True
    out, _ = process.communicate(timeout=60)
    os.close(terminal)
    assert stopped
    assert process.returncode == 130, seen
    assert out == b""
    assert b"stopped" in seen
    assert b"Traceback" not in seen
    assert [p.name for p in tmp_path.iterdir()] == ["brief.toml"]
