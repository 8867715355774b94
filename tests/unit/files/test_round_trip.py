"""What is written is read back to the last bit, in any design and any brief."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.strategies import DESIGN_FAMILIES, briefs, designs

from boxwright.brief import Brief
from boxwright.design import Chamber, Design
from boxwright.errors import InputError
from boxwright.files import (
    dumps_brief,
    dumps_design,
    load_brief,
    load_design,
    loads_brief,
    loads_design,
    save_brief,
    save_design,
)


@pytest.mark.parametrize("family", DESIGN_FAMILIES)
@given(data=st.data())
@settings(max_examples=25)
def test_any_design_comes_back_equal(family: str, data: st.DataObject) -> None:
    design = data.draw(designs(family=family))
    assert loads_design(dumps_design(design)) == design


@given(briefs())
@settings(max_examples=60)
def test_any_brief_comes_back_equal(brief: Brief) -> None:
    assert loads_brief(dumps_brief(brief)) == brief


@given(designs())
@settings(max_examples=20)
def test_what_is_written_is_the_same_toml_to_two_independent_parsers(design: Design) -> None:
    text = dumps_design(design)
    assert tomlkit.parse(text).unwrap() == tomllib.loads(text)


@given(designs())
@settings(max_examples=20)
def test_writing_is_one_way_only(design: Design) -> None:
    text = dumps_design(design)
    assert dumps_design(loads_design(text)) == text


@given(designs(), briefs())
@settings(max_examples=10)
def test_files_hold_the_same(design: Design, brief: Brief) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "it.toml"
        save_design(design, path)
        assert load_design(path) == design
        save_brief(brief, path)
        assert load_brief(path) == brief


def test_exact_values_are_written_with_units_and_others_in_si(minimal_design: Design) -> None:
    nice = replace(minimal_design, rear=Chamber(volume=0.018))
    odd = replace(minimal_design, rear=Chamber(volume=0.1 + 0.2))
    assert 'volume = "18 L"' in dumps_design(nice)
    assert loads_design(dumps_design(odd)).rear == Chamber(volume=0.30000000000000004)


@pytest.mark.parametrize("volume", [0.0, -0.02, float("nan"), float("inf"), 1e40])
def test_a_design_that_no_file_can_hold_is_not_written(
    minimal_design: Design, volume: float, tmp_path: Path
) -> None:
    path = tmp_path / "box.toml"
    path.write_text("old")
    with pytest.raises(InputError, match="volume"):
        save_design(replace(minimal_design, rear=Chamber(volume=volume)), path)
    assert path.read_text() == "old"
    assert [each.name for each in tmp_path.iterdir()] == ["box.toml"]


def test_a_lone_surrogate_is_refused(minimal_design: Design) -> None:
    with pytest.raises(InputError, match="name"):
        dumps_design(replace(minimal_design, name="\ud800"))
