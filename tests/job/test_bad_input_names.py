"""Hostile and very long names, and extreme but valid designs: every output stays what it is."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from tests.support.boxes import BRIEF, driver, passive, passive_box
from tests.support.command import answer, inside
from tests.support.strategies import designs

from boxwright.acoustics.response import predict
from boxwright.brief import Brief, PartsChoice, Space, Target
from boxwright.design import Design
from boxwright.errors import BoxwrightError
from boxwright.files import save_design
from boxwright.job import files_of, run
from boxwright.parts.rows import csv_table, marked
from boxwright.parts.store import Store

# Signs that a spreadsheet takes as the beginning of a formula: OWASP, "CSV Injection".
FORMULAS = ("=", "+", "-", "@", "\t", "\r")
NAMES = (
    "=HYPERLINK(\"http://x\")",
    "+1+1",
    "@SUM(A1)",
    "-2+3",
    "'=1+1",
    "<script>alert(1)</script>",
    "#panic() $x$ \\ * _ ` @a <b>",
    "🎺 ünïcödé 漢字",
    "a\u202eb",
    "x" * 120,
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_parts_of_any_name_go_through_every_table(name: str, tmp_path: Path) -> None:
    store, other = tmp_path / "s", tmp_path / "o"
    with Store(store, include_examples=False) as opened:
        opened.add(replace(driver(), name=name))
    for words in (("list",), ("show", "--", name)):
        result = inside("parts", words[0], "--no-examples", *words[1:], store=store)
        assert result.exit_code == 0
        assert "\u202e" not in result.stdout  # nothing turns a terminal's writing round
    for file in ("a.csv", "a.toml"):
        assert inside("parts", "export", tmp_path / file, store=store).exit_code == 0
        assert inside("parts", "import", tmp_path / file, "--replace", store=other).exit_code == 0
        with Store(other, include_examples=False) as opened:
            assert opened.drivers(("*",)) == (replace(driver(), name=name),)
    for row in csv.reader(io.StringIO((tmp_path / "a.csv").read_text())):
        assert not row[1].startswith(FORMULAS)


@pytest.mark.parametrize("cell", ["", "'", "a", "'a", "=a", "'=a", "''=a", "-", "@", "\ta", "'\ta", "a=b"])
def test_a_marked_cell_is_no_formula_and_comes_back(cell: str) -> None:
    assert not marked(cell).startswith(FORMULAS)
    file = io.StringIO()
    csv.writer(file).writerows([["part", "notes"], ["driver", marked(cell)]])
    (row,) = csv_table(file.getvalue(), "here").rows
    assert row.cells.get("notes", "") == cell


def test_a_job_with_hostile_names_writes_safe_files() -> None:
    name = '=cmd|"/c x"!A1 <script>x</script> #panic() $x$'
    brief = Brief(
        name=name,
        space=Space(width=0.62, height=0.19, depth=0.4),
        target=Target(reach=36.0, level=98.0),
        drivers=(replace(driver(), name=name),),
        passives=(replace(passive(), name=name),),
        parts=PartsChoice(drivers=(), passives=(), vents=()),
    )  # fmt: skip
    with Store("none", include_examples=True) as store:
        files = dict(files_of(run(brief, store)))
    rows = list(csv.DictReader(io.StringIO(files["candidates.csv"].decode())))
    assert rows
    assert not any(cell.startswith(FORMULAS) for row in rows for key, cell in row.items() if key == "parts")
    assert b"<script>" not in files["report.html"]
    assert files["report.pdf"].startswith(b"%PDF")
    assert b"<script>" not in files["front.svg"]
    assert json.loads(files["shortlist.json"])["brief"] == name


@pytest.mark.parametrize("name", ["a\\u001b[31mb", "a\\nb", "a\\u0000b", "x" * 201])
def test_a_file_cannot_smuggle_control_characters(name: str, tmp_path: Path) -> None:
    path = tmp_path / "brief.toml"
    path.write_text(BRIEF.replace('name = "Small"', f'name = "{name}"'))
    result = inside("shortlist", path)
    assert result.exit_code == 2
    assert "line 2" in result.stderr
    assert "\x1b" not in result.stderr


def test_a_long_name_does_not_break_the_tables(tmp_path: Path) -> None:
    path = tmp_path / "box.toml"
    save_design(passive_box("<b> " + "very long " * 19), path)
    assert inside("predict", path).exit_code == 0
    assert answer(inside("predict", path, "--json"))["name"].startswith("<b> very long")


@given(designs())
@settings(max_examples=40)
def test_no_design_gives_anything_but_numbers_or_a_refusal(design: Design) -> None:
    """What is infinite becomes null in JSON; nothing else is raised than the family of errors."""
    try:
        response = predict(design, frequency=[0.01, 1.0, 20.0, 50.0, 300.0, 1e3, 1e5])
    except BoxwrightError:
        return
    said = response.to_dict()
    json.dumps(said, allow_nan=False)
    for key in ("level_db", "impedance_ohm", "driver_travel_m", "group_delay_s"):
        values = said[key]
        assert isinstance(values, list)
        assert all(value is not None and math.isfinite(value) for value in values), key
