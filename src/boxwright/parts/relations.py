"""What ties the values of a data sheet together, and the solver that follows the ties in any direction.

Every relation but one is a product of powers, so it is linear in logarithms: ``ln fs = −ln 2π − ½·ln mms −
½·ln cms``. A sheet is then a set of linear equations for the logarithms of the stored parameters, and elimination
says which values follow from which. The exception, ``1/qts = 1/qms + 1/qes``, joins as soon as it has one
unknown.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from boxwright.air import Air

__all__ = ["Impossible", "Relation", "SheetModel", "Solution", "driver_model", "passive_model", "solve"]

_ZERO = 1e-9  # the coefficients are small fractions: what is below this is a rounding error


class Impossible(Exception):
    """The parallel total is not below one of its branches.

    Parameters
    ----------
    branch : str
        The branch that the other values imply.
    value : float
        What they imply for it.
    """

    def __init__(self, branch: str, value: float) -> None:
        self.branch = branch
        self.value = value
        super().__init__(branch)


@dataclass(frozen=True, slots=True)
class Relation:
    """A value as a product of powers of the stored parameters: ``value = factor·Π parameterᵏ``.

    Attributes
    ----------
    powers : mapping of str to float
        Exponents k by parameter.
    log_factor : float
        Natural logarithm of the factor.
    """

    powers: Mapping[str, float]
    log_factor: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetModel:
    """The values a kind of data sheet may state.

    Attributes
    ----------
    stored : tuple of str
        The independent parameters.
    relations : mapping of str to Relation
        Every value that is a product of powers, the stored ones included.
    trust : tuple of str
        Every value, in the order in which stated ones are taken.
    wanted : tuple of str
        Every value, in the order in which a missing one is asked for.
    parallel : tuple of str
        A total and its two branches, ``1/total = 1/a + 1/b``; None: there is none.
    """

    stored: tuple[str, ...]
    relations: Mapping[str, Relation]
    trust: tuple[str, ...]
    wanted: tuple[str, ...]
    parallel: tuple[str, str, str] | None = None

    def sufficient(self, names: Iterable[str]) -> bool:
        """Whether these values, whatever they are, determine all others."""
        return solve(self, dict.fromkeys(names, 1.0), symbolic=True).complete

    def enough(self, names: Iterable[str]) -> tuple[str, ...]:
        """Return the fewest further values that make these sufficient, the most usual ones first."""
        have = set(names)
        further = [name for name in self.wanted if name not in have]
        for name in further:
            if self.sufficient({*have, name}):
                return (name,)
        added: list[str] = []
        rank = solve(self, dict.fromkeys(have, 1.0), symbolic=True).rank
        for name in further:
            if self.sufficient({*have, *added}):
                break
            gained = solve(self, dict.fromkeys({*have, *added, name}, 1.0), symbolic=True).rank
            if gained > rank:
                added.append(name)
                rank = gained
        for name in list(added):  # the parallel total may have made an earlier one superfluous
            fewer = [other for other in added if other != name]
            if self.sufficient({*have, *fewer}):
                added = fewer
        return tuple(added)


@dataclass(slots=True)
class Solution:
    """What a set of stated values determines.

    Attributes
    ----------
    taken : tuple of str
        Stated values that the others before them in the order of trust did not determine already.
    ambiguous : bool
        Two different parts have these values.
    """

    model: SheetModel
    stated: Mapping[str, float]
    taken: list[str] = field(default_factory=list)
    ambiguous: bool = False
    _rows: list[tuple[int, list[float], float]] = field(default_factory=list)

    @property
    def rank(self) -> int:
        """Number of independent equations."""
        return len(self._rows)

    @property
    def complete(self) -> bool:
        """Whether everything is determined."""
        return self.rank == len(self.model.stored)

    def log(self, name: str) -> float | None:
        """Natural logarithm of a value, or None where it is not determined."""
        if self.model.parallel and name == self.model.parallel[0]:
            a, b = (self.log(branch) for branch in self.model.parallel[1:])
            return None if a is None or b is None else -_log_sum(-a, -b)
        row, constant = self._reduced(name)
        return None if any(row) else self.model.relations[name].log_factor - constant

    def value(self, name: str) -> float | None:
        """A value, as stated where it was taken; None where it is not determined."""
        if name in self.taken:
            return self.stated[name]
        log = self.log(name)
        return None if log is None else math.exp(min(max(log, -700.0), 700.0))

    def fix(self, name: str, log_value: float) -> bool:
        """Add the equation ``ln name = log_value``; False if the value was determined before."""
        row, constant = self._reduced(name)
        return self._add(row, constant + log_value - self.model.relations[name].log_factor)

    def _reduced(self, name: str) -> tuple[list[float], float]:
        powers = self.model.relations[name].powers
        row, constant = [powers.get(parameter, 0.0) for parameter in self.model.stored], 0.0
        for pivot, other, value in self._rows:
            share = row[pivot]
            if share:
                row = [mine - share * theirs for mine, theirs in zip(row, other, strict=True)]
                constant -= share * value
        return [0.0 if abs(entry) < _ZERO else entry for entry in row], constant

    def _add(self, row: list[float], constant: float) -> bool:
        pivot = max(range(len(row)), key=lambda k: abs(row[k]))
        lead = row[pivot]
        if not lead:
            return False
        self._rows.append((pivot, [entry / lead for entry in row], constant / lead))
        return True

    def _free_direction(self) -> list[float]:
        """How the logarithms of the stored parameters move along the only direction left open."""
        pivots = {pivot for pivot, _, _ in self._rows}
        (open_one,) = set(range(len(self.model.stored))) - pivots
        direction = [0.0] * len(self.model.stored)
        direction[open_one] = 1.0
        for pivot, row, _ in reversed(self._rows):
            direction[pivot] = -sum(row[k] * direction[k] for k in range(len(row)) if k != pivot)
        return direction

    def join_total(self, parallel: tuple[str, str, str], *, last: bool, symbolic: bool) -> bool:
        """Use the parallel total if it leaves one unknown; False: not yet."""
        total, a, b = parallel
        log_total = math.log(self.stated[total])
        known = {branch: self.log(branch) for branch in (a, b)}
        if all(value is not None for value in known.values()):
            return True
        for branch, other in ((a, b), (b, a)):
            log_known = known[branch]
            if log_known is not None:
                if not symbolic and log_total >= log_known:
                    raise Impossible(branch, math.exp(log_known))
                log_other = 0.0 if symbolic else log_total - math.log(-math.expm1(log_total - log_known))
                self.fix(other, log_other)
                self.taken.append(total)
                return True
        if last and self.rank == len(self.model.stored) - 1:
            self._join_along_line(parallel, symbolic=symbolic)
        return False

    def _join_along_line(self, parallel: tuple[str, str, str], *, symbolic: bool) -> None:
        """Find the point of the last open line where the two branches make the total."""
        total, a, b = parallel
        direction = self._free_direction()
        slopes = [
            sum(
                self.model.relations[branch].powers.get(name, 0.0) * move
                for name, move in zip(self.model.stored, direction, strict=True)
            )
            for branch in (a, b)
        ]
        if all(abs(slope) < _ZERO for slope in slopes):
            return
        if slopes[0] * slopes[1] < -_ZERO:  # one branch rises where the other falls: two solutions or none
            self.ambiguous = True
            return
        open_name = self.model.stored[next(k for k, move in enumerate(direction) if move == 1.0)]
        # start where the open parameter is 1, i.e. its logarithm 0
        trial = Solution(self.model, self.stated, [], False, list(self._rows))
        trial.fix(open_name, 0.0)
        starts = [trial.log(branch) or 0.0 for branch in (a, b)]
        place = 0.0 if symbolic else _crossing(starts, slopes, math.log(self.stated[total]))
        self.fix(open_name, place)
        self.taken.append(total)


def solve(model: SheetModel, stated: Mapping[str, float], *, symbolic: bool = False) -> Solution:
    """Follow the relations as far as the stated values reach.

    Parameters
    ----------
    model : SheetModel
        The relations.
    stated : mapping of str to float
        Values > 0, SI.
    symbolic : bool
        Only ask what would be determined; the numbers do not matter.

    Returns
    -------
    Solution
        Complete or not.

    Raises
    ------
    Impossible
        If the total of the parallel relation is not below a branch.
    """
    found = Solution(model, stated)
    waiting = False
    for name in model.trust:
        if name not in stated:
            continue
        if model.parallel and name == model.parallel[0]:
            waiting = not found.join_total(model.parallel, last=False, symbolic=symbolic)
        elif found.fix(name, math.log(stated[name])):
            found.taken.append(name)
    if waiting and model.parallel:
        found.join_total(model.parallel, last=True, symbolic=symbolic)
    return found


def driver_model(air: Air) -> SheetModel:
    """Relations of a driver's small-signal parameters.

    Notes
    -----
    ``fs = 1/(2π√(mms·cms))``, ``qms = √(mms/cms)/rms``, ``qes = √(mms/cms)·re/bl²``, ``1/qts = 1/qms + 1/qes``,
    ``vas = ρc²·sd²·cms``, ``eta0 = (4π²/c³)·fs³·vas/qes``, ``sd = π/4·diameter²`` with the effective diameter.

    References
    ----------
    small1972direct
    """
    log_vas, log_fs = math.log(air.bulk_modulus), -math.log(2.0 * math.pi)
    log_eta0 = math.log(4.0 * math.pi**2 / air.speed_of_sound**3) + 3.0 * log_fs + log_vas
    return SheetModel(
        stored=("re", "bl", "mms", "cms", "rms", "sd"),
        relations={
            **{name: Relation({name: 1.0}) for name in ("re", "bl", "mms", "cms", "rms", "sd")},
            "fs": Relation({"mms": -0.5, "cms": -0.5}, log_fs),
            "qms": Relation({"mms": 0.5, "cms": -0.5, "rms": -1.0}),
            "qes": Relation({"mms": 0.5, "cms": -0.5, "re": 1.0, "bl": -2.0}),
            "vas": Relation({"sd": 2.0, "cms": 1.0}, log_vas),
            "diameter": Relation({"sd": 0.5}, 0.5 * math.log(4.0 / math.pi)),
            "eta0": Relation({"mms": -2.0, "sd": 2.0, "re": -1.0, "bl": 2.0}, log_eta0),
        },
        trust=("re", "sd", "bl", "mms", "cms", "rms", "fs", "qes", "qms", "qts", "vas", "diameter", "eta0"),
        wanted=("sd", "vas", "re", "fs", "qms", "qes", "mms", "bl", "cms", "rms", "qts", "diameter", "eta0"),
        parallel=("qts", "qms", "qes"),
    )


def passive_model(air: Air) -> SheetModel:
    """Relations of a passive's parameters.

    Notes
    -----
    ``fp = 1/(2π√(mmp·cmp))``, ``qmp = √(mmp/cmp)/rmp``, ``vap = ρc²·sp²·cmp``, ``sp = π/4·diameter²``.

    References
    ----------
    small1974
    """
    return SheetModel(
        stored=("mmp", "cmp", "rmp", "sp"),
        relations={
            **{name: Relation({name: 1.0}) for name in ("mmp", "cmp", "rmp", "sp")},
            "fp": Relation({"mmp": -0.5, "cmp": -0.5}, -math.log(2.0 * math.pi)),
            "qmp": Relation({"mmp": 0.5, "cmp": -0.5, "rmp": -1.0}),
            "vap": Relation({"sp": 2.0, "cmp": 1.0}, math.log(air.bulk_modulus)),
            "diameter": Relation({"sp": 0.5}, 0.5 * math.log(4.0 / math.pi)),
        },
        trust=("sp", "mmp", "cmp", "rmp", "fp", "qmp", "vap", "diameter"),
        wanted=("sp", "vap", "fp", "qmp", "mmp", "cmp", "rmp", "diameter"),
    )


def _log_sum(a: float, b: float) -> float:
    """``ln(eᵃ + eᵇ)`` without overflow."""
    high, low = max(a, b), min(a, b)
    return high + math.log1p(math.exp(low - high))


def _crossing(starts: list[float], slopes: list[float], log_total: float) -> float:
    """Find t where ``1/total = exp(−a − u·t) + exp(−b − v·t)``; u and v have one sign.

    The logarithm of the right side is convex and monotone in t, so Newton's method closes in from one side.
    """
    (a, b), (u, v) = starts, slopes
    t = 0.0
    for _ in range(200):
        first, second = -a - u * t, -b - v * t
        level = _log_sum(first, second)
        slope = -(u * math.exp(first - level) + v * math.exp(second - level))
        if slope == 0.0:
            break
        step = (level + log_total) / slope
        t -= step
        if abs(step) <= 1e-15 * (1.0 + abs(t)):
            break
    return t
