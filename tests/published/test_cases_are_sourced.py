"""Every case in tests/published says where it comes from, and has a tolerance that can fail."""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest
from tests.support.cases import KINDS, PUBLISHED, UNSOURCED, Case, load

FILES = sorted(path.name for path in PUBLISHED.glob("*.toml"))
CASES = [case for file in FILES for case in load(file)]
KEYS = tomllib.loads((files("boxwright") / "data" / "references.toml").read_text(encoding="utf-8")).keys()
LOOSEST = 0.2
"""Share of the value; beyond it a tolerance lets a wrong factor pass."""


def complaint(case: Case) -> str:
    """What is wrong with a case; empty: nothing."""
    if case.kind not in KINDS:
        return f"kind must be one of {', '.join(KINDS)}, got {case.kind!r}"
    if case.source not in KEYS and not (case.source == "" and case.kind in UNSOURCED):
        return f"source {case.source!r} is not in references.toml"
    if not case.locator and case.kind != "common practice":
        return "locator is missing: where in the source, or how it was worked out"
    if not case.expected:
        return "nothing is expected"
    for quantity, text in case.expected.items():
        if not isinstance(text, str):
            return f"{quantity} must be text, as printed, got {text!r}"
        value, allowed, stated = abs(float(text)), case.allowed(quantity), case.stated(quantity)
        if not allowed > 0.0:
            return f"tolerance of {quantity} must be > 0, got {allowed:g}"
        if stated and not case.reason:
            return f"tolerance of {quantity} is stated without a reason"
        if allowed >= LOOSEST * value and "absolute" not in stated and value > 0.0:
            return f"tolerance of {quantity} is {allowed:g} of {value:g}: it cannot fail"
    return ""


def test_there_are_cases() -> None:
    assert len(CASES) > 100


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.id)
def test_case_is_sourced_and_can_fail(case: Case) -> None:
    assert complaint(case) == ""


GOOD = {
    "file": "x.toml",
    "name": "x",
    "source": "small1974",
    "locator": "from memory",
    "kind": "published",
    "inputs": {},
    "expected": {"f3": "1.23"},
    "tolerance": {},
    "reason": "",
}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({}, ""),
        ({"source": "nobody1900"}, "not in references"),
        ({"source": ""}, "not in references"),
        ({"kind": "somewhere"}, "kind must be"),
        ({"locator": ""}, "locator is missing"),
        ({"expected": {}}, "nothing is expected"),
        ({"expected": {"f3": 1.23}}, "as printed"),
        ({"tolerance": {"relative": 0.01}}, "without a reason"),
        ({"tolerance": {"relative": 0.5}, "reason": "x"}, "cannot fail"),
        ({"tolerance": {"absolute": 0.0}, "reason": "x"}, "must be > 0"),
        ({"expected": {"f3": "1"}}, "cannot fail"),
    ],
)
def test_the_rules_catch(change: dict[str, object], says: str) -> None:
    found = complaint(Case(**{**GOOD, **change}))  # type: ignore[arg-type]
    assert says in found
    assert bool(found) is bool(says)
