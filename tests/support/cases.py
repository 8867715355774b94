"""Cases with their source beside them: TOML files in tests/published, one case a table.

A file may state ``source``, ``locator``, ``kind`` (and ``tolerance`` with its ``reason``) once at its top;
a case that states its own goes by its own. Expected values are text, as printed, so that the last printed
digit is known: half of it is the tolerance, unless ``tolerance = { relative = ... }`` or ``{ absolute = ...
}`` stands there with a reason (or ``{ quantity = { absolute = ... }, ... }``, one for each that needs its
own).
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

PUBLISHED = Path(__file__).resolve().parents[1] / "published"

KINDS = (
    "published",
    "closed form",
    "reference library",
    "simulator",
    "common practice",
    "from memory",
)
UNSOURCED = ("common practice", "closed form", "from memory")
"""Kinds that may stand without a source key."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One set of inputs and what somebody else says comes out."""

    file: str
    name: str
    source: str
    locator: str
    kind: str
    inputs: dict[str, Any]
    expected: dict[str, str]
    tolerance: dict[str, Any]
    reason: str

    @property
    def id(self) -> str:
        return f"{self.file}:{self.name}"

    def stated(self, quantity: str) -> dict[str, float]:
        """The tolerance that is written down for a quantity; empty: half its last printed digit."""
        own = self.tolerance.get(quantity, self.tolerance)
        return {key: own[key] for key in ("relative", "absolute") if key in own}

    def allowed(self, quantity: str) -> float:
        """How far from the expected value the answer may lie, absolute."""
        printed = Decimal(self.expected[quantity])
        stated = self.stated(quantity)
        if "absolute" in stated:
            return stated["absolute"]
        if "relative" in stated:
            return stated["relative"] * abs(float(printed))
        exponent = printed.as_tuple().exponent
        assert isinstance(exponent, int)
        return 0.5 * 10.0**exponent

    def check(self, **answers: float) -> None:
        """Hold answers against the expected values of the same names; every one has to be answered."""
        assert answers.keys() == self.expected.keys(), (sorted(answers), sorted(self.expected))
        for quantity, answer in answers.items():
            wanted = float(self.expected[quantity])
            # Half a digit in the last place is exact in decimal and not in binary.
            allowed = self.allowed(quantity) + 1e-12 * abs(wanted)
            off = abs(answer - wanted)
            assert off <= allowed or (math.isinf(wanted) and answer == wanted), (
                f"{self.id} {quantity}: got {answer!r}, "
                f"{self.source or self.kind} has {wanted!r} ± {allowed:.3g}"
            )


def load(file: str) -> list[Case]:
    """Cases of one file in tests/published."""
    with (PUBLISHED / file).open("rb") as stream:
        table = tomllib.load(stream)
    shared = {key: value for key, value in table.items() if key != "case"}
    cases = []
    for number, own in enumerate(table.get("case", [])):
        stated = {**shared, **own}
        inputs = {**shared.get("inputs", {}), **own.get("inputs", {})}
        cases.append(
            Case(
                file=file,
                name=stated.get("name", str(number + 1)),
                source=stated.get("source", ""),
                locator=stated.get("locator", ""),
                kind=stated.get("kind", ""),
                inputs=inputs,
                expected=own.get("expected", {}),
                tolerance=stated.get("tolerance", {}),
                reason=stated.get("reason", ""),
            )
        )
    return cases
