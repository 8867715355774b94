"""From a front to a ranked list: the best in each, and one balanced pick with its weighting shown."""

from __future__ import annotations

import numpy as np

from boxwright.search.shortlist import OBJECTIVES, Candidate

__all__ = ["WEIGHTING", "balanced_scores", "best_in_each", "rank"]

# How much each objective counts in the balanced pick; the sum is 1. (common practice, no source)
WEIGHTING: dict[str, float] = {
    "outer_volume": 0.15,
    "reach": 0.25,
    "clean_level": 0.15,
    "price": 0.20,
    "weight": 0.15,
    "group_delay": 0.10,
}

_ENDLESS = 300.0  # dB that no box reaches


def balanced_scores(figures: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Weighted sum of each objective's place between the best and the worst of the front, 0 the best.

    Parameters
    ----------
    figures : ndarray, shape (n, 6)
        Objectives, all to be made small.
    weights : ndarray, shape (6,)

    Returns
    -------
    ndarray, shape (n,)
    """
    low, high = figures.min(axis=0), figures.max(axis=0)
    span = np.where(high > low, high - low, 1.0)
    return np.asarray(((figures - low) / span) @ weights)


def _figures(candidates: list[Candidate]) -> np.ndarray:
    figures = np.array([
        [getattr(c, name) if less else -getattr(c, name) for name, _, _, less in OBJECTIVES] for c in candidates
    ])  # fmt: skip
    # a level that nothing limits is infinite, and no share of a span
    return np.asarray(np.clip(figures, -_ENDLESS, _ENDLESS))


def rank(candidates: list[Candidate]) -> list[Candidate]:
    """The candidates by balanced score, the pick first; ties by price, then by what they are made of."""
    if not candidates:
        return []
    weights = np.array([WEIGHTING[name] for name, *_ in OBJECTIVES])
    scores = balanced_scores(_figures(candidates), weights)
    order = sorted(
        range(len(candidates)),
        key=lambda i: (round(float(scores[i]), 9), candidates[i].price, candidates[i].parts),
    )
    return [candidates[i] for i in order]


def best_in_each(candidates: list[Candidate]) -> dict[str, int]:
    """Index of the best candidate in each objective, under the objective's word."""
    if not candidates:
        return {}
    figures = _figures(candidates)
    return {words: int(np.argmin(figures[:, j])) for j, (_, words, _, _) in enumerate(OBJECTIVES)}
