"""Writes OBJ with its material library."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from .meshes import Mesh


def write_obj(
    path: Path, nodes: Sequence[tuple[str, Sequence[Mesh]]], textures: Mapping[str, Mapping[str, str]]
) -> None:
    """As `glb.write_glb`; positions in metres. The material library has the name of the file with .mtl."""
    library = path.with_suffix(".mtl")
    lines = [f"mtllib {library.name}"]
    corner = textured = 0
    for name, meshes in nodes:
        lines.append(f"o {name}")
        for mesh in meshes:
            lines += [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in mesh.positions.tolist()]
            lines += [f"vn {x:.5f} {y:.5f} {z:.5f}" for x, y, z in mesh.normals.tolist()]
            if mesh.uv is not None:
                lines += [f"vt {u:.7f} {v:.7f}" for u, v in mesh.uv.tolist()]
            if mesh.material:
                lines.append(f"usemtl {mesh.material}")
            for triangle in (mesh.triangles.astype(int) + 1).tolist():
                if mesh.uv is None:
                    lines.append("f " + " ".join(f"{i + corner}//{i + corner}" for i in triangle))
                else:
                    lines.append("f " + " ".join(f"{i + corner}/{i + textured}/{i + corner}" for i in triangle))
            corner += len(mesh.positions)
            textured += len(mesh.uv) if mesh.uv is not None else 0
    path.write_text("\n".join(lines) + "\n", "ascii")
    stated = []
    for material, slots in textures.items():
        stated += [f"newmtl {material}", "Kd 1 1 1"]
        if "base_color" in slots:
            stated.append(f"map_Kd {slots['base_color']}")
    library.write_text("\n".join(stated) + "\n", "ascii")
