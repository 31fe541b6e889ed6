"""Primitives of one mesh that wear one material, put together.

Writers cut a mesh into several primitives when its vertex numbers outgrow 16 bits, or wherever it suits them. The cut is
no seam: islands that cross it are one island.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from tidegate.model.mesh import UvLayer, frozen_array

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .gltf_primitives import Primitive


def joined(primitives: Iterable[Primitive]) -> tuple[Primitive, ...]:
    """Those with the same material and the same attributes as one, in the order in which each kind first stands."""
    alike: dict[tuple[Any, ...], list[Primitive]] = {}
    for primitive in primitives:
        alike.setdefault(_kind(primitive), []).append(primitive)
    return tuple(group[0] if len(group) == 1 else _one(group) for group in alike.values())


def _kind(primitive: Primitive) -> tuple[Any, ...]:
    return (
        primitive.material,
        tuple((layer.index, layer.name) for layer in primitive.uv_layers),
        *(None if a is None else a.shape[1] for a in (primitive.normals, primitive.tangents, primitive.colors)),
    )


def _one(group: list[Primitive]) -> Primitive:
    counts = [len(primitive.positions) for primitive in group]
    shifts = np.cumsum([0, *counts[:-1]]).astype(np.int32)
    triangles = frozen_array(np.concatenate([p.triangles + shift for p, shift in zip(group, shifts, strict=True)]))
    first = group[0]
    return replace(
        first,
        positions=_stacked([primitive.positions for primitive in group]),
        triangles=triangles,
        uv_layers=tuple(
            UvLayer(layer.index, layer.name, _stacked([p.uv_layers[i].uv for p in group]), triangles)
            for i, layer in enumerate(first.uv_layers)
        ),
        normals=_all_or_none([primitive.normals for primitive in group]),
        tangents=_all_or_none([primitive.tangents for primitive in group]),
        colors=_all_or_none([primitive.colors for primitive in group]),
    )


def _all_or_none(arrays: list[NDArray[np.float64] | None]) -> NDArray[np.float64] | None:
    there = [array for array in arrays if array is not None]
    return _stacked(there) if there else None


def _stacked(arrays: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    return frozen_array(np.concatenate(arrays))
