"""Every source key that a docstring, a test or a page cites is in the one list, and the list is whole."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "boxwright"
LIST = tomllib.loads((SOURCE / "data" / "references.toml").read_text(encoding="utf-8"))


def docstrings(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            yield ast.get_docstring(node) or ""


def cited(docstring: str) -> list[str]:
    """Keys in the References section of a numpydoc docstring."""
    _, _, section = docstring.partition("References\n----------\n")
    section = re.split(r"\n[A-Z][A-Za-z ]+\n-{3,}\n", section)[0]
    entries = [line.split(",")[:1] if ", eq" in line else line.split(",") for line in section.splitlines()]
    return [key.strip() for line in entries for key in line if key.strip()]


MODULES = sorted(SOURCE.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_docstrings_cite_known_sources(path: Path) -> None:
    unknown = {key for text in docstrings(path) for key in cited(text) if key.split()[0] not in LIST}
    assert unknown == set()


def test_docstrings_do_cite() -> None:
    found = {key for path in MODULES for text in docstrings(path) for key in cited(text)}
    assert len(found & LIST.keys()) > 10


@pytest.mark.parametrize("page", sorted((ROOT / "docs").glob("*.md")), ids=lambda p: p.name)
def test_pages_cite_known_sources(page: Path) -> None:
    # pages put keys in brackets: [small1974]
    keys = set(
        re.findall(r"\[([a-z][a-z0-9_]*\d[a-z0-9_]*|kuttruff)\](?!\()", page.read_text(encoding="utf-8"))
    )
    assert keys <= LIST.keys()


@pytest.mark.parametrize("key", sorted(LIST))
def test_every_entry_is_whole(key: str) -> None:
    entry = LIST[key]
    assert set(entry) - {"note"} == {"authors", "title", "where", "year"}
    assert all(entry[field] for field in ("authors", "title", "where"))
    assert 1800 <= entry["year"] <= 2100
