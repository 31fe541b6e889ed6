"""Seams where two materials share a map, and seams of normal maps: both sides of what makes them a finding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import SIZE, Sheet
from tests.support.mesh_props import mesh_file, part
from tests.support.painted_props import Pictures, header_of, told
from tidegate.model.finding import Finding
from tidegate.model.mesh import Material, Node
from tidegate.model.prop import Binding, Prop, TextureMap

LEFT, RIGHT = (100, 100, 356, 356), (416, 100, 672, 356)  # texels, y up; the right square lies 316 texels further on
CORNERS = np.array([[0, 0, 0], [0.5, 0, 0], [0.5, 0.5, 0], [0, 0.5, 0]])


def square(box: tuple[int, int, int, int], moved: float, turned: int = 0) -> Sheet:
    """A square half a metre wide. turned: quarter turns of its island in the tile, counter-clockwise."""
    x0, y0, x1, y1 = box
    uv = np.roll(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float), -turned, axis=0) / SIZE
    return Sheet(CORNERS + np.array([moved, 0, 0]), np.array([[0, 1, 2], [0, 2, 3]]), uv)


def prop(slot: str, image: np.ndarray, *, materials: int = 1, turned: int = 0, mesh: str = "") -> tuple[Prop, Pictures]:
    """Two squares that meet along x = 0.5. materials: 2 for one each. mesh: name of the second square's mesh, if another."""
    names = ("oak", "iron")[:materials]
    sheets = (square(LEFT, 0.0), square(RIGHT, 0.5, turned))
    if materials == 1:
        first, second = sheets
        whole = Sheet(
            np.concatenate([first.points, second.points]),
            np.concatenate([first.triangles, second.triangles + 4]),
            np.concatenate([first.uv, second.uv]),
        )
        parts = [part(whole.points, whole.triangles, uv=whole.uv, material=0)]
    else:
        parts = [part(one.points, one.triangles, uv=one.uv, material=n, node_number=0) for n, one in enumerate(sheets)]
        if mesh:
            parts[1] = replace(parts[1], mesh=mesh, node_number=1)
    file, nodes = f"oak_{slot}.png", (Node("hull", -1, "hull", holds="mesh"),) * (1 + bool(mesh))
    made = Prop(
        name="crate",
        meshes=(mesh_file(*parts, path="a.glb", materials=tuple(map(Material, names)), nodes=nodes),),
        maps=(TextureMap(file, file, header_of(image), (slot,)),),
        bindings=tuple(Binding("a.glb", name, slot, file, "reference", "rgb") for name in names),
    )
    return made, Pictures({file: image})


def texels(box: tuple[int, int, int, int]) -> tuple[slice, slice]:
    x0, y0, x1, y1 = box
    return slice(SIZE - y1 - 16, SIZE - y0 + 16), slice(x0 - 16, x1 + 16)


def painted(step: int, *, second_wave: float = 7.0) -> np.ndarray:
    """A wave up the seam, `step` codes lighter on the right; second_wave: of the right square, another paint if not 7."""
    image = np.full((SIZE, SIZE, 3), 20, np.uint8)
    row = (np.arange(288) / 288)[:, None, None]
    image[texels(LEFT)] = np.rint(120 + 40 * np.sin(7 * row))
    image[texels(RIGHT)] = np.rint(120 + step + 40 * np.sin(second_wave * row))
    return image


@pytest.mark.parametrize(("step", "amount"), [(0, 0), (7, 0), (8, 1), (17, 1)])
def test_one_paint_over_two_materials(step: int, amount: int) -> None:
    """Paint that changes nothing towards the seam: 0.03 of 255 codes are 7.65."""
    found = told("seam-visible", *prop("base_color", painted(step), materials=2))
    assert len(found) == amount
    assert [one.place.islands for one in found] == [(1, 2)] * amount


@pytest.mark.parametrize(("step", "amount"), [(0, 0), (11, 0), (12, 1), (15, 1), (16, 1)])
def test_one_side_lighter_than_twice_what_the_paint_changes(step: int, amount: int) -> None:
    """Paint that grows by 2 codes a texel over the seam: 4 + step across it, less twice 4. 0.03 of 255 codes are 7.65, so from
    4 + 12 - 8 on. At single points 4 are taken off once and 0.06 is wanted, 15.3 codes: from 4 + 16 - 4 on.
    """
    image = np.full((SIZE, SIZE, 3), 20, np.uint8)
    rise = 60 + 2 * np.clip(np.arange(-272, 272) + 20, 0, 40)  # from 20 texels before the seam to 20 behind
    wave = np.rint(8 * np.sin(np.arange(288) / 40))[:, None]
    image[texels(LEFT)] = (rise[:288] + wave)[..., None]
    image[texels(RIGHT)] = (rise[-288:] + wave + step)[..., None]
    found = told("seam-visible", *prop("base_color", image))
    assert len(found) == amount
    for one in found:
        lighter = step < 16
        assert one.measured == pytest.approx((4 + step if lighter else step) / 255, abs=0.0005)
        assert one.wanted == pytest.approx(0.03 + 8 / 255 if lighter else 0.06, abs=0.0005)
        assert one.message.startswith("the paint is lighter on one side" if lighter else "color breaks off")
        assert " off at 1 seam on " in one.message  # one that is both is told once


@pytest.mark.parametrize(("paint", "amount"), [("wave", 1), ("plain", 0)])
def test_on_a_map_that_other_things_share_only_one_paint_that_goes_on_is_told(paint: str, amount: int) -> None:
    """The islands cover an eighth of a map that is painted all over."""
    image = np.random.default_rng(5).integers(0, 256, (SIZE, SIZE, 3)).astype(np.uint8)
    ours = painted(20)
    for box, plain in ((LEFT, 120), (RIGHT, 140)):
        image[texels(box)] = ours[texels(box)] if paint == "wave" else plain
    assert len(told("seam-visible", *prop("base_color", image))) == amount


def test_each_material_with_a_paint_of_its_own_is_meant() -> None:
    other = painted(17, second_wave=19.0)
    assert told("seam-visible", *prop("base_color", other, materials=2)) == []
    assert len(told("seam-visible", *prop("base_color", other, materials=1))) == 1


def test_two_plain_materials_are_meant() -> None:
    image = np.full((SIZE, SIZE, 3), 20, np.uint8)
    image[texels(LEFT)], image[texels(RIGHT)] = 120, 140
    assert told("seam-visible", *prop("base_color", image, materials=2)) == []
    assert len(told("seam-visible", *prop("base_color", image, materials=1))) == 1


def test_another_mesh_that_only_touches_is_no_seam() -> None:
    assert told("seam-visible", *prop("base_color", painted(17), materials=2, mesh="lid")) == []


def relief(turned: int, *, lean: float, other: float, green_up: bool = True) -> np.ndarray:
    """Both squares lean along the surface's x, by `lean` on the left and `other` on the right, a little stronger up the seam.

    turned: quarter turns of the right square's island; its normals are turned along. One normal is (x, y, z) of length 1.
    """
    image = np.full((SIZE, SIZE, 3), (128, 128, 255), np.uint8)
    for box, value, turns in ((LEFT, lean, 0), (RIGHT, other, turned)):
        side = box[3] - box[1] + 32
        up = np.linspace(1.0, 0.8, side)  # the surface's y, from the bottom
        x = np.broadcast_to((value * up)[::-1, None], (side, side))
        vector = np.stack([x, np.zeros_like(x), np.sqrt(1 - x * x)], axis=2)
        vector = np.rot90(vector, turns)
        cos, sin = (1, 0, -1, 0)[turns], (0, 1, 0, -1)[turns]
        flat = np.stack([cos * vector[..., 0] - sin * vector[..., 1], sin * vector[..., 0] + cos * vector[..., 1]], -1)
        if not green_up:
            flat[..., 1] *= -1
        image[texels(box)] = np.rint(127.5 + 127.5 * np.dstack([flat, vector[..., 2:]]))
    return image


def seams_of(image: np.ndarray, turned: int) -> list[Finding]:
    return told("seam-visible", *prop("normal", image, turned=turned))


@pytest.mark.parametrize("green_up", [True, False])
@pytest.mark.parametrize("turned", [0, 1, 2, 3])
def test_relief_that_goes_on_whatever_way_the_island_lies(turned: int, green_up: bool) -> None:
    assert seams_of(relief(turned, lean=0.5, other=0.5, green_up=green_up), turned) == []
    (one,) = seams_of(relief(turned, lean=0.5, other=0.1, green_up=green_up), turned)
    # 0.4 at one end of the seam and 0.32 at the other, of the 2 from -1 to 1.
    assert one.measured == pytest.approx(0.18, abs=0.02)
    assert one.message.startswith("the relief breaks off at 1 seam on oak_normal.png")


@pytest.mark.parametrize(("other", "amount"), [(0.42, 0), (0.40, 1)])
def test_normals_from_both_sides(other: float, amount: int) -> None:
    """Half the difference times the mean strength of 0.9: 0.08 gives 0.036, 0.1 gives 0.045, and 0.04 is the limit."""
    assert len(seams_of(relief(0, lean=0.5, other=other), 0)) == amount


def test_normals_are_not_turned_with_an_island_that_was() -> None:
    """The map was baked for the layout before this island was turned: each texel still leans to the right of the tile."""
    image = relief(0, lean=0.5, other=0.5)
    assert len(seams_of(image, 2)) == 1


@pytest.mark.parametrize("stretch", [1.0, 1.5])
def test_normals_on_stretched_texels_are_not_compared(stretch: float) -> None:
    made, pictures = prop("normal", relief(0, lean=0.5, other=-0.5))
    (mesh,) = made.meshes
    (one,) = mesh.parts
    tall = replace(one, positions=one.positions * [1, stretch, 1])
    made = replace(made, meshes=(replace(mesh, parts=(tall,)),))
    assert len(told("seam-visible", made, pictures)) == (stretch == 1.0)


@pytest.mark.parametrize("split", [False, True])
def test_normals_where_the_shading_breaks_are_not_compared(split: bool) -> None:
    made, pictures = prop("normal", relief(0, lean=0.5, other=-0.5))
    (mesh,) = made.meshes
    (one,) = mesh.parts
    normals = np.array([[0, 0, 1.0], [0.5, 0, np.sqrt(0.75)] if split else [0, 0, 1.0]])
    shaded = replace(one, normals=normals, normal_triangles=np.array([[0] * 3] * 2 + [[1] * 3] * 2, np.int32))
    made = replace(made, meshes=(replace(mesh, parts=(shaded,)),))
    assert len(told("seam-visible", made, pictures)) == (not split)
