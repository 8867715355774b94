"""The whole job on the bundled example."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.support.command import inside, refused

from boxwright.acoustics.response import predict
from boxwright.files import load_brief, load_design


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "new" / "folder"
    result = inside("demo", path)
    assert result.exit_code == 0, result.stderr
    for words in ("The balanced pick is", "report.pdf", "shortlist.txt"):
        assert words in result.stdout
    return path


def test_every_file_is_what_its_name_says(folder: Path) -> None:
    names = {p.name for p in folder.iterdir()}
    assert {"brief.toml", "shortlist.json", "shortlist.txt", "candidates.csv", "front.svg", "front.png",
            "report.pdf", "report.html", "proof.pdf", "proof.json",
            "balanced.toml", "smallest.toml", "deepest.toml", "loudest.toml",
            "cheapest.toml", "lightest.toml"} <= names  # fmt: skip
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF-1.")
    assert (folder / "front.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in (folder / "front.svg").read_text()
    assert "<!doctype html>" in (folder / "report.html").read_text()
    assert load_brief(folder / "brief.toml").name
    said = json.loads((folder / "shortlist.json").read_text())
    assert said["candidates"]


def test_the_pick_keeps_the_brief(folder: Path) -> None:
    brief = load_brief(folder / "brief.toml")
    design = load_design(folder / "balanced.toml")
    response = predict(design)
    assert response.reach is not None
    assert response.reach <= brief.target.reach * 1.003
    band = (response.frequency >= brief.target.reach) & (response.frequency <= brief.target.band_top)
    assert float(response.clean_level[band].min()) >= brief.target.level - 0.1
    assert json.loads((folder / "balanced.json").read_text())["level_db"] == response.level.tolist()
    assert design.box is not None
    assert (design.box.width, design.box.height) <= (brief.space.width, brief.space.height)


def test_the_pick_is_proved(folder: Path) -> None:
    proof = json.loads((folder / "proof.json").read_text())
    brief = load_brief(folder / "brief.toml")
    assert proof["band_hz"] == [brief.target.reach, brief.target.band_top]
    assert proof["target_level_db"] == brief.target.level
    assert proof["spread"]["boxes"] == 10_000
    assert proof["panels"] is not None
    assert proof["verdicts"][0]["headline"].startswith("Clean at level to")
    assert (folder / "proof.pdf").read_bytes().startswith(b"%PDF-1.")


def test_again_it_replaces_its_own_files_and_no_others(folder: Path) -> None:
    mine = folder / "mine.txt"
    mine.write_text("mine")
    (folder / "report.pdf").write_text("old")
    result = inside("demo", folder, "--json")
    assert result.exit_code == 0, result.stderr
    assert "report.pdf" in json.loads(result.stdout)["files"]
    assert mine.read_text() == "mine"
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF")


def test_a_folder_of_others_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "brief.toml").write_text("mine")
    refused(inside("demo", tmp_path), "--force")
    assert [p.name for p in tmp_path.iterdir()] == ["brief.toml"]
    assert (tmp_path / "brief.toml").read_text() == "mine"


def test_a_ledger_cannot_point_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from boxwright.cli.demo import _ledger

    (tmp_path / ".boxwright-demo").write_text("../victim\n/etc/passwd\n..\n.\n.boxwright-demo\nreport.pdf\n")
    assert _ledger(tmp_path) == {"report.pdf"}


def test_folders_that_cannot_be(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("mine")
    refused(inside("demo", file), "got a file")
    refused(inside("demo", ""), "must have a name")
    refused(inside("demo", "a\0b"), "must have a name")


def test_a_stop_before_the_end_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from boxwright import job

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(job, "run", stopped)
    result = inside("demo", tmp_path / "new")
    assert result.exit_code == 130
    assert "stopped" in result.stderr
    assert list(tmp_path.iterdir()) == []
