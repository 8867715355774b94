"""The trade-off front by its properties."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from boxwright.search.front import STEPS, boxed, front_of
from boxwright.search.ranking import WEIGHTING, balanced_scores

Real = NDArray[np.float64]


@st.composite
def figures(draw: st.DrawFn) -> Real:
    """Objectives of up to 120 candidates, many of them alike; now and then a level that nothing limits."""
    seed, number = draw(st.integers(0, 2**32 - 1)), draw(st.integers(1, 120))
    rng = np.random.default_rng(seed)
    spread = draw(st.sampled_from([0.01, 0.1, 1.0]))
    middle = np.array([0.04, 30.0, 104.0, 150.0, 12.0, 0.02])
    rows = middle * np.exp(spread * rng.normal(size=(number, 6)))
    rows[:, 2] = 104.0 + 10.0 * spread * rng.normal(size=number)
    if draw(st.booleans()):
        rows[rng.integers(number), 2] = 300.0
    if draw(st.booleans()):  # exact twins
        rows = np.concatenate((rows, rows[rng.integers(number, size=number // 3)]))
    return rows


def _keys(rows: Real) -> NDArray[np.int64]:
    return np.stack((np.arange(len(rows)) // 7, np.arange(len(rows)) % 7), axis=1)


@given(rows=figures())
def test_nobody_on_the_front_is_beaten_and_everybody_else_is(rows: Real) -> None:
    front = front_of(rows, _keys(rows))
    boxes = boxed(rows)
    assert front.size
    on = boxes[front]
    for i, one in enumerate(on):
        no_worse = (on <= one).all(axis=1)
        no_worse[i] = False
        assert not no_worse.any()
    for one in np.delete(boxes, front, axis=0):
        assert (on <= one).all(axis=1).any()


@given(rows=figures(), parts=st.integers(1, 6), seed=st.integers(0, 2**32 - 1))
def test_the_front_of_fronts_is_the_front_of_all(rows: Real, parts: int, seed: int) -> None:
    keys = _keys(rows)
    whole = front_of(rows, keys)
    part = np.random.default_rng(seed).integers(parts, size=len(rows))
    kept = np.concatenate([
        np.flatnonzero(part == k)[front_of(rows[part == k], keys[part == k])] for k in range(parts)
    ])  # fmt: skip
    again = kept[front_of(rows[kept], keys[kept])]
    assert again.tolist() == whole.tolist()


@given(rows=figures(), seed=st.integers(0, 2**32 - 1))
def test_the_order_of_the_rows_does_not_matter(rows: Real, seed: int) -> None:
    keys = _keys(rows)
    shuffled = np.random.default_rng(seed).permutation(len(rows))
    here = keys[front_of(rows, keys)]
    there = keys[shuffled][front_of(rows[shuffled], keys[shuffled])]
    assert here.tolist() == there.tolist()


def test_a_difference_of_more_than_a_step_counts() -> None:
    rows = np.array([[0.04, 30.0, 104.0, 150.0, 12.0, 0.02]] * 2)
    for j, step in enumerate(STEPS):
        better = rows.copy()
        better[1, j] = better[1, j] + 2.0 * step if j == 2 else better[1, j] * np.exp(-2.0 * step)
        assert front_of(better, _keys(better)).tolist() == [1]


def test_an_empty_front() -> None:
    assert front_of(np.empty((0, 6)), np.empty((0, 2), np.int64)).size == 0


@given(rows=figures())
def test_the_balanced_pick_lies_between_best_and_worst(rows: Real) -> None:
    signed = rows * np.array([1, 1, -1, 1, 1, 1])
    weights = np.array(list(WEIGHTING.values()))
    assert abs(weights.sum() - 1.0) < 1e-12
    scores = balanced_scores(signed, weights)
    assert np.isfinite(scores).all()
    assert ((scores >= -1e-12) & (scores <= 1.0 + 1e-12)).all()
