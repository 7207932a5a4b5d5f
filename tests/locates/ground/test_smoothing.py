"""The local fits behind a trace, each by itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locates.ground.smoothing import DENSE_SIGMAS, blend, gather_dense, set_outliers_aside


def _table(spots: np.ndarray, sigma: float = 0.1) -> np.ndarray:
    n = len(spots)
    return np.column_stack([spots, np.ones(n), np.full(n, sigma), np.full(n, 0.05)])


def _straight(count: int, step: float = 1.0) -> np.ndarray:
    along = np.arange(count) * step
    return np.column_stack([along, 2.0 * along])


@given(st.integers(3, 40), st.floats(0.3, 20.0))
def test_straight_marks_stay_where_they_are(count: int, step: float) -> None:
    spots = _straight(count, step)
    kept, aside = set_outliers_aside(_table(spots))
    assert aside == []
    assert kept.tolist() == list(range(count))
    place, sigma = blend(_table(spots))
    assert place == pytest.approx(spots, abs=1e-9 * count * step)
    assert (sigma <= 0.1 + 1e-12).all()
    assert (sigma > 0).all()


def test_exact_arc_is_followed_by_the_bent_fit() -> None:
    turn = np.arange(30) * 0.05
    spots = 30.0 * np.column_stack([np.sin(turn), 1.0 - np.cos(turn)])
    place, _ = blend(_table(spots))
    off = np.hypot(*(place - spots).T)
    assert off[1:-1].max() < 0.05  # half of a mark's error; a straight line through ten marks is off by 0.3 m
    assert off.max() < 0.10


@given(st.integers(8, 40), st.integers(0, 39), st.sampled_from([-1.0, 1.0]), st.floats(1.5, 50.0))
def test_one_blunder_is_the_only_one_to_go(count: int, at: int, side: float, size: float) -> None:
    spots = _straight(count)
    at %= count
    spots[at] += side * size * np.array([-2.0, 1.0]) / np.sqrt(5.0)
    _, aside = set_outliers_aside(_table(spots))
    assert [o.index for o in aside] == [at]
    assert aside[0].off_m == pytest.approx(size, rel=0.1)
    assert aside[0].limit_m < aside[0].off_m


def test_two_blunders_side_by_side_both_go() -> None:
    spots = _straight(20)
    spots[9:11] += np.array([-2.0, 1.0])
    _, aside = set_outliers_aside(_table(spots))
    assert sorted(o.index for o in aside) == [9, 10]


def test_sparse_marks_are_not_gathered() -> None:
    table = _table(_straight(20))
    rows, index, outliers = gather_dense(table)
    assert rows is table
    assert index.tolist() == list(range(20))
    assert outliers == []


def test_blocks_stand_farther_apart_than_their_errors() -> None:
    rng = np.random.default_rng(1)
    spots = _straight(2000, 0.01) + rng.normal(0.0, 0.1, (2000, 2))
    rows, index, _ = gather_dense(_table(spots))
    steps = np.hypot(*np.diff(rows[:, :2], axis=0).T)
    assert np.median(steps) > DENSE_SIGMAS * 0.1
    assert (np.diff(index) > 0).all()
    assert (rows[:, 3] >= 0.05 - 1e-12).all()  # a block is never surer than half of one point
