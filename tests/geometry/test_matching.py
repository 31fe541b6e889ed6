from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.geometry import matching


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 400), st.integers(1, 3), st.integers(1, 40))
def test_equal_rows_share_a_representative_and_no_others_do(seed: int, count: int, width: int, values: int) -> None:
    rows = np.random.default_rng(seed).integers(0, values, (count, width)).astype(np.uint64)
    found = matching.representatives([np.ascontiguousarray(rows[:, k]) for k in range(width)])
    assert (rows[found] == rows).all()
    ids, total = matching.ids_of(found)
    assert total == len(np.unique(rows, axis=0)) == len(np.unique(ids))
    assert len({(*row, number) for row, number in zip(rows.tolist(), ids.tolist(), strict=True)}) == total


def test_rows_whose_hashes_all_collide_are_sorted_out_exactly(monkeypatch: pytest.MonkeyPatch) -> None:
    # Every row into slot 0, every round: the table can only ever settle one group a round, the sort must do the rest.
    monkeypatch.setattr(matching, "_slots", lambda mixed, spread, bits: np.zeros(len(mixed), np.int64))
    rows = np.random.default_rng(5).integers(0, 50, (600, 2)).astype(np.uint64)
    found = matching.representatives([np.ascontiguousarray(rows[:, 0]), np.ascontiguousarray(rows[:, 1])])
    _, number = np.unique(rows, axis=0, return_inverse=True)
    assert (rows[found] == rows).all()
    assert len(np.unique(found)) == number.max() + 1
