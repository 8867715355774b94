from __future__ import annotations

from pathlib import Path

import pytest
from tests.support.boxes import passive_box
from tests.support.command import answer, inside, refused

from boxwright.files import save_design


@pytest.fixture
def design(tmp_path: Path) -> Path:
    path = tmp_path / "box.toml"
    save_design(passive_box("Bench <box> & #panic() $x$"), path)
    return path


def test_pdf_and_page_are_written(design: Path, tmp_path: Path) -> None:
    pdf, page = tmp_path / "out.pdf", tmp_path / "out.html"
    said = answer(inside("report", design, "--to", pdf, "--json"))
    assert said == {"file": str(pdf), "bytes": pdf.stat().st_size}
    assert pdf.read_bytes().startswith(b"%PDF-1.")
    assert pdf.read_bytes().rstrip().endswith(b"%%EOF")
    assert inside("report", design, "--to", page, "--voltage", "5").exit_code == 0
    assert "Bench &lt;box&gt; &amp; #panic() $x$" in page.read_text()
    assert "At 5.00 V" in page.read_text()


def test_without_to_it_takes_the_designs_name(
    design: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert inside("report", design).exit_code == 0
    assert (tmp_path / "box.pdf").read_bytes().startswith(b"%PDF")


def test_an_old_file_stays_unless_forced(design: Path, tmp_path: Path) -> None:
    path = tmp_path / "old.html"
    path.write_text("mine")
    refused(inside("report", design, "--to", path), "--force")
    assert path.read_text() == "mine"
    assert inside("report", design, "--to", path, "--force").exit_code == 0
    assert path.read_text().startswith("<!doctype html>")


def test_outputs_that_cannot_be(design: Path, tmp_path: Path) -> None:
    refused(inside("report", design, "--to", tmp_path / "x.docx"), ".pdf or .html")
    refused(inside("report", design, "--to", tmp_path / "none" / "x.pdf"), "folder")
    (tmp_path / "folder.pdf").mkdir()
    refused(inside("report", design, "--to", tmp_path / "folder.pdf"), "folder")
    refused(inside("report", tmp_path / "none.toml"), "found none")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["box.toml", "folder.pdf"]
