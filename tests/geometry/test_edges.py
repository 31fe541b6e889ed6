from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.geometry import edges
from tidegate.geometry.edges import edge_faces, edge_mates, side_ends


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 120), st.integers(2, 60), st.booleans())
def test_mates_agree_with_a_dictionary(seed: int, triangles: int, ids: int, sparse: bool) -> None:
    corners = np.random.default_rng(seed).integers(-1, ids, (triangles, 3)).astype(np.int32)
    if sparse:
        corners = np.where(corners >= 0, corners * 7_000_001, -1).astype(np.int32)
    mates = edge_mates(corners)
    start, end = side_ends(corners)
    known: dict[tuple[int, int], list[int]] = {}
    for side, (a, b) in enumerate(zip(start.tolist(), end.tolist(), strict=True)):
        if a == b or min(a, b) < 0:
            assert mates[side] == -1
        else:
            known.setdefault((min(a, b), max(a, b)), []).append(side)
    faces = edge_faces(mates)
    for sides in known.values():
        assert len(set(mates[sides].tolist())) == 1
        assert mates[sides[0]] in sides
        assert (faces[sides] == len(sides)).all()
    assert (faces[mates < 0] == 0).all()


def test_sides_are_numbered_from_corner_to_corner() -> None:
    start, end = side_ends(np.array([[5, 6, 7]], np.int32))
    assert start.tolist() == [5, 6, 7]
    assert end.tolist() == [6, 7, 5]


def test_blocks_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    corners = np.random.default_rng(1).integers(-1, 25, (90, 3)).astype(np.int32)
    whole = edges.edge_mates(corners)
    monkeypatch.setattr(edges, "_BLOCK", 7)
    assert edges.edge_mates(corners).tolist() == whole.tolist()
