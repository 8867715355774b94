"""Starting up: quick, with nothing heavy, and with help for everything."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from tests.support.command import inside, outside, refused

HEAVY = (
    "numpy",
    "scipy",
    "numba",
    "matplotlib",
    "pint",
    "pydantic",
    "typst",
    "shapely",
    "rich",
    "sqlite3",
    "dask",
)


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys, json; sys.argv = ['boxwright', '--help']\n"
        "import boxwright.cli\n"
        "try:\n    boxwright.cli.main()\nexcept SystemExit as stop:\n    assert stop.code in (0, None)\n"
        "print(json.dumps(sorted(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(json.loads(done.stdout.strip().split("\n")[-1]))
    assert "boxwright.cli.predict" in loaded  # the verbs are there
    assert [name for name in HEAVY if name in loaded] == []


@pytest.mark.parametrize(
    "words",
    [(), ("demo",), ("shortlist",), ("predict",), ("report",), ("parts",),
     *((("parts", verb)) for verb in ("list", "find", "show", "add", "check", "import", "export", "remove"))],
)  # fmt: skip
def test_every_verb_has_help(words: tuple[str, ...]) -> None:
    result = inside(*words, "--help")
    assert result.exit_code == 0
    assert "Usage:" in result.stdout
    assert result.stderr == ""


def test_version_is_the_projects() -> None:
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())["project"]
    done = outside("--version")
    assert done.returncode == 0
    assert done.stdout.decode().strip() == f"boxwright {project['version']}"


@pytest.mark.parametrize(
    "words", [("nonsense",), ("predict",), ("predict", "x.toml", "--nonsense"), ("parts", "no")]
)
def test_wrong_words_end_with_2_and_no_traceback(words: tuple[str, ...]) -> None:
    result = inside(*words)
    refused(result, "--help")


def test_completion_is_offered() -> None:
    done = outside(
        _TYPER_COMPLETE_ARGS="boxwright sh",
        _BOXWRIGHT_COMPLETE="complete_bash",
        COMP_WORDS="boxwright sh",
        COMP_CWORD="1",
    )
    assert done.stdout.decode().split() == ["shortlist"]
