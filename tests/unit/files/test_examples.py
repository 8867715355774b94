"""The example files are valid, say nothing that needs a note, and compute."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from boxwright.acoustics.response import predict
from boxwright.files import (
    dumps_brief,
    dumps_design,
    load_design_with_notes,
    loads_brief,
    loads_brief_with_notes,
    loads_design,
    loads_design_with_notes,
)

ROOT = Path(__file__).parents[3]
DESIGNS = [
    path
    for path in sorted((ROOT / "examples").glob("*.toml"))
    if "boxwright-design" in path.read_text(encoding="utf-8")
]


def test_there_is_one_of_each_family() -> None:
    assert {path.stem for path in DESIGNS} >= {
        "closed-box",
        "vented-box",
        "passive-box",
        "bandpass-box",
        "transmission-line",
        "coupled-chambers",
    }


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_an_example_design_loads_computes_and_round_trips(path: Path) -> None:
    design, notes = load_design_with_notes(path)
    assert notes == ()
    assert loads_design(dumps_design(design)) == design
    level = predict(design, frequency=np.geomspace(10.0, 200.0, 50)).level
    assert np.all(np.isfinite(level))
    assert 70.0 < float(level.max()) < 110.0  # 2.83 V into one or two drivers, dB at a few metres at most


def test_the_example_brief_is_the_cinema_trailer() -> None:
    text = (files("boxwright") / "data" / "example" / "cinema-trailer.toml").read_text(encoding="utf-8")
    brief, notes = loads_brief_with_notes(text)
    assert notes == ()
    assert (brief.space.width, brief.space.height, brief.space.depth) == (0.62, 0.19, 0.4)
    assert (brief.target.reach, brief.target.level, brief.target.band_top) == (32.0, 102.0, 90.0)
    assert (brief.source.max_power, brief.source.load) == (150.0, 4.0)
    assert (brief.limits.weight, brief.limits.budget, brief.passive_facing) == (14.0, 320.0, "down")
    assert loads_brief(dumps_brief(brief)) == brief


BLOCKS = re.findall(r"```toml\n(.*?)```", (ROOT / "docs" / "files.md").read_text(encoding="utf-8"), re.DOTALL)


def test_what_the_manual_shows_is_valid() -> None:
    whole = [block for block in BLOCKS if "format =" in block]
    assert len(whole) >= 2
    for block in whole:
        read = loads_brief_with_notes if "boxwright-brief" in block else loads_design_with_notes
        assert read(block)[1] == ()
        assert tomllib.loads(block)


def test_the_manual_names_every_key() -> None:
    from pydantic import BaseModel

    from boxwright.files.fields import tables_in
    from boxwright.files.schema_brief import BriefFile
    from boxwright.files.schema_design import DesignFile

    manual = (ROOT / "docs" / "files.md").read_text(encoding="utf-8")
    todo: list[type[BaseModel]] = [DesignFile, BriefFile]
    seen: set[type[BaseModel]] = set()
    missing = set()
    while todo:
        table = todo.pop()
        if table in seen:
            continue
        seen.add(table)
        for key, field in table.model_fields.items():
            if f"`{key}`" not in manual and f"[{key}]" not in manual and f".{key}]" not in manual:
                missing.add(key)
            todo += tables_in(field)
    assert missing == set()
