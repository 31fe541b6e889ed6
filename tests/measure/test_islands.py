"""Islands through the whole chain, file to facts, against values worked out by hand from the definitions.

Stretch: P. V. Sander and others, Texture Mapping Progressive Meshes, SIGGRAPH 2001. UV origin: glTF 2.0 3.8.3. Density:
sqrt(UV area x width x height / surface area), texels per metre.
"""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.support.gltf_writer import GltfBuilder, write_glb
from tidegate import examine, list_drop, read_names, report_record
from tidegate.passage import Terms

SCHEME = read_names()
SQUARE = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
SQUARE_UV = [(0, 0), (1, 0), (1, 1), (0, 1)]
TWO = [(0, 1, 2), (0, 2, 3)]


def png(width: int, height: int) -> bytes:
    buffer = io.BytesIO()
    Image.new("L", (width, height)).save(buffer, "PNG")
    return buffer.getvalue()


def facts_of(folder: Path, build: GltfBuilder) -> dict[str, Any]:
    write_glb(folder / "plank.glb", build)
    # Stretch, markers and density are asked for by the handheld set.
    (verdict,) = examine(list_drop(folder / "plank.glb", SCHEME), Terms(SCHEME, rule_set="handheld", forced_set=True))
    facts: dict[str, Any] = report_record(verdict)["facts"]
    return facts


def island(
    folder: Path, positions: Any, uvs: Any, triangles: Any, size: tuple[int, int], **node: Any
) -> dict[str, Any]:
    build = GltfBuilder()
    material = build.material("oak", base_color=png(*size))
    mesh = build.mesh("plank", positions, triangles, uvs=[np.array(uvs)], material=material, node=False)
    build.node("plank", mesh=mesh, **node)
    (row,) = facts_of(folder, build)["islands"]
    return dict(row)


def turned(degrees: float) -> Any:
    angle = math.radians(degrees)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return (np.array(SQUARE_UV) - 0.5) @ turn.T * 0.5 + 0.5


@pytest.mark.parametrize(
    ("uvs", "raw", "mirrored"),
    [
        # The triangle (0,0) (1,0) (0,1) under an upright picture: V-up area +0.5, which glTF stores as (0,1) (1,1) (0,0).
        ([(0, 0), (1, 0), (0, 1)], [(0, 1), (1, 1), (0, 0)], False),
        # Mirrored in U: V-up area -0.5.
        ([(1, 0), (0, 0), (1, 1)], [(1, 1), (0, 1), (1, 0)], True),
    ],
)
def test_the_sign_of_the_area_tells_a_mirrored_island(tmp_path: Path, uvs: Any, raw: Any, mirrored: bool) -> None:
    build = GltfBuilder()
    build.mesh("plank", [(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)], uvs=[uvs])
    accessor = build.json["accessors"][build.json["meshes"][0]["primitives"][0]["attributes"]["TEXCOORD_0"]]
    start = build.json["bufferViews"][accessor["bufferView"]]["byteOffset"]
    assert np.frombuffer(bytes(build.blob), np.float32, 6, start).reshape(3, 2).tolist() == [list(uv) for uv in raw]
    (row,) = facts_of(tmp_path, build)["islands"]
    assert row["mirrored"] is mirrored
    assert row["uv_area"] == 0.5


def test_a_negative_determinant_turns_it_round(tmp_path: Path) -> None:
    """glTF 2.0 3.7.4: fronts are clockwise under a negative determinant, so the same UVs are mirrored on the surface."""
    assert island(tmp_path, SQUARE, SQUARE_UV, TWO, (64, 64), scale=[-1, 1, 1])["mirrored"] is True
    assert island(tmp_path, SQUARE, SQUARE_UV, TWO, (64, 64), scale=[-1, -1, 1])["mirrored"] is False


@pytest.mark.parametrize(("degrees", "up"), [(0, 90), (30, 120), (90, 180), (180, -90), (-30, 60)])
def test_where_the_models_up_lands(tmp_path: Path, degrees: float, up: float) -> None:
    """w = (JtJ)^-1 Jt u for up u and J = (dP/ds, dP/dt): an upright V-up layout gives 90, turned UVs add their turn."""
    row = island(tmp_path, SQUARE, turned(degrees), TWO, (64, 64))
    assert math.cos(math.radians(row["up_deg"] - up)) == pytest.approx(1, abs=1e-9)
    assert row["up_certainty"] == pytest.approx(1, abs=1e-6)


def cube() -> tuple[list[Any], list[Any], list[Any]]:
    """A 1 m cube; each face a 0.25 x 0.25 square of the tile of its own."""
    positions, uvs, triangles = [], [], []
    for face in range(6):
        axis, sign = face // 2, face % 2
        for a, b in ((0, 0), (1, 0), (1, 1), (0, 1)):
            point = [0.0, 0.0, 0.0]
            point[axis], point[(axis + 1) % 3], point[(axis + 2) % 3] = float(sign), float(a), float(b)
            positions.append(point)
            uvs.append((0.3 * (face % 3) + 0.25 * a, 0.3 * (face // 3) + 0.25 * b))
        corners = [4 * face + i for i in (range(4) if sign else (0, 3, 2, 1))]
        triangles += [(corners[0], corners[1], corners[2]), (corners[0], corners[2], corners[3])]
    return positions, uvs, triangles


@pytest.mark.parametrize(("texels", "scale", "wanted"), [(2048, 1, 512), (4096, 1, 1024), (2048, 2, 256)])
def test_density_of_a_cube(tmp_path: Path, texels: int, scale: float, wanted: float) -> None:
    """sqrt(6 x 0.0625 x 2048^2 / 6) = 512 px/m. Twice the map doubles it, twice the node halves it."""
    positions, uvs, triangles = cube()
    build = GltfBuilder()
    mesh = build.mesh(
        "cube",
        positions,
        triangles,
        uvs=[np.array(uvs)],
        material=build.material("oak", base_color=png(texels, texels)),
        node=False,
    )
    build.node("cube", mesh=mesh, scale=[scale] * 3)
    facts = facts_of(tmp_path, build)
    assert [row["density_px_per_m"] for row in facts["islands"]] == pytest.approx([wanted] * 6, rel=1e-6)
    assert sum(row["uv_area"] for row in facts["islands"]) == pytest.approx(0.375, rel=1e-6)
    assert sum(row["world_area_m2"] for row in facts["islands"]) == pytest.approx(6 * scale * scale)


def test_density_of_a_plank_on_a_map_of_its_shape(tmp_path: Path) -> None:
    """2 x 1 m, the whole tile, 2048 x 1024: 1024 px/m both ways, so no stretch although UV space is squeezed 2 to 1."""
    row = island(tmp_path, [(2 * x, y, z) for x, y, z in SQUARE], SQUARE_UV, TWO, (2048, 1024))
    assert row["density_px_per_m"] == pytest.approx(1024)
    assert row["stretch_ratio"] == pytest.approx(1)


def test_a_map_that_is_not_square_stretches_a_square(tmp_path: Path) -> None:
    """1 x 1 m, the whole tile, 2048 x 1024: 2048 px/m across and 1024 up, mean sqrt(2048 x 1024) = 1448.1547, ratio 2."""
    row = island(tmp_path, SQUARE, SQUARE_UV, TWO, (2048, 1024))
    assert row["density_px_per_m"] == pytest.approx(1448.1547, rel=5e-6)  # reports keep six digits
    assert row["stretch_ratio"] == pytest.approx(2)


def test_density_counts_what_the_material_does_to_its_map(tmp_path: Path) -> None:
    """KHR_texture_transform, the extension's first example: half scale each way shows a quarter of the texels."""
    build = GltfBuilder()
    material = build.material("oak", base_color=png(1024, 1024))
    build.json["materials"][material]["pbrMetallicRoughness"]["baseColorTexture"]["extensions"] = {
        "KHR_texture_transform": {"offset": [0, 1], "rotation": math.pi / 2, "scale": [0.5, 0.5]}
    }
    build.json["extensionsUsed"] = ["KHR_texture_transform"]
    build.mesh("plank", SQUARE, TWO, uvs=[np.array(SQUARE_UV)], material=material)
    (row,) = facts_of(tmp_path, build)["islands"]
    assert row["density_px_per_m"] == pytest.approx(512)
    # "Only the lower left quadrant of the source image": in V-up, 0 to 0.5 both ways.
    assert row["bounds"] == pytest.approx([0, 0, 0.5, 0.5], abs=1e-6)
    assert row["mirrored"] is False
    assert abs(row["up_deg"]) == pytest.approx(0, abs=1e-4) or abs(row["up_deg"]) == pytest.approx(180, abs=1e-4)


def test_no_area_has_no_density(tmp_path: Path) -> None:
    row = island(tmp_path, SQUARE, [(0.5, 0.5)] * 4, TWO, (64, 64))
    assert (row["density_px_per_m"], row["stretch_ratio"], row["uv_area"]) == (None, None, 0)


@pytest.mark.parametrize(
    ("u", "v", "tile"),
    # MaterialX 1.39, Filename Substitutions: 1001 + U + 10 V.
    [(0.5, 0.5, 1001), (1.5, 0.5, 1002), (9.5, 0.5, 1010), (0.5, 1.5, 1011), (3.1, 4.15, 1044), (9.9, 9.9, 1100)],
)
def test_tiles_are_numbered(tmp_path: Path, u: float, v: float, tile: int) -> None:
    uvs = (np.array(SQUARE_UV) - 0.5) * 0.05 + (u, v)
    assert island(tmp_path, SQUARE, uvs, TWO, (64, 64))["tile"] == tile


def test_two_faces_are_one_island_only_where_both_ends_agree(tmp_path: Path) -> None:
    """Exact in position and UV: a split vertex with equal values is no seam, one with other UVs is."""
    positions = [*SQUARE, (1, 0, 0), (2, 0, 0), (2, 1, 0), (1, 1, 0)]
    uvs = np.array([*SQUARE_UV, (1, 0), (2, 0), (2, 1), (1, 1)], float) * 0.4
    triangles = [*TWO, (4, 5, 6), (4, 6, 7)]
    build = GltfBuilder()
    build.mesh("plank", positions, triangles, uvs=[uvs])
    assert len(facts_of(tmp_path, build)["islands"]) == 1
    moved = uvs.copy()
    moved[7] += 1e-6  # one end of the shared edge
    build = GltfBuilder()
    build.mesh("plank", positions, triangles, uvs=[moved])
    assert len(facts_of(tmp_path, build)["islands"]) == 2
