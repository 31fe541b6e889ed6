from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tidegate.geometry import components as module
from tidegate.geometry.components import components


def by_scipy(one: np.ndarray, other: np.ndarray, count: int) -> np.ndarray:
    graph = coo_array((np.ones(len(one)), (one, other)), shape=(count, count))
    labels = connected_components(graph, directed=False)[1]
    _, first = np.unique(labels, return_index=True)
    return np.argsort(np.argsort(first))[labels]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 300), st.integers(0, 400))
def test_labels_equal_those_of_scipy_in_order_of_the_lowest_member(seed: int, count: int, pairs: int) -> None:
    rng = np.random.default_rng(seed)
    one, other = rng.integers(0, count, pairs), rng.integers(0, count, pairs)
    labels, total = components(one, other, count)
    assert labels.tolist() == by_scipy(one, other, count).tolist()
    assert total == labels.max() + 1


@pytest.mark.parametrize("shape", ["path", "path shuffled", "star from the top", "comb", "caterpillar"])
def test_awkward_shapes_take_few_rounds_and_come_out_whole(shape: str, monkeypatch: pytest.MonkeyPatch) -> None:
    count = 4096
    rng = np.random.default_rng(0)
    step = np.arange(count - 1)
    shuffled = rng.permutation(count)
    one, other = {
        "path": (step, step + 1),
        "path shuffled": (shuffled[step], shuffled[step + 1]),
        "star from the top": (np.full(count - 1, count - 1), step),
        # Low numbers and high ones in turn: hooking downward alone would keep half of the nodes every round.
        "comb": (np.concatenate([step // 2, (step + 1) // 2]), np.concatenate([count - 1 - step // 2] * 2)),
        "caterpillar": (step // 2, step + 1),
    }[shape]
    rounds = []
    monkeypatch.setattr(module, "_touched", lambda nodes, n: rounds.append(n) or len(np.unique(nodes)))
    labels, total = components(one, other, count)
    assert total == 1
    assert not labels.any()
    assert len(rounds) <= 2 * 13  # two counts a round, at most log2 of the nodes


def test_no_pairs_leave_everything_alone() -> None:
    none = np.zeros(0, np.int64)
    assert components(none, none, 3)[0].tolist() == [0, 1, 2]
    assert components(none, none, 0)[1] == 0


def test_blocks_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    one, other = np.random.default_rng(2).integers(0, 200, (2, 150))
    monkeypatch.setattr(module, "_BLOCK", 7)
    assert components(one, other, 200)[0].tolist() == by_scipy(one, other, 200).tolist()
