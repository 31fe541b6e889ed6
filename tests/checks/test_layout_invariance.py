"""What is said of a layout depends on no numbering: triangles, their first corners, vertices and splits may change."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.laid_props import Sheet, apart, collapsed, laid_part, painted, second_layer, sheet
from tests.support.mesh_props import findings
from tidegate.model.mesh import MeshPart, UvLayer

# `map-space-wasted` asks for a layout inside the tile and rests on the same coverage as `overlapping-islands`.
LIMITS: dict[str, dict[str, Any]] = {
    "texel-density-out-of-range": {"wanted": 700, "spread": 1.1},
    "tilted-islands": {"certainty": 0.5},
    "mirrored-islands": {},
    "overlapping-islands": {},
    "islands-too-close": {"between_texels": 30, "clean_mip": 2},
    "stretched-islands": {"largest_ratio": 1.2, "l2": 1.01, "worst": 1.01},
    "uvs-missing": {"layers": 3},
    "islands-outside-tile": {},
    "folded-triangles": {},
    "flat-uv-triangles": {},
    "sliver-uv-triangles": {"thinnest": 0.2},
    "texel-density-uneven": {"material": 1.1, "inside": 1.05},
    "surface-cut-too-much": {"islands": 1, "seam_to_size": 0.01},
    "crooked-borders": {"straight_share": 0.0},
    "hard-edges-unseamed": {"degrees": 10},
    "seams-on-smooth-edges": {"share": 0.0},
    "baked-light-layer-unfit": {},
}


def faulty() -> MeshPart:
    """Ten sheets with every fault there is."""
    row = sheet(20, 600, 420, 700, cells=(4, 2))
    row.uv[4, 0] = row.uv[3, 0] - 0.01
    leaning = sheet(100, 300, 400, 400)
    leaning.uv[1, 1] -= 1.0 / 1024
    two = sheet(500, 300, 700, 400, cells=(2, 1))
    split = Sheet(  # the right cell is laid out elsewhere: a seam on a smooth edge
        np.concatenate([two.points, two.points]),
        np.concatenate([two.triangles[::2], two.triangles[1::2] + len(two.points)]),
        np.concatenate([two.uv, two.uv + np.array([0.02, 0.25])]),
    )
    hinge = Sheet(
        split.points, split.triangles, np.concatenate([two.uv, two.uv]) + np.array([0.25, 0.4])
    )  # a hard edge, no seam
    whole = apart(
        hinge,
        row,
        leaning,
        split,
        sheet(10, 10, 200, 200),
        sheet(100, 100, 290, 290, turn=33.0, metres=(0.3, 0.5)),
        sheet(100, 20, 290, 200, mirrored=True),
        sheet(300, 10, 500, 14),
        collapsed(sheet(800, 800, 900, 900)),
        sheet(900, 100, 1100, 200),
    )
    normals = np.tile([0.0, 0.0, 1.0], (len(whole.points), 1))
    normals[len(two.points) : 2 * len(two.points)] = [0.6, 0.0, 0.8]
    return second_layer(laid_part(whole, normals=normals), whole.uv * 0.9)


FAULTY = faulty()
SAID = {check: findings(check, painted(FAULTY), **limits) for check, limits in LIMITS.items()}


def test_every_check_has_something_to_say() -> None:
    assert [check for check, found in SAID.items() if not found] == []


def renumbered(one: MeshPart, draw: np.random.Generator) -> MeshPart:
    """The same surface with triangles, corners and vertices in another order, some vertices split, some merged anew."""
    order = draw.permutation(len(one.triangles))
    turns = draw.integers(0, 3, len(order))
    corner = (np.arange(3)[None, :] + turns[:, None]) % 3

    def turned(triangles: Any) -> Any:
        return np.take_along_axis(triangles[order], corner, axis=1)

    triangles = turned(one.triangles)
    # Every corner takes one of two copies of its vertex, and the copies are shuffled.
    copies = triangles + len(one.positions) * draw.integers(0, 2, triangles.shape)
    place = draw.permutation(2 * len(one.positions))
    back = np.argsort(place)
    source = back % len(one.positions)
    new = place[copies].astype(np.int32)
    assert one.normals is not None
    return replace(
        one,
        positions=one.positions[source],
        triangles=new,
        normals=one.normals[source],
        normal_triangles=new,
        uv_layers=tuple(UvLayer(layer.index, layer.name, layer.uv[source], new) for layer in one.uv_layers),
    )


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_renumbering_and_splitting_change_no_word(seed: int) -> None:
    other = painted(renumbered(FAULTY, np.random.default_rng(seed)))
    for check, limits in LIMITS.items():
        assert findings(check, other, **limits) == SAID[check]
