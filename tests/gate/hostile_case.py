"""One hostile drop, and the good prop that most of them are a damaged copy of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from tests.load.pictures import noise, saved
from tests.support.gltf_writer import GltfBuilder


@dataclass(frozen=True)
class Case:
    """name: unique. drop: as the gate names it. files: path in the inbox -> content, or what makes it when it is large.

    more: lays links and the like.

    verdict: what must come out. told: a pattern that one `check: message`, or one `aside: what; came`, must fit.
    stays: the drop must never be taken in. like: the drop whose verdict and findings this one must have, name for name.
    """

    name: str
    drop: str
    told: str
    files: Mapping[str | bytes, bytes | Callable[[], bytes]] = field(default_factory=dict)
    verdict: str = "returned"
    more: Callable[[Path], None] | None = None
    stays: bool = False
    like: str = ""


def folder(name: str, told: str, files: Mapping[str, bytes | Callable[[], bytes]], verdict: str = "returned") -> Case:
    """A folder drop of that name; its files' paths are relative to it."""
    inner: dict[str | bytes, bytes | Callable[[], bytes]] = {f"{name}/{path}": data for path, data in files.items()}
    return Case(name, name, told, inner, verdict)


def drop_of(name: str, told: str, mesh: bytes, verdict: str = "returned", suffix: str = "glb", like: str = "") -> Case:
    """A folder drop of one mesh file and the map that it names."""
    name = f"furniture_{name}"
    made = folder(name, told, {f"{name}.{suffix}": mesh, "crate_base_color.png": good_map()}, verdict)
    return replace(made, like=like)


def crate(**materials: str) -> GltfBuilder:
    """A box face by face: 24 vertices, 12 triangles, UVs, normals."""
    build = GltfBuilder()
    points, uvs, normals, triangles = [], [], [], []
    for axis in range(3):
        for side in (-0.5, 0.5):
            number = len(points)
            for u, v in ((0, 0), (1, 0), (1, 1), (0, 1)):
                point = [0.0, 0.0, 0.0]
                point[axis], point[(axis + 1) % 3], point[(axis + 2) % 3] = side, u - 0.5, v - 0.5
                points.append(point)
                at = axis * 2 + (side > 0)
                uvs.append(((at % 3 + 0.1 + 0.8 * u) / 3, (at // 3 + 0.1 + 0.8 * v) / 2))
                normals.append([2 * side * (k == axis) for k in range(3)])
            corners = (0, 1, 2, 0, 2, 3) if side > 0 else (0, 2, 1, 0, 3, 2)
            triangles += [number + corner for corner in corners]
    material = build.material("wood", base_color=materials.get("base_color", "crate_base_color.png"))
    build.mesh("crate", points, np.array(triangles, np.uint16), uvs=[np.array(uvs)], normals=normals, material=material)
    return build


def good_map() -> bytes:
    return saved(noise("RGB", 64, 64), "PNG")


OBJ = b"mtllib crate.mtl\no crate\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nusemtl wood\nf 1/1 2/2 3/3\n"
MTL = b"newmtl wood\nmap_Kd crate_base_color.png\n"
