"""Edges of polygons, however they were cut into triangles, beside a dictionary of the polygons' own edges."""

from __future__ import annotations

from collections import Counter

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.geometry.edges import edge_faces
from tidegate.geometry.polygon_edges import diagonals
from tidegate.geometry.topology import edge_faults, topology_mates


def cut_anyhow(outline: list[int], rng: np.random.Generator) -> list[list[int]]:
    """Triangles of an outline by cutting off one corner after the other, in any order."""
    left, triangles = list(outline), []
    while len(left) > 3:
        i = int(rng.integers(len(left)))
        triangles.append([left[i - 1], left[i], left[(i + 1) % len(left)]])
        del left[i]
    return [*triangles, left]


def polygons_of(outlines: list[list[int]], rng: np.random.Generator | None) -> tuple[np.ndarray, np.ndarray]:
    """Triangles and the polygon of each; fans where no generator is given."""
    rows, polygon = [], []
    for number, outline in enumerate(outlines):
        fan = [[outline[0], outline[i], outline[i + 1]] for i in range(1, len(outline) - 1)]
        made = fan if rng is None else cut_anyhow(outline, rng)
        turns = [0] * len(made) if rng is None else rng.integers(0, 3, len(made)).tolist()
        rows += [row[turn:] + row[:turn] for row, turn in zip(made, turns, strict=True)]
        polygon += [number] * len(made)
    return np.array(rows, np.int32), np.array(polygon, np.int32)


def faults(outlines: list[list[int]], rng: np.random.Generator | None = None) -> tuple[int, int, int]:
    """Open, crowded and turned edges."""
    corners, polygon = polygons_of(outlines, rng)
    found = edge_faults(corners, topology_mates(corners, polygon))
    return len(found.open), len(found.crowded), len(found.turned)


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 25), st.integers(5, 12), st.booleans())
def test_edges_agree_with_a_dictionary_of_outlines(seed: int, count: int, points: int, fans: bool) -> None:
    rng = np.random.default_rng(seed)
    outlines = [rng.permutation(points)[: rng.integers(3, 6)].tolist() for _ in range(count)]
    uses: Counter[frozenset[int]] = Counter()
    ways: Counter[tuple[int, int]] = Counter()
    for outline in outlines:
        for a, b in zip(outline, outline[1:] + outline[:1], strict=True):
            uses[frozenset((a, b))] += 1
            ways[a, b] += 1
    wanted = (
        sum(times == 1 for times in uses.values()),
        sum(times > 2 for times in uses.values()),
        sum(times == 2 and max(ways[tuple(edge)], ways[tuple(edge)[::-1]]) == 2 for edge, times in uses.items()),
    )
    assert faults(outlines, None if fans else rng) == wanted


def test_a_diagonal_on_a_neighbours_edge_is_none_of_its_faces() -> None:
    # Both polygons run between corners 0 and 2: the quad inside it, the triangle along it. The quad has four open edges
    # of its own and the triangle three; taken by triangles, 0-2 would be one edge with three faces.
    assert faults([[0, 1, 2, 3], [0, 2, 4]]) == (7, 0, 0)
    corners, _ = polygons_of([[0, 1, 2, 3], [0, 2, 4]], None)
    assert len(edge_faults(corners).crowded) == 1


def test_two_quads_with_the_same_diagonal_keep_one_each() -> None:
    corners, polygon = polygons_of([[0, 1, 2, 3], [0, 4, 2, 5]], None)
    mates = topology_mates(corners, polygon)
    assert sorted(edge_faces(mates).tolist()) == [1] * 8 + [2] * 4
    # Sides 2 and 3 are the first quad's diagonal (2-0 and 0-2), sides 8 and 9 that of the second.
    assert [diagonals(corners, polygon).tolist()[side] for side in (2, 3, 8, 9)] == [2, 2, 8, 8]


def test_triangles_that_take_no_part_have_no_diagonal() -> None:
    # Corners 1 and 2 of the quad are one place: of its two triangles one is left, with three edges of its own.
    assert faults([[0, 1, 1, 3]]) == (3, 0, 0)


def test_no_triangles() -> None:
    assert topology_mates(np.zeros((0, 3), np.int32), np.zeros(0, np.int32)).tolist() == []
